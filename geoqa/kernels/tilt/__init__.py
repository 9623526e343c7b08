"""What a leaning rod does, learned from a test."""
