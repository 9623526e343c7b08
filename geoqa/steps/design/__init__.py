"""Shots against design lines and points."""
