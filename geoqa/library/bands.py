"""Tolerance bands: the area beside each line in which a shot is within its limits."""

from collections.abc import Mapping
from typing import Any, Literal

import geopandas
import numpy as np
import pandas as pd

from geoqa.errors import LayerError, QuantityError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.design.band import bands
from geoqa.kernels.design.elements import line_table
from geoqa.library.accepted import Placed
from geoqa.library.lengths import distance_in
from geoqa.library.shapes import elements_of, series_of
from geoqa.library.systems import unit_of
from geoqa.model.quantity import Length, LengthUnit

Width = str | Length | float | None | Mapping[Any, str | Length | float | None]

_FINE = 1000.0  # a round corner is drawn to this part of the narrowest width
_FINEST = 1e-5


def tolerance_bands(
    lines: Placed,
    *,
    left: Width,
    right: Width,
    kind: str | None = None,
    unit: str | None = None,
    ends: Literal["square", "round"] = "square",
) -> geopandas.GeoDataFrame:
    """Draw the band between two widths beside every line.

    Parameters
    ----------
    lines : GeoDataFrame or GeoSeries
        LineStrings in a projected system; looking along a line, left and right are as offsets count.
    left, right : str, Length, float, None, or mapping of kind to one of these
        Widths to either side, 0 or more: ``"0.10 ft"``, or a number beside `unit`. None is no limit on that side: such
        a line has no band. A mapping, with `kind`, gives each kind of feature its own.
    kind : str, optional
        Column of `lines` that says what each line is: curb, walk, utility.
    unit : {"m", "ft", "ftUS", "in", "cm", "mm"}, optional
        Unit of numbers without one.
    ends : {"square", "round"}
        Where a band stops: square at the ends of the line, as station and offset count; or round them, so that all
        within the widths of the line lies in its band. A line whose ends meet has none.

    Returns
    -------
    GeoDataFrame
        One row a line, on the index of `lines`, in their system: ``kind`` (where asked for), ``left`` and ``right`` in
        the unit of the system, and the band as a Polygon or MultiPolygon in 2D. None where there is no line or no
        limit on a side; empty where both widths are 0 or the line has no length.

    Raises
    ------
    FrameError
        Lines are not in a projected system with a linear unit.
    GeometryInputError
        A row holds something other than one line.
    LayerError
        A table without geometry or without the column `kind`, or a kind without a tolerance.
    QuantityError
        A number without unit, a negative width, other `ends`.

    Notes
    -----
    The kernel `geoqa.kernels.design.band.bands`, as jobs use it: a strip beside every leg and a circular sector in the
    wedge outside a bend, so that a point lies in a square band exactly if its offset is within the widths and it lies
    beside the line. Circles are drawn by chords that leave them by less than a thousandth of the narrowest width.
    Corners are rounded to a millionth of the unit. A band is to look at; `judge` offsets, which know their
    uncertainty.

    Examples
    --------
    >>> import geopandas, geoqa
    >>> design = geopandas.GeoDataFrame(
    ...     {"what": ["curb", "walk"]},
    ...     geometry=geopandas.GeoSeries.from_wkt(["LINESTRING (0 0, 0 50)", "LINESTRING (9 0, 9 50)"]),
    ...     crs="EPSG:6547")
    >>> drawn = geoqa.tolerance_bands(design, kind="what", left="0.1 ft", right={"curb": "0.1 ft", "walk": "1/2 in"})
    >>> drawn.drop(columns="geometry").round(4)
       kind  left   right
    0  curb   0.1  0.1000
    1  walk   0.1  0.0417
    >>> drawn.area.round(3).tolist()
    [10.0, 7.083]
    """
    if ends not in ("square", "round"):
        raise QuantityError(f"ends is {ends!r}; a band ends 'square' or 'round'.")
    design = series_of(lines, what="lines")
    own = unit_of(design, what="lines")
    kinds = _kinds(lines, kind, left, right)
    table = pd.DataFrame({} if kinds is None else {"kind": kinds}, index=design.index)
    for name, width in (("left", left), ("right", right)):
        table[name] = _widths(name, width, kinds, len(design), own, unit)
    shapes = _drawn(design, table["left"].to_numpy(), table["right"].to_numpy(), round_ends=ends == "round")
    return geopandas.GeoDataFrame(table, geometry=shapes, crs=design.crs)


def _kinds(lines: Any, kind: str | None, left: Width, right: Width) -> np.ndarray | None:
    """Kind of each line, or None where none is asked for."""
    if kind is None:
        if isinstance(left, Mapping) or isinstance(right, Mapping):
            raise LayerError("Widths are given by kind, but not which column holds it; say kind='the column'.")
        return None
    if kind not in getattr(lines, "columns", ()):
        known = ", ".join(map(str, getattr(lines, "columns", ()))) or "none"
        raise LayerError(f"lines have no column '{kind}' for kind; they have {known}.")
    return lines[kind].to_numpy(dtype=object)


def _widths(name: str, width: Width, kinds: np.ndarray | None, count: int, own: LengthUnit, unit: str | None) -> Floats:
    """Width of every line in the unit of the system."""
    if not isinstance(width, Mapping) or kinds is None:
        return np.full(count, distance_in(width, own, name=name, given=unit, numbers=True))
    known = {
        each: distance_in(value, own, name=f"{name}, {each}", given=unit, numbers=True) for each, value in width.items()
    }
    lacking = [each for each in pd.unique(kinds) if pd.isna(each) or each not in known]
    if lacking:
        words = ", ".join("a missing kind" if pd.isna(each) else repr(each) for each in lacking)
        raise LayerError(
            f"{name} has no width for {words}; it has {', '.join(map(repr, known))}. Give each kind a length, or None "
            "where it has no limit."
        )
    return np.array([known[each] for each in kinds], dtype=np.float64)


def _drawn(lines: geopandas.GeoSeries, left: Floats, right: Floats, *, round_ends: bool) -> np.ndarray:
    shapes = np.full(len(lines), None, dtype=object)
    elements = elements_of(lines)
    row = line_table(elements).line
    widths = np.concatenate([left, right])
    narrowest = float(np.min(widths[widths > 0], initial=np.inf))
    if not len(row) or not np.isfinite(narrowest):
        narrowest = 1.0
    drawn = bands(elements, left[row], right[row], max_sagitta=max(narrowest / _FINE, _FINEST), round_ends=round_ends)
    limited = np.isfinite(left[row]) & np.isfinite(right[row])
    shapes[row[limited]] = np.array(drawn, dtype=object)[limited]
    return shapes
