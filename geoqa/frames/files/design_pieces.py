"""A design as straight pieces with their kinds, and the control marks it names."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]

TURN = np.radians(5.0)
"""An arc is cut into pieces of this angle at most."""


def design_pieces(tables: "Mapping[str, pd.DataFrame]") -> tuple[Array, NDArray[np.object_]]:
    """Ends of straight pieces of all lines, points with equal ends, and the kind of each.

    Returns
    -------
    pieces : (m, 4) array
    kinds : (m,) array of object
    """
    pieces, kinds = [np.empty((0, 4))], [np.empty(0, dtype=object)]
    if "design_elements" in tables and "design_lines" in tables:
        elements, lines = tables["design_elements"], tables["design_lines"]
        kind_of = dict(zip(lines["line"], lines["kind"], strict=True))
        ends, element = _cut(elements)
        pieces.append(ends)
        kinds.append(np.array([kind_of.get(each) for each in elements["line"]], dtype=object)[element])
    if "design_points" in tables:
        points = tables["design_points"]
        place = points[["easting", "northing"]].to_numpy(float)
        pieces.append(np.hstack([place, place]))
        kinds.append(points["kind"].to_numpy(dtype=object))
    whole, of = np.concatenate(pieces), np.concatenate(kinds)
    there = np.isfinite(whole).all(axis=1) & np.array([isinstance(each, str) for each in of], dtype=bool)
    return whole[there], of[there]


def _cut(elements: "pd.DataFrame") -> tuple[Array, NDArray[np.int64]]:
    """Pieces of every element, and the place of the element of each."""
    start = elements[["start_easting", "start_northing"]].to_numpy(float)
    end = elements[["end_easting", "end_northing"]].to_numpy(float)
    centre = elements[["centre_easting", "centre_northing"]].to_numpy(float)
    sense = elements["sense"].to_numpy(float)
    arc = (sense != 0) & np.isfinite(centre).all(axis=1)
    first = np.arctan2(*(start - centre).T[::-1])
    last = np.arctan2(*(end - centre).T[::-1])
    swept = np.where(arc, -sense * np.mod(-sense * (last - first), 2 * np.pi), 0.0)
    count = np.where(arc, np.ceil(np.abs(np.nan_to_num(swept)) / TURN), 1).astype(np.int64).clip(1)
    element = np.repeat(np.arange(len(elements)), count)
    nth = np.arange(len(element)) - np.repeat(np.cumsum(count) - count, count)
    ends = []
    for step in (nth, nth + 1):
        share = step / count[element]
        angle = first[element] + share * swept[element]
        radius = np.hypot(*(start - centre).T)[element]
        bent = centre[element] + radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        straight = start[element] + share[:, None] * (end - start)[element]
        ends.append(np.where(arc[element, None], bent, straight))
    return np.hstack(ends), element


def named_marks(
    tables: "Mapping[str, pd.DataFrame]", control: "pd.DataFrame | None"
) -> tuple[tuple[str, ...], Array, Array]:
    """Marks of the control that points of the design bear the name of: names, places in the control, in the design.

    A name that stands twice in either tells nothing.
    """
    points = tables.get("design_points")
    if points is None or control is None:
        return (), np.empty((0, 2)), np.empty((0, 2))
    axes = ["easting", "northing"]
    places = []
    for table, name in ((control, "mark"), (points, "point")):
        table = table[table[axes].notna().all(axis=1)]
        key = table[name].astype("str").str.strip().str.casefold()
        once = ~key.duplicated(keep=False)
        places.append(table[once].set_axis(key[once], axis=0))
    both = [name for name in places[0].index if name in places[1].index]
    names = tuple(places[0].loc[both, "mark"].astype(str))
    grid, plan = (each.loc[both, axes].to_numpy(float).reshape(-1, 2) for each in places)
    return names, grid, plan
