"""The only room that speaks to the coordinate-system library."""
