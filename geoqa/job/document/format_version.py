"""Which formats of the job file are read, and what becomes of the others."""

from collections.abc import Mapping
from typing import Any

from geoqa.errors import JobError
from geoqa.job.document.locate import Address
from geoqa.job.document.problems import place_of
from geoqa.version import VERSION

CURRENT = 1
"""The format that `[job] version` states; a file that states none is of this one."""

CHANGES: Mapping[int, str] = {}
"""Older formats that are no longer read, with the change to make in such a file.

One that is still read stands beside the current one in the type of `[job] version`, and not here.
"""


def held_to_format(table: Mapping[str, Any], places: dict[Address, int], *, name: str) -> None:
    """Refuse a job file of a format that this version does not read.

    Parameters
    ----------
    table : mapping
        The job file's tables.
    places : dict
        Lines of its keys.
    name : str
        What the file is called.

    Raises
    ------
    JobError
        With the place, and what to do about it.
    """
    head = table.get("job")
    said = head.get("version", CURRENT) if isinstance(head, Mapping) else CURRENT
    if said == CURRENT and not isinstance(said, bool):
        return
    at = f"{name}: {place_of(('job', 'version'), table, places)}"
    if isinstance(said, bool) or not isinstance(said, int) or said < 1:
        raise JobError(f"{at}: is no format of job files; write version = {CURRENT}, or leave the line out")
    if said > CURRENT:
        raise JobError(
            f"{at}: the file is of format {said}, and geoqa {VERSION} reads format {CURRENT} at most; "
            "install the geoqa that it was written for, or a newer one"
        )
    if said in CHANGES:
        raise JobError(f"{at}: format {said} is no longer read. {CHANGES[said]} Then write version = {CURRENT}")
