"""What of the design was not shot, and which shots belong to none."""
