"""Rule sets side by side, and what many checks mean together."""
