"""A job file drafted from the files of a folder: what each is taken for, and what only a person knows."""
