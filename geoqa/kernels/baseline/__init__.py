"""The centre line of a job: its geometry, its stations and its profile."""
