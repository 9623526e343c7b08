"""Lines in plan as vertices with bulges, so that an arc stays an arc.

A bulge is the tangent of a quarter of the arc's angle, positive where the path turns left.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby, pairwise
from operator import itemgetter
from typing import TYPE_CHECKING

from geoqa.model.tables.in_rows import in_rows
from geoqa.write.rows import Row

if TYPE_CHECKING:
    import pandas as pd
    from shapely.geometry.base import BaseGeometry

Vertices = tuple[tuple[float, float, float], ...]
Raised = tuple[tuple[float, float, float], ...]
"""Easting, northing and elevation of each vertex."""

_MOST = math.radians(270.0)
"""Longest arc drawn in one piece; the bulge grows without end towards a whole circle."""
_HEAD, _SPREAD = 0.25, math.radians(20.0)


def element_paths(elements: pd.DataFrame) -> Iterator[tuple[str, Vertices]]:
    """Give each design line's connected elements as one path.

    Parameters
    ----------
    elements : DataFrame
        The `design_elements` layer.

    Yields
    ------
    line, vertices : str, tuple of (easting, northing, bulge)
        An element that does not begin where the one before ends begins a new path.
    """
    ordered = elements.sort_values(["line", "sequence"], kind="stable")
    path: list[tuple[float, float, float]] = []
    name, end = "", (math.nan, math.nan)
    for row in in_rows(ordered):
        start = row["start_easting"], row["start_northing"]
        if path and (row["line"] != name or start != end):
            yield name, (*path, (*end, 0.0))
            path = []
        path += _element(row)
        name, end = row["line"], (row["end_easting"], row["end_northing"])
    if path:
        yield name, (*path, (*end, 0.0))


def _element(row: Row) -> list[tuple[float, float, float]]:
    start = row["start_easting"], row["start_northing"]
    if row["shape"] != "arc":
        return [(*start, 0.0)]
    angle = row["length"] / row["radius"]
    if angle <= _MOST:
        return [(*start, bulge(angle, row["sense"]))]
    east, north = start[0] - row["centre_easting"], start[1] - row["centre_northing"]
    turn = -row["sense"] * angle / 2.0
    half = (
        row["centre_easting"] + east * math.cos(turn) - north * math.sin(turn),
        row["centre_northing"] + east * math.sin(turn) + north * math.cos(turn),
    )
    return [(*start, bulge(angle / 2.0, row["sense"])), (*half, bulge(angle / 2.0, row["sense"]))]


def raised_paths(elements: pd.DataFrame, *, sagitta: float) -> Iterator[tuple[str, Raised]]:
    """Give each line whose elements all have elevations as one path in space, arcs as chords.

    Parameters
    ----------
    elements : DataFrame
        The `design_elements` or `asbuilt_elements` layer.
    sagitta : float
        Largest distance between an arc and its chords.

    Yields
    ------
    line, vertices : str, tuple of (easting, northing, elevation)
        The elevation changes evenly along an element. A line with an element that lacks one, or that does not begin
        where the one before ends, is in none of them.
    """
    ordered = elements.sort_values(["line", "sequence"], kind="stable")
    for name, own in groupby(in_rows(ordered), key=itemgetter("line")):
        rows = list(own)
        joined = all(_corner(row, "end")[:2] == _corner(after, "start")[:2] for row, after in pairwise(rows))
        if joined and not any(math.isnan(_corner(row, end)[2]) for row in rows for end in ("start", "end")):
            yield str(name), (*(place for row in rows for place in _raised(row, sagitta)), _corner(rows[-1], "end"))


def _corner(row: Row, end: str) -> tuple[float, float, float]:
    return row[f"{end}_easting"], row[f"{end}_northing"], row[f"{end}_elevation"]


def _raised(row: Row, sagitta: float) -> Iterator[tuple[float, float, float]]:
    """Start of an element, and places within an arc."""
    east, north, level = _corner(row, "start")
    yield east, north, level
    if row["shape"] != "arc":
        return
    angle, radius = row["length"] / row["radius"], row["radius"]
    pieces = max(1, math.ceil(angle / (2.0 * math.acos(max(1.0 - sagitta / radius, -0.5)))))
    out = east - row["centre_easting"], north - row["centre_northing"]
    for piece in range(1, pieces):
        turn, share = -row["sense"] * angle * piece / pieces, piece / pieces
        yield (
            row["centre_easting"] + out[0] * math.cos(turn) - out[1] * math.sin(turn),
            row["centre_northing"] + out[0] * math.sin(turn) + out[1] * math.cos(turn),
            level + share * (row["end_elevation"] - level),
        )


def bulge(angle: float, sense: int) -> float:
    """Bulge of an arc.

    Parameters
    ----------
    angle : float
        Its angle at the centre, radians, positive.
    sense : int
        +1 where the line curves right, -1 where it curves left.

    Examples
    --------
    >>> round(bulge(math.pi, 1), 12), bulge(0.0, -1)
    (-1.0, 0.0)
    """
    return -sense * math.tan(angle / 4.0)


def plan_paths(shape: BaseGeometry | None) -> Iterator[tuple[Vertices, bool]]:
    """Give the lines and rings of a shape as vertices without bulges, and whether they close."""
    import shapely

    for part in shapely.get_parts(shape) if shape is not None else ():
        if part.geom_type == "Polygon":
            for ring in (part.exterior, *part.interiors):
                yield tuple((x, y, 0.0) for x, y in shapely.get_coordinates(ring)[:-1].tolist()), True
        elif part.geom_type in ("LineString", "LinearRing"):
            yield tuple((x, y, 0.0) for x, y in shapely.get_coordinates(part).tolist()), False


def arrow(
    easting: float, northing: float, bearing: float, apart: float, factor: int, *, longest: float = math.inf
) -> Vertices | None:
    """Draw the difference between design and shot as an arrow, longer than it is.

    Parameters
    ----------
    easting, northing : float
        The shot.
    bearing : float
        Clockwise from grid north, from the design towards the shot where `apart` is positive.
    apart : float
        Distance of the shot from the design along `bearing`.
    factor : int
        How many times its length the arrow is drawn.
    longest : float
        Where an arrow ends that would be longer.

    Returns
    -------
    tuple of (easting, northing, 0.0) or None
        From the design place towards the shot and past it; None where something is missing.

    Examples
    --------
    >>> [tuple(round(each, 6) for each in place) for place in arrow(10.0, 5.0, 90.0, 0.1, 50)[:2]]
    [(9.9, 5.0, 0.0), (14.9, 5.0, 0.0)]
    """
    if not all(map(math.isfinite, (easting, northing, bearing, apart))) or apart == 0.0:
        return None
    east, north = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    design = easting - apart * east, northing - apart * north
    long = math.copysign(min(abs(apart) * factor, longest), apart)
    tip = design[0] + long * east, design[1] + long * north
    barbs = []
    for turn in (_SPREAD, -_SPREAD):
        back = math.radians(bearing) + turn
        barbs.append((tip[0] - _HEAD * long * math.sin(back), tip[1] - _HEAD * long * math.cos(back)))
    return tuple((*place, 0.0) for place in (design, tip, barbs[0], tip, barbs[1]))
