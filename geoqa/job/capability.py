"""What a job's method can decide, before any shot exists."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from geoqa.errors import GeoqaError, JobError
from geoqa.frames.files.place import place_files
from geoqa.job.document.limits import limits_table, precision_table, tilt_table
from geoqa.job.document.load import LoadedJob, load
from geoqa.job.execute import execute
from geoqa.job.expected_sizes import expected_sizes
from geoqa.job.inputs.named_files import inputs, read_frame
from geoqa.job.inputs.reading import read_files, read_one
from geoqa.job.inputs.tables import job_tables
from geoqa.job.plan import default_steps
from geoqa.model.frame import Frame
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers, placed

if TYPE_CHECKING:
    import pandas as pd


STEPS = ("uncertainty", "capability", "capability-together")
METHOD = "method"
"""Name of the shots that stand for what is expected."""


def capability(job: str | Path | LoadedJob, *, tilt: float = 0.0) -> Layers:
    """Ask the job's own steps what one expected shot of every kind could prove.

    Nothing but the job file, and the code list, the control list and the design where they are there, is read: marks
    that state no uncertainty are taken as a run takes them, and the design tells how far apart the shots of a number of
    several shots will lie.

    Parameters
    ----------
    job : path of a job file, or a job that is already loaded
    tilt : float
        Degrees of lean that are expected.

    Returns
    -------
    Layers
        With `capability`, `capability_together` and `budget`.

    Raises
    ------
    JobError
        The job gives no tolerance to decide, or the lean is not between 0 and 90.
    """
    loaded = job if isinstance(job, LoadedJob) else load(job)
    if not 0 <= tilt < 90:
        raise JobError(f"A lean of {tilt:g}° is not between 0 and 90.")
    if not loaded.job.tolerance:
        raise JobError(f"{loaded.path.name} gives no tolerance that could be decided; add a table [tolerance.KIND].")
    frame = read_frame(loaded)
    limits, precision, codes = (
        limits_table(loaded.job, frame.unit), precision_table(loaded.job, frame.unit), _codes(loaded))  # fmt: skip
    design = _by_itself(loaded, frame, "design")
    sizes = expected_sizes(limits, codes, design, precision, unit=frame.unit)
    kinds = {*loaded.job.tolerance, *sizes["first"], *sizes["second"]}
    layers = {
        "shots": placed("shots", _expected(sorted(kinds), tilt), frame),
        "limits": limits,
        "precision": precision,
        "tilt_declared": tilt_table(loaded.job),
        "codes": codes,
        "expected_sizes": sizes,
        "sources": _sources(),
        "control": _control(loaded, frame),
    }
    steps = [step for step in default_steps(loaded.job.steps) if step.name in STEPS]
    return execute(Layers(layers, frame=frame), steps)


def _expected(kinds: list[str], tilt: float) -> "pd.DataFrame":
    import pandas as pd

    rows = {
        "shot_key": [f"{METHOD}/{kind}" for kind in kinds],
        "source": METHOD,
        "line": 0,
        "kind": kinds,
        "role": ["check" if kind == "control" else "feature" for kind in kinds],
        # marks are checked with a plumb rod
        "tilt": [0.0 if kind == "control" else tilt for kind in kinds],
    }
    shots = conform("shots", pd.DataFrame(rows), made_by="")
    return shots.assign(role=shots["role"].astype("str"), kind=shots["kind"].astype("str"))


def _codes(loaded: LoadedJob) -> "pd.DataFrame":
    for each in inputs(loaded):
        if each.role == "codes" and each.path.is_file():
            return conform("codes", read_one(each).layers["codes"])
    return empty("codes")


def _control(loaded: LoadedJob, frame: Frame) -> "pd.DataFrame":
    """Marks in the job's frame and unit; none where the list is not there yet, or cannot be placed by itself."""
    return _by_itself(loaded, frame, "control").get("control", empty("control"))


def _by_itself(loaded: LoadedJob, frame: Frame, role: str) -> "Mapping[str, pd.DataFrame]":
    """Tables of the files of one role; none where there are none yet, or they cannot be placed by themselves."""
    lists = [each for each in inputs(loaded) if each.role == role and (each.in_memory or each.path.is_file())]
    if not lists:
        return {}
    try:
        placement = place_files(read_files(lists, frame), frame)
        return job_tables(loaded.job, placement.files, frame)
    except GeoqaError:  # what is wrong with it the run will say
        return {}


def _sources() -> "pd.DataFrame":
    import pandas as pd

    row = {"source": METHOD, "role": "shots", "path": "-", "sha256": "", "reader": "-", "version": ""}
    return conform("sources", pd.DataFrame([row]))
