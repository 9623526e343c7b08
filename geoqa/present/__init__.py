"""Pages for people: the map."""
