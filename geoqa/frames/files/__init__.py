"""The files of one job: what each is in, who says so, and where that is in doubt."""
