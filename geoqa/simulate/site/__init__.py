"""The invented street: alignment, design, and what a zone does to it."""
