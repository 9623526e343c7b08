"""The page of a season."""
