"""What every check, flag and note means: declared records, ours and a stranger's, found by name."""
