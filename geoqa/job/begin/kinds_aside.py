"""Kinds of design that are drafted no limits together with others: nothing tells them, or they are drawn twice."""

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from geoqa.job.begin.comment import one_line
from geoqa.job.begin.seen_codes import SeenCode
from geoqa.model.check import CONTROL
from geoqa.model.kind_guess import USUAL_KINDS
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

SAME = 0.1
"""Units of the files within which two design points are one. Common practice, no source."""


def kinds_aside(
    kinds: Iterable[str], codes: Iterable[SeenCode], design: "Iterable[Mapping[str, pd.DataFrame]]"
) -> dict[str, str]:
    """Kinds that no code of the shots stands for, with why they are not judged as the others are.

    Points of one that all lie on points of a kind that was shot are the same things, drawn again: judged, each would
    be a thing that was not built. A kind that no word of the trade says may be anything that is drawn.

    Parameters
    ----------
    kinds : iterable of str
    codes : iterable of SeenCode
    design : iterable of tables
        One mapping a file, in the files' own numbers.
    """
    of_shots = {each.kind or each.proposed for each in codes} - {""}
    if not of_shots - {CONTROL}:
        return {}
    points = _points(design)
    found: dict[str, str] = {}
    for kind in kinds:
        if kind in of_shots or kind == CONTROL:
            continue
        if again := _drawn_again(kind, points, of_shots):
            found[kind] = f"the {many(len(points[kind]), 'point')} of it are those of {one_line(again)}, drawn again"
        elif kind not in USUAL_KINDS:
            found[kind] = "no word says what it is, and no code of the shots stands for it"
    return found


def _points(design: "Iterable[Mapping[str, pd.DataFrame]]") -> "dict[str, NDArray[np.float64]]":
    places: dict[str, list[NDArray[np.float64]]] = {}
    for kind, east_north in _rows(design):
        places.setdefault(kind, []).append(east_north)
    return {kind: np.array(rows) for kind, rows in places.items()}


def _rows(design: "Iterable[Mapping[str, pd.DataFrame]]") -> "Iterator[tuple[str, NDArray[np.float64]]]":
    for tables in design:
        if "design_points" in tables:
            table = tables["design_points"]
            yield from zip(table["kind"].astype("str"), table[["easting", "northing"]].to_numpy(float), strict=True)


def _drawn_again(kind: str, points: "Mapping[str, NDArray[np.float64]]", of_shots: set[str]) -> str:
    """The kind of shots on whose points every point of this one lies; empty where there is none."""
    from scipy.spatial import cKDTree

    mine = points.get(kind)
    if mine is None or not np.isfinite(mine).all():
        return ""
    for other in sorted(of_shots & points.keys()):
        there = points[other][np.isfinite(points[other]).all(axis=1)]
        if len(there) and (cKDTree(there).query(mine)[0] <= SAME).all():
            return other
    return ""
