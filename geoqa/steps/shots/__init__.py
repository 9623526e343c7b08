"""What each shot is, and whether its record can be believed."""
