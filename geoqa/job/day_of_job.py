"""What to type for the day of a job: the files that the job names."""

import os
import shlex
from collections.abc import Iterator
from pathlib import Path

from geoqa.errors import GeoqaError
from geoqa.job.document.load import load


def not_of_a_job(path: Path) -> str:
    """What to type for the files that a job names, where the job was named instead of them.

    Parameters
    ----------
    path : Path
        Of the job file; what is wrong with it is not asked here.
    """
    try:
        typed = list(_typed(path))
    except (GeoqaError, OSError):
        typed = ["FILE.csv", "--frame", "EPSG:6547", "--control", "CONTROL.csv"]
    return (
        f"{path.name} is a job file; day takes the files of shots of a day, and what they are checked with. Type\n"
        f"  geoqa day {shlex.join(typed)}\n"
        f"or, to judge the whole job,\n  geoqa run {shlex.quote(os.path.relpath(path))}"
    )


def _typed(path: Path) -> Iterator[str]:
    """Words of the command for the files of a job."""
    loaded = load(path)
    job = loaded.job
    for shots in job.shots:
        yield os.path.relpath(loaded.resolve(shots.file))
    yield from ("--frame", job.frame.horizontal)
    beside = {"control": job.control, "codes": job.codes, "screening": job.screening, "policy": job.check_policy}
    for option, table in (beside | {"design": next(iter(job.design), None)}).items():
        if table is not None:
            yield from (f"--{option}", os.path.relpath(loaded.resolve(table.file)))
