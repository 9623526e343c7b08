"""Processing: each step turns tables into tables through the kernels; called, it lists the steps that are installed."""
