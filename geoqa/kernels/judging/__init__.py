"""The decision rule."""
