"""Names on a drawing: points of the design, and lines by name along themselves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from geoqa.write.text import one_line

if TYPE_CHECKING:
    import pandas as pd

Vertex = Sequence[float]


def along(vertices: Sequence[Vertex], share: float) -> tuple[float, float, float]:
    """Place at a share of a line's length, and the angle at which text runs along it there and is not upside down.

    Examples
    --------
    >>> along([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)], 0.75)
    (10.0, 5.0, 90.0)
    >>> along([(10.0, 0.0), (0.0, 0.0)], 0.5)
    (5.0, 0.0, 0.0)
    """
    steps = [math.dist(one[:2], other[:2]) for one, other in pairwise(vertices)]
    left = share * sum(steps)
    for step, one, other in zip(steps, vertices[:-1], vertices[1:], strict=True):
        if step and left <= step:
            part = left / step
            turn = math.degrees(math.atan2(other[1] - one[1], other[0] - one[0]))
            upright = (turn + 90.0) % 180.0 - 90.0 if turn not in (90.0, -90.0) else 90.0
            return one[0] + part * (other[0] - one[0]), one[1] + part * (other[1] - one[1]), upright + 0.0
        left -= step
    return vertices[0][0], vertices[0][1], 0.0


def centred(place: tuple[float, float, float], long: float, above: float) -> tuple[float, float]:
    """Where a line of text begins that is centred on a place, so far above its line."""
    east, north = math.cos(math.radians(place[2])), math.sin(math.radians(place[2]))
    return place[0] - 0.5 * long * east - above * north, place[1] - 0.5 * long * north + above * east


def design_points(points: pd.DataFrame) -> Iterator[tuple[str, tuple[float, float, float | None], Mapping[str, str]]]:
    """Kind of each design point that has a place, its place, and what it says about itself."""
    ordered = points.sort_values("point", kind="stable")
    columns = (ordered[name] for name in ("point", "kind", "easting", "northing", "elevation"))
    for name, kind, easting, northing, elevation in zip(*columns, strict=True):
        if easting == easting and northing == northing:
            high = elevation == elevation
            said = {
                "POINT": one_line(str(name)),
                "SAYS": "design point",
                "CODE": one_line(str(kind)),
                "ELEVATION": repr(float(elevation)) if high else "none",
            }
            yield str(kind), (float(easting), float(northing), float(elevation) if high else None), said
