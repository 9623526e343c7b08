"""Files a GIS desk loads."""
