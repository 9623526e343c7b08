"""The invented crew: its route, its log, and what is planted in it."""
