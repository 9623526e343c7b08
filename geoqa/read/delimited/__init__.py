"""Delimited text: layout, headings, rows and values."""
