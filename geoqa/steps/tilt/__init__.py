"""The tilt test: what a leaning rod does to its tip."""
