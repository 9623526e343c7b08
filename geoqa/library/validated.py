"""A call held against the model of a job file: every argument that cannot stand, each under its own name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from geoqa.errors import JobError
from geoqa.job.document.file import Job
from geoqa.job.document.problems import trouble
from geoqa.library.arguments import ROLES, subscripted

_ARGUMENTS = {"tolerance": "tolerances", "decision": "rule"}
"""Tables of a job whose argument has another name."""


def validated(job: Mapping[str, Any], *, called: Mapping[str, str] = _ARGUMENTS) -> Job:
    """Make the job that a call describes.

    Parameters
    ----------
    job : mapping
        As a job file holds it.
    called : mapping of str to str
        Tables of a job to the arguments that stand for them, where the names differ.

    Raises
    ------
    JobError
        With one line for every argument that cannot stand.
    """
    try:
        return Job.model_validate(job)
    except ValidationError as error:
        lines = [
            f"{_argument(tuple(each['loc']), called)}: {trouble(each, job)}" for each in error.errors(include_url=False)
        ]
        count = "1 argument cannot stand" if len(lines) == 1 else f"{len(lines)} arguments cannot stand"
        raise JobError(f"{count}:\n" + "\n".join(f"  {line}" for line in lines)) from None


def _argument(address: tuple[str | int, ...], called: Mapping[str, str]) -> str:
    """An address in a job as a call writes it: ``tolerances["rim"]["vertical"]``."""
    if not address:
        return "the call"
    first, *rest = address
    if first == "job" or (first == "frame" and rest == ["vertical"]):
        return str(rest[0])
    if (first == "frame" and rest == ["horizontal"]) or (first == "decision" and rest):
        return called.get(str(first), str(first))
    if first in ROLES and rest:
        first, rest = "declared", [first, *(each for each in rest if not isinstance(each, int))]
    return subscripted(called.get(str(first), str(first)), rest)


def plain(tables: Mapping[str, Mapping[str, Any]] | None) -> dict[str, Any]:
    """Tables of a call as a job holds them.

    Examples
    --------
    >>> plain(None), plain({"rim": {"horizontal": "0.1 ft"}})
    ({}, {'rim': {'horizontal': '0.1 ft'}})
    """
    return {kind: dict(table) if isinstance(table, Mapping) else table for kind, table in (tables or {}).items()}
