"""Numbers under a survey blunder read both ways: as the file shows them, and at the place the shot has without it.

Without the blunder a shot may lie beside another line of its kind, and on a slope beside another elevation of the
same line. So the place is looked up in the design again, and no shift is merely taken off a deviation. Which line or
point was meant is not asked a second time: the one that suits the shot best speaks for it, and only what is
out of tolerance even there is called out.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.design.station import candidates
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.open_blunders import Moved
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import rows_of

REACH = Length.parse("10 ft")
"""Farthest design that a shot may be of without the blunder; as in the steps that match."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Without:
    """Numbers as they would be without the blunder; NaN where that is not known.

    Attributes
    ----------
    same : (n,) float64
        Against the design that the shot was matched with as it was read.
    least : (n,) float64
        Against whatever design of its kind suits it best, that one among them.
    """

    same: np.ndarray
    least: np.ndarray


def beside_lines(layers: Layers, rows: pd.DataFrame, moved: Moved, *, check: str) -> Without:
    """Offsets or elevations of rows of `along_lines` without the blunder.

    Parameters
    ----------
    layers : Layers
        With the design lines.
    rows : DataFrame, n rows
        With `subject`, `kind`, `easting`, `northing`, `elevation`.
    moved : Moved
        Of the same rows.
    check : {"offset", "elevation"}
    """
    design, unit = alignments(layers), layers.frame.unit
    mine = np.flatnonzero(moved.acts)
    place = rows[["easting", "northing", "elevation"]].to_numpy(float)[mine] - moved.shift[mine]
    reach = REACH.to(unit)
    pairs = candidates(
        place[:, :2], design.elements, reach=reach, index=design.index(reach, by_kind=True),
        point_group=rows_of(rows["kind"].iloc[mine], design.groups),
    )  # fmt: skip
    value = pairs.offset if check == "offset" else place[pairs.point, 2] - pairs.elevation
    own = pairs.line == rows_of(rows["subject"].iloc[mine], design.names)[pairs.point]
    return _spread(mine, len(rows), pairs.point, value, own, np.abs(pairs.along) < 1e-6)


def at_design_points(layers: Layers, rows: pd.DataFrame, moved: Moved, *, check: str) -> Without:
    """Distances or elevations of rows of `at_points` without the blunder.

    Parameters
    ----------
    layers, rows, moved
        As in `beside_lines`.
    check : {"position", "elevation"}
        Position is a distance in plan: without the blunder the point may lie to another side.
    """
    points = layers["design_points"]
    mine = np.flatnonzero(moved.acts)
    place = rows[["easting", "northing", "elevation"]].to_numpy(float)[mine] - moved.shift[mine]
    known = points[["easting", "northing", "elevation"]].to_numpy(float)
    same = rows["subject"].to_numpy(dtype=object)[mine][:, None] == points["point"].to_numpy(dtype=object)
    alike = rows["kind"].to_numpy(dtype=object)[mine][:, None] == points["kind"].to_numpy(dtype=object)
    away = np.hypot(*(place[:, None, :2] - known[None, :, :2]).transpose(2, 0, 1))
    row, other = np.nonzero(same | (alike & (away <= REACH.to(layers.frame.unit))))
    value = away[row, other] if check == "position" else place[row, 2] - known[other, 2]
    return _spread(mine, len(rows), row, value, same[row, other], np.full(len(row), True))


def _spread(
    mine: np.ndarray, count: int, row: np.ndarray, value: np.ndarray, own: np.ndarray, beside: np.ndarray
) -> Without:
    """Values of pairs, brought to their rows: that of the same design, and the smallest.

    A shot past an end of its own line proves nothing against it, so there the smallest is not known.
    """
    same, least, proves = np.full((3, count), np.nan)
    same[mine[row[own]]], proves[mine[row[own]]] = value[own], np.where(beside[own], value[own], np.nan)
    there = np.isfinite(value)
    row, value = row[there], value[there]
    order = np.lexsort((np.abs(value), row))
    first = order[np.append(True, np.diff(row[order]) > 0)] if len(order) else order
    least[mine[row[first]]] = value[first]
    return Without(same=same, least=np.where(np.isfinite(proves), least, np.nan))
