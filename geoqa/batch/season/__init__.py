"""Tables over all jobs of a batch."""
