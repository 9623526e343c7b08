"""Which squares of the plane the lines and points of the design lie in, and the design of one part."""

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from geoqa.batch.cut.apart import squares

if TYPE_CHECKING:
    import pandas as pd

KEYS = {"design_lines": "line", "design_elements": "line", "design_points": "point"}
"""Tables of the design that are cut, and the column that names what their rows are of."""


def lines_of(tables: "Mapping[str, pd.DataFrame]", side: float) -> tuple[np.ndarray, np.ndarray]:
    """Numbers of design lines, then of points, in the order of their tables; and squares in which each lies.

    Parameters
    ----------
    tables : mapping of str to DataFrame
    side : float
        Of a square, in the unit of the job.
    """
    import pandas as pd
    import shapely

    lines, points = tables["design_lines"], tables["design_points"]
    shapes = lines["geometry"].to_numpy()
    along, number = shapely.get_coordinates(shapely.segmentize(shapes, side / 4), return_index=True)
    # an arc may bulge beyond what is drawn of it: its elements end on it
    elements = tables["design_elements"]
    own = pd.Index(lines["line"]).get_indexer(elements["line"])
    ends = [elements[[f"{end}_easting", f"{end}_northing"]].to_numpy(float) for end in ("start", "end")]
    at = points[["easting", "northing"]].to_numpy(float)
    place = np.concatenate([along, *ends, at])
    of = np.concatenate([number, own, own, len(lines) + np.arange(len(points))])
    there = np.isfinite(place).all(axis=1) & (of >= 0)
    pairs = np.unique(np.column_stack([of[there], squares(place[there], side)]), axis=0)
    return pairs[:, 0], pairs[:, 1]


def designs_of(
    tables: "Mapping[str, pd.DataFrame]", part_of: np.ndarray, parts: int
) -> "Iterator[dict[str, pd.DataFrame]]":
    """The design of each part, in the order of the whole.

    Parameters
    ----------
    tables : mapping of str to DataFrame
    part_of : (m,) int array
        Part of each line, then of each point; lines beyond its end are of the first part.
    parts : int
        How many there are.
    """
    import pandas as pd

    lines, points = tables["design_lines"], tables["design_points"]
    every = np.zeros(len(lines) + len(points), np.int64)
    every[: len(part_of)] = part_of
    owner = {"line": (lines["line"], every[: len(lines)]), "point": (points["point"], every[len(lines) :])}
    rows = {}
    for name, key in KEYS.items():  # once: a job of many parts has many lines too
        names, of = owner[key]
        at = pd.Index(names).get_indexer(tables[name][key])
        part = np.where(at >= 0, of[at], parts) if len(of) else np.full(len(at), parts)
        order = np.argsort(part, kind="stable")
        ends = np.searchsorted(part[order], np.arange(parts + 1))
        rows[name] = [order[low:high] for low, high in pairwise(ends)]
    for number in range(parts):
        yield {name: tables[name].take(of[number]).reset_index(drop=True) for name, of in rows.items()}
