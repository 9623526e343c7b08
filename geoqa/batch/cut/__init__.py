"""One very large job, cut where nothing holds it together."""
