"""Shots held against their neighbours."""
