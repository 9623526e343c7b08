"""The map: one HTML file that works offline, with every judged shot and the arithmetic behind it."""
