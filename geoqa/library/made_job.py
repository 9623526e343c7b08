"""A job made in code: the model of a job file, whose troubles are told in the words of the call."""

from __future__ import annotations

from collections.abc import Mapping
from inspect import Parameter, Signature
from pathlib import PurePath
from typing import Any

from pydantic import BaseModel, ValidationError

from geoqa.errors import JobError
from geoqa.job.document import file
from geoqa.job.document.problems import trouble
from geoqa.job.document.tolerance import tolerance_model
from geoqa.library.arguments import LISTED, ROLES, code_list, is_table, subscripted


class _Short(type(file.Job)):  # type: ignore[misc]
    """What `help` and completion show of the class: what a job has and does, not what it is built from."""

    def __dir__(cls) -> list[str]:
        return [*file.Job.model_fields, "to_toml"]


class Job(file.Job, metaclass=_Short):
    """A whole job, table by table as in a job file; where a file would be named, a table in memory may stand.

    Parameters
    ----------
    job, frame : mapping
        Title block and coordinate system.
    shots : sequence of tables, paths or mappings
    control, codes, screening, check_policy, background : table, path or mapping, optional
    design : sequence of tables, paths or mappings, optional
        A mapping has the keys of the job file, such as ``{"file": "day1.csv", "columns": {"northing": "N"}}``; for a
        table in memory ``{"table": log, "columns": {"northing": "N"}, "unit": "ft"}``. `codes` may also be pairs of
        code and kind, ``{"WKF": "walk-front"}``; a kind that a table of the design draws as lines is one of lines.
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
        tables["codes"] = _code_pairs(tables.get("codes"), tables.get("design"))
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


def _code_pairs(codes: Any, design: Any) -> Any:
    """A code list of pairs of code and kind; anything else as it is."""
    if not isinstance(codes, Mapping) or {"file", "table", "use", "held"} & set(codes):
        return codes
    drawn = {str(at): each for at, each in enumerate(design if isinstance(design, list | tuple) else [design])}
    return code_list(codes, {}, {name: each for name, each in drawn.items() if is_table(each)}, "kind")[0]


def _named(role: str, given: Any) -> Any:
    if isinstance(given, Mapping) and "table" in given:
        table, said = given["table"], {key: value for key, value in given.items() if key != "table"}
        if not is_table(table):
            raise JobError(
                f'{role}: "table" must be a GeoDataFrame or a DataFrame; it is of type {type(table).__name__}.'
            )
        held = {role: table} if role == "design" else table
        return {"file": str(said.pop("id", role)), "use": f"table.{role}", "held": held, **said}
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


def _signature() -> Signature:
    """The arguments by their names, without what their model is written with."""
    made = [
        Parameter(name, Parameter.KEYWORD_ONLY, default=Parameter.empty if known.is_required() else None)
        for name, known in file.Job.model_fields.items()
    ]
    return Signature(made)


Job.__signature__ = _signature()
