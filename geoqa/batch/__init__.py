"""Many jobs at once, and what they say together."""
