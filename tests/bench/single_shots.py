"""The default steps without those that make numbers of several shots: what a score of single shots needs."""

from geoqa.job.plan import default_steps

ROOMS = ("walks", "drainage", "utilities", "surfaces", "linework", "rules")
"""Folders of steps whose findings no such score looks at."""


def steps_of_single_shots():
    """Steps in the order of the default plan."""
    return [step for step in default_steps() if type(step).__module__.split(".")[2] not in ROOMS]
