"""Import what every run needs, in a time in which there is nothing else to do."""

from geoqa import plugins
from geoqa.frames.systems.engine import library
from geoqa.job.plan import default_steps

READING = ("fiona", "geopandas", "pyogrio", "rasterio.io", "rasterio.warp")
"""Packages that are imported where a file is read."""


def ready() -> None:
    """Import the packages that read, and the steps: most of what passes before a small job is read."""
    plugins.import_early(*READING)
    library()
    default_steps()
