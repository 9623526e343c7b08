"""Check collected survey shots against control and design, with an uncertainty behind every verdict.

>>> import geoqa
>>> callable(geoqa.run)
True
"""

import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

from geoqa.version import VERSION as __version__

if TYPE_CHECKING:
    from geoqa.errors import GeoqaError
    from geoqa.job.check import check
    from geoqa.job.document.load import load
    from geoqa.job.execute import execute
    from geoqa.job.plan import default_steps, plan
    from geoqa.library.assess import assess
    from geoqa.library.bands import tolerance_bands
    from geoqa.library.beside_lines import station_offset
    from geoqa.library.causes import diagnose
    from geoqa.library.control import control_residuals, site_fit
    from geoqa.library.coverage import coverage
    from geoqa.library.frames import combined_factor, convert, frame_candidates
    from geoqa.library.installed import steps
    from geoqa.library.job_file import run
    from geoqa.library.judging import judge, judge_radial
    from geoqa.library.layers import Layers
    from geoqa.library.made_job import Job
    from geoqa.library.matching import deviations, match
    from geoqa.library.point_matching import match_points
    from geoqa.library.rasters import design_elevation
    from geoqa.library.repeats import repeat_statistics
    from geoqa.library.runs import runs
    from geoqa.library.tilting import tilt_study
    from geoqa.model.quantity import Length, Slope
    from geoqa.model.results import Results
    from geoqa.model.step import Step

__all__ = [
    "GeoqaError",
    "Job",
    "Layers",
    "Length",
    "Results",
    "Slope",
    "Step",
    "__version__",
    "assess",
    "check",
    "combined_factor",
    "control_residuals",
    "convert",
    "coverage",
    "default_steps",
    "design_elevation",
    "deviations",
    "diagnose",
    "execute",
    "frame_candidates",
    "judge",
    "judge_radial",
    "load",
    "match",
    "match_points",
    "plan",
    "repeat_statistics",
    "run",
    "runs",
    "site_fit",
    "station_offset",
    "steps",
    "tilt_study",
    "tolerance_bands",
]

_LIBRARY = {
    "Job": "geoqa.library.made_job",
    "Layers": "geoqa.library.layers",
    "assess": "geoqa.library.assess",
    "check": "geoqa.job.check",
    "combined_factor": "geoqa.library.frames",
    "control_residuals": "geoqa.library.control",
    "convert": "geoqa.library.frames",
    "coverage": "geoqa.library.coverage",
    "default_steps": "geoqa.job.plan",
    "design_elevation": "geoqa.library.rasters",
    "deviations": "geoqa.library.matching",
    "diagnose": "geoqa.library.causes",
    "execute": "geoqa.job.execute",
    "frame_candidates": "geoqa.library.frames",
    "judge": "geoqa.library.judging",
    "judge_radial": "geoqa.library.judging",
    "load": "geoqa.job.document.load",
    "match": "geoqa.library.matching",
    "match_points": "geoqa.library.point_matching",
    "plan": "geoqa.job.plan",
    "repeat_statistics": "geoqa.library.repeats",
    "run": "geoqa.library.job_file",
    "runs": "geoqa.library.runs",
    "site_fit": "geoqa.library.control",
    "station_offset": "geoqa.library.beside_lines",
    "tilt_study": "geoqa.library.tilting",
    "tolerance_bands": "geoqa.library.bands",
}
"""What is used in code, and the module each stands in."""


def __getattr__(name: str) -> Any:
    """Import what is asked for, when it is asked for: importing geoqa does no work."""
    if name == "steps":
        import geoqa.steps as room

        return room
    if name in _LIBRARY:
        from geoqa.plugins import imported

        return imported(_LIBRARY[name], name)
    if name not in __all__:
        raise AttributeError(f"module 'geoqa' has no attribute '{name}'; it has {', '.join(__all__)}")
    from geoqa import errors
    from geoqa.model import quantity, results, step

    return next(getattr(room, name) for room in (errors, quantity, results, step) if hasattr(room, name))


def __dir__() -> list[str]:
    return __all__


class _Room(ModuleType):
    """The room of the steps: its name is also what lists them, and a package is found by its name first."""

    def __call__(self, name: str | None = None) -> Any:
        from geoqa.library.installed import steps

        return steps(name)


class _Window(ModuleType):
    def __setattr__(self, name: str, value: Any) -> None:
        if name == "steps" and isinstance(value, ModuleType):  # set by whoever imports the room first
            value.__class__ = _Room
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Window
