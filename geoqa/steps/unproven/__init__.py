"""What a measurement does not prove, and what would."""
