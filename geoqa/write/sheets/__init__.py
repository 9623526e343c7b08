"""Workbooks for spreadsheets."""
