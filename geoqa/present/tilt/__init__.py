"""The page of a tilt test: one HTML file with its plots, offline."""
