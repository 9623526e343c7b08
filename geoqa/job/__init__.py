"""One job file: load it, plan it, run it, record it."""
