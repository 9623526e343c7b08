"""The baseline of a job and what hangs on it: alignment, profile, typical section."""
