"""Small ready tables for tests of steps and checks, ours and a stranger's.

All lies in one invented place: lines run along the north axis of EPSG:6547 (international feet), so that a shot's
station is its northing and its offset its easting, both counted from `ORIGIN`.

>>> from geoqa import testing
>>> from geoqa.steps.design.offsets import Offsets
>>> from geoqa.steps.design.match_lines import MatchLines
>>> layers = testing.layers(
...     shots=testing.judged_shots([{"offset": 0.02, "station": 50.0}]),
...     limits=testing.limits(("curb-top", "offset", -0.10, 0.10)),
...     **testing.design({"A": ("curb-top", 0.0, 0.0, 100.0)}),
... )
>>> done = testing.run(layers, MatchLines(), Offsets())
>>> done["findings"]["verdict"].tolist(), done["findings"]["deviation"].round(3).tolist()
(['IN'], [0.02])
"""

from collections.abc import Iterable, Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from numpy.typing import ArrayLike

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.model.frame import Frame
    from geoqa.model.step import Step
    from geoqa.model.tables.layer import Layers

ORIGIN = (2_228_000.0, 446_000.0)
"""Easting and northing from which offsets and stations of these tables are counted."""

_SHOT = {
    "source": "day1", "code": "CTB", "solution": "fixed", "session": "A", "initialization": "A1",
    "satellites": 12, "epochs": 5, "pdop": 1.6, "offset": 0.0, "station": 0.0, "elevation": 100.0,
}  # fmt: skip


@cache
def frame() -> "Frame":
    """The frame all these tables are in."""
    from geoqa.frames.systems.resolve import resolve

    return resolve("EPSG:6547", "EPSG:8228")


def shots(rows: Iterable[Mapping[str, Any]]) -> "pd.DataFrame":
    """Shots as a reader gives them.

    Parameters
    ----------
    rows : iterable of mapping
        One a shot, with any column of the table `shots`; `offset`, `station` and `elevation` place it. The rest is
        that of an ordinary shot, named 101, 102 … in a file called day1.

    Returns
    -------
    DataFrame
    """
    import pandas as pd

    from geoqa.model.tables.columns import columns_of, conform, empty

    table = []
    for number, row in enumerate(rows, start=1):
        shot: dict[str, Any] = {**_SHOT, "shot": str(100 + number), "line": number + 1}
        shot |= {"time": pd.Timestamp("2026-03-14 14:00", tz="UTC"), **row}
        east, north = shot.pop("offset"), shot.pop("station")
        shot.setdefault("easting", ORIGIN[0] + east)
        shot.setdefault("northing", ORIGIN[1] + north)
        shot.setdefault("shot_key", f"{shot['source']}/{shot['shot']}")
        table.append(shot)
    if not table:
        return empty("shots")[[column.name for column in columns_of("shots", made_by="")]]
    return conform("shots", pd.DataFrame(table), made_by="")


def judged_shots(rows: Iterable[Mapping[str, Any]], **columns: ArrayLike) -> "pd.DataFrame":
    """Shots as they are once kind, uncertainty and use are known.

    Parameters
    ----------
    rows : iterable of mapping
        As in `shots`.
    **columns
        Of the table `shots`, where they are not those of a curb top of u 0.02 at random in plan, and of 0.02 random and
        0.02 common in elevation.
    """
    return prepared(shots(rows), **columns)


def prepared(table: "pd.DataFrame", **columns: ArrayLike) -> "pd.DataFrame":
    """Shots of `shots` with the columns that steps add before anything is judged."""
    from geoqa.model.tables.columns import conform

    given: dict[str, Any] = {"kind": "curb-top", "role": "feature", "use": True, "flags": ""}
    given |= {"u_h_random": 0.02, "u_v_random": 0.02, "u_h_common": 0.0, "u_v_common": 0.02} | columns
    return conform("shots", table.assign(**given))


def design(
    lines: Mapping[str, tuple[Any, ...]] | None = None, points: Mapping[str, tuple[Any, ...]] | None = None
) -> dict[str, "pd.DataFrame"]:
    """Design tables: straight lines along north, and points.

    Parameters
    ----------
    lines : mapping of str to tuple, optional
        Name to (kind, offset, start station, end station[, elevation]).
    points : mapping of str to tuple, optional
        Name to (kind, offset, station, elevation).
    """
    import pandas as pd

    from geoqa.model.tables.columns import conform, empty

    table = [{"line": name, "kind": line[0], "source": "design"} for name, line in sorted((lines or {}).items())]
    elements = [_leg(name, *line) for name, line in sorted((lines or {}).items())]
    spots = [
        {"point": name, "kind": kind, "source": "design", "elevation": level}
        | {"easting": ORIGIN[0] + east, "northing": ORIGIN[1] + north}
        for name, (kind, east, north, level) in (points or {}).items()
    ]
    filled = {"design_lines": table, "design_elements": elements, "design_points": spots}
    return {name: conform(name, pd.DataFrame(rows)) if rows else empty(name) for name, rows in filled.items()}


def _leg(name: str, kind: str, east: float, start: float, end: float, level: float = 100.0) -> dict[str, Any]:
    return {
        "line": name, "sequence": 0, "shape": "line", "sense": 0, "start_station": start, "length": abs(end - start),
        "start_easting": ORIGIN[0] + east, "start_northing": ORIGIN[1] + start, "start_elevation": level,
        "end_easting": ORIGIN[0] + east, "end_northing": ORIGIN[1] + end, "end_elevation": level,
    }  # fmt: skip


def limits(*rows: tuple[Any, ...]) -> "pd.DataFrame":
    """Limits as (kind, check, lower, upper[, rule[, rule set]]), on the deviation."""
    import pandas as pd

    from geoqa.contract.checks import check_named
    from geoqa.model.tables.columns import conform, empty

    table = []
    for kind, check, lower, upper, *rest in rows:
        rule, ruleset = ([*rest, "guarded", "job"] if not rest else [*rest, "job"])[:2]
        table.append(
            {"ruleset": ruleset, "kind": kind, "check": check, "quantity": check_named(check).quantity, "rule": rule,
             "lower": lower, "upper": upper, "reference": "Drawing C-101", "edition": "B", "verified": True}
        )  # fmt: skip
    return conform("limits", pd.DataFrame(table)) if table else empty("limits")


def layers(**tables: "pd.DataFrame") -> "Layers":
    """Layers of tables, in `frame`; whatever else steps ask for is there, and empty."""
    from geoqa.model.tables.columns import empty
    from geoqa.model.tables.layer import Layers, placed

    names = ("control", "codes", "limits", "precision", "screening", "sources")
    whole = {name: empty(name) for name in names} | design() | tables
    return Layers({name: placed(name, table, frame()) for name, table in whole.items()}, frame=frame())


def run(start: "Layers", *steps: "Step") -> "Layers":
    """Layers after some steps, in this order, each held to what it declares."""
    for step in steps:
        start = start.after(step, step.run(start))
    return start


def verdicts(done: "Layers", check: str) -> dict[str, tuple[str, str]]:
    """Verdict and reason of one check, by the shot's name without its file."""
    rows = done["findings"]
    rows = rows[rows["check"] == check]
    names = rows["shot"].fillna("-").str.rpartition("/")[2]
    return {name: (verdict, why) for name, verdict, why in zip(names, rows["verdict"], rows["why"], strict=True)}
