"""Lines, arcs and bands: station, offset, matches, runs and reaches."""
