"""Spreadsheet workbooks as tables of text."""
