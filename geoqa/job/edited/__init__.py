"""The log of edits: what of a job and its inputs changed from run to run, and why, as the job says it."""
