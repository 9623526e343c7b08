"""Outputs written by other processes beside this one: the same files, sooner."""
