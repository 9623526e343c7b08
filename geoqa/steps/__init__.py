"""Processing: each step turns tables into tables through the kernels."""
