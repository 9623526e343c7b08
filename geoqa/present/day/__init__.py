"""The end of a field day on one page."""
