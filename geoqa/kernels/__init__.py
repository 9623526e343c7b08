"""Arrays in, arrays out: the arithmetic, which knows nothing of files, tables or frames."""
