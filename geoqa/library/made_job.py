"""A job made in code: the model of a job file, whose troubles are told in the words of the call."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath
from typing import Any

from pydantic import BaseModel, ValidationError

from geoqa.errors import JobError
from geoqa.job.document import file
from geoqa.job.document.problems import trouble
from geoqa.job.document.tolerance import tolerance_model
from geoqa.library.arguments import LISTED, ROLES, is_table, subscripted


class Job(file.Job):
    """A whole job, table by table as in a job file; where a file would be named, a table in memory may stand.

    Parameters
    ----------
    job, frame : mapping
        Title block and coordinate system.
    shots : sequence of tables, paths or mappings
    control, codes, screening, check_policy, background : table, path or mapping, optional
    design : sequence of tables, paths or mappings, optional
    tolerance, uncertainty : mapping of kind to mapping, optional
        Lengths are texts with their unit, such as ``"0.15 ft"``.
    tilt, decision, outputs, review : mapping, optional
    steps : sequence of names, mappings or steps, optional

    Raises
    ------
    JobError
        With one line for everything that cannot stand.

    See Also
    --------
    geoqa.run : runs it.
    geoqa.load : reads one from a file; ``.changed(…)`` says something else in it.

    Examples
    --------
    >>> import pandas, geoqa
    >>> log = pandas.DataFrame({"easting": [2228000.0], "northing": [444000.0], "code": ["WKF"]})
    >>> job = geoqa.Job(job={"name": "A"}, frame={"horizontal": "EPSG:6547"}, shots=[log])
    >>> print(job.to_toml(), end="")
    [job]
    name = "A"
    <BLANKLINE>
    [frame]
    horizontal = "EPSG:6547"
    <BLANKLINE>
    [[shots]]
    file = "shots"
    use = "table.shots"
    >>> geoqa.run(job, write=False).shots["shot_key"].tolist()
    ['shots/-']
    >>> geoqa.Job(job={"name": "A"}, frame={"horizontal": "EPSG:6547"}, shots=[log], decision={"rule": "strict"})
    Traceback (most recent call last):
        ...
    geoqa.errors.JobError: Job has 1 problem:
      decision["rule"]: must be guarded, simple, or guard R, such as "guard 1.5" (it is 'strict')
    """

    def __init__(self, **tables: Any) -> None:
        if tables.get("tolerance"):
            tolerance_model()
        tables = {name: _inputs(name, given) if name in ROLES else given for name, given in tables.items()}
        try:
            super().__init__(**tables)
        except ValidationError as error:
            lines = [f"{_argument(each['loc'])}: {trouble(each, tables)}" for each in error.errors(include_url=False)]
            count = "1 problem" if len(lines) == 1 else f"{len(lines)} problems"
            raise JobError(f"Job has {count}:\n" + "\n".join(f"  {line}" for line in lines)) from None


def _inputs(role: str, given: Any) -> Any:
    """Inputs as a job file names them: a path by its key, and a list where several may stand."""
    if given is None and role != "shots":
        return () if role in LISTED else None
    if role in LISTED:
        several = given if isinstance(given, list | tuple) else [given]
        if role == "shots" and not several:
            raise JobError("shots: names none; give at least one table, path, or keys with file.")
        return [_named(role, each) for each in several]
    return _named(role, given)


def _named(role: str, given: Any) -> Any:
    if isinstance(given, str | PurePath):
        return {"file": str(given)}
    if isinstance(given, Mapping | BaseModel) or is_table(given):
        return given
    raise JobError(
        f'{role}: must be a GeoDataFrame, a DataFrame, a path, or {{"file": "…"}} with options; '
        f"it is of type {type(given).__name__}."
    )


def _argument(address: tuple[str | int, ...]) -> str:
    """An address in a job as a call writes it: ``tolerance["rim"]["vertical"]``, ``shots[0]``."""
    return subscripted(str(address[0]), address[1:]) if address else "the call"
