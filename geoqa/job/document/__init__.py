"""The job file: as text, as a model, and what is wrong with it."""
