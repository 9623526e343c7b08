"""A figure of results: a plan of the job, and one design line from its start to its end."""
