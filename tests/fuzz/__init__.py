"""Ten thousand bad inputs: what is damaged, how, and what may come of it."""
