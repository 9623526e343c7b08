"""How numbers get from a file's frame into the job's: what they mean, and the way that is taken."""
