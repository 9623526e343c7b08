"""Layers out: files a CAD or GIS desk can load."""
