"""Uncertainty: put together from parts, and learned from repeats."""
