"""Survey blunders: which known cause explains what control shows, and what waits for it."""
