"""Ramps."""

from geoqa.model.step import Step


class Ramps(Step):
    """Nothing yet."""

    name = "ramps"
