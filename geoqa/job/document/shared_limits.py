"""One table of tolerances for several kinds: `[tolerance."curb-top, curb-flow"]`."""

from collections.abc import Mapping
from typing import Any

from geoqa.errors import JobError
from geoqa.job.document.locate import Address, line_of

TOLERANCE = "tolerance"


def each_kind(
    table: Mapping[str, Any], places: Mapping[Address, int], *, name: str
) -> tuple[dict[str, Any], dict[Address, int]]:
    """A job's tables with a tolerance for each kind, where one table names several with commas between them.

    Parameters
    ----------
    table : mapping
        Of the job file.
    places : mapping of address to line
    name : str
        Of the job file, for messages.

    Returns
    -------
    table : dict
    places : dict
        With the addresses of each kind.

    Raises
    ------
    JobError
        A kind stands in two tables.

    Examples
    --------
    >>> table, _ = each_kind({"tolerance": {"rim, valve": {"vertical": "0.1 ft"}}}, {}, name="job.toml")
    >>> table["tolerance"]
    {'rim': {'vertical': '0.1 ft'}, 'valve': {'vertical': '0.1 ft'}}
    """
    given = table.get(TOLERANCE)
    if not isinstance(given, Mapping) or not any("," in str(key) for key in given):
        return dict(table), dict(places)
    kinds: dict[str, Any] = {}
    owner: dict[str, str] = {}
    where = dict(places)
    for key, limits in given.items():
        for kind in [part for each in str(key).split(",") if (part := each.strip())]:
            if kind in kinds:
                lines = [line_of(dict(places), (TOLERANCE, one)) for one in (owner[kind], str(key))]
                said = f", lines {lines[0]} and {lines[1]}" if all(lines) else ""
                raise JobError(
                    f"{name}: [tolerance] has the kind {kind} twice, in '{owner[kind]}' and in '{key}'{said}; "
                    "keep it in one of them, with all of its limits"
                )
            kinds[kind], owner[kind] = limits, str(key)
            for address, line in places.items():
                if address[:2] == (TOLERANCE, key):
                    where[(TOLERANCE, kind, *address[2:])] = line
    return {**table, TOLERANCE: kinds}, where
