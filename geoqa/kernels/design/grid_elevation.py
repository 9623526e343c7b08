"""Elevations of a grid of cells at places between the centres of its cells."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats

_ON_CENTRE = 1e-7  # cells; a coordinate of seven digits before the point is stored no finer beside small cells


def grid_places(places: ArrayLike, transform: ArrayLike) -> Floats:
    """Where places lie in a grid, counted in cells from the centre of its first one.

    Parameters
    ----------
    places : (n, 2) array
        Eastings and northings; NaN is missing.
    transform : (6,) array
        a, b, c, d, e, f: the outer corner of cell (column, row) lies at easting ``a column + b row + c`` and northing
        ``d column + e row + f``. Turned and sheared grids have b and d other than 0.

    Returns
    -------
    (n, 2) float64 array
        Column and row; whole numbers at centres of cells, also where the last digit of a coordinate is not quite there.

    Raises
    ------
    GeometryInputError
        The cells of the transform have no area.

    Examples
    --------
    Cells of 2 by 2 with their first outer corner at (100, 50), rows going south.

    >>> grid_places([[101, 49], [102, 48]], [2, 0, 100, 0, -2, 50]).tolist()
    [[0.0, 0.0], [0.5, 0.5]]
    """
    a, b, c, d, e, f = (float(each) for each in np.asarray(transform, dtype=np.float64))
    area = a * e - b * d
    if not (np.isfinite(area) and area != 0.0):
        raise GeometryInputError("The cells of a grid need an area; this transform has none.")
    east, north = (np.asarray(places, dtype=np.float64).reshape(-1, 2) - [c, f]).T  # the corner first: no digit is lost
    found = np.column_stack([(e * east - b * north) / area, (a * north - d * east) / area]) - 0.5
    centre = np.rint(found)
    return np.where(np.abs(found - centre) <= _ON_CENTRE, centre, found)


def grid_elevation(column: ArrayLike, row: ArrayLike, values: ArrayLike) -> Floats:
    """Interpolate a grid bilinearly between the centres of its cells.

    Parameters
    ----------
    column, row : (n,) array
        From `grid_places`; NaN is missing.
    values : (h, w) array
        Elevations at the centres of cells; NaN is missing.

    Returns
    -------
    (n,) float64 array
        In the unit of `values`. NaN beyond the outermost centres, and where one of the cells that have a say is
        missing; a place at a centre asks that cell alone, one between two centres those two.

    Examples
    --------
    >>> grid = [[10.0, 12.0], [14.0, np.nan]]
    >>> grid_elevation([0.0, 0.25, 0.0, 0.5, -0.1], [0.0, 0.0, 0.5, 0.5, 0.0], grid).tolist()
    [10.0, 10.5, 12.0, nan, nan]
    """
    grid = np.asarray(values, dtype=np.float64)
    column, row = np.asarray(column, dtype=np.float64), np.asarray(row, dtype=np.float64)
    height, width = grid.shape
    with np.errstate(invalid="ignore"):
        inside = (column >= 0) & (column <= width - 1) & (row >= 0) & (row <= height - 1)
    x, y = column[inside], row[inside]
    left, top = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
    right, below = np.minimum(left + 1, width - 1), np.minimum(top + 1, height - 1)
    along, down = x - left, y - top
    total = np.zeros(len(x))
    for at_row, at_column, share in (
        (top, left, (1 - down) * (1 - along)),
        (top, right, (1 - down) * along),
        (below, left, down * (1 - along)),
        (below, right, down * along),
    ):
        total += np.where(share > 0, share * grid[at_row, at_column], 0.0)  # a cell without a say may be missing
    found = np.full(column.shape, np.nan)
    found[inside] = total
    return found
