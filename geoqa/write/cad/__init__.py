"""Drawings a CAD desk loads."""
