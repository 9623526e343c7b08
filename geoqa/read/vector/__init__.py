"""Linework and points from vector files and drawings."""
