"""Where points lie beside design lines: line, station, offset."""

from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.errors import GeometryInputError, QuantityError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.design.station import Nearest, nearest
from geoqa.library.accepted import Placed, Places
from geoqa.library.lengths import distance_in
from geoqa.library.shapes import array_of, elements_of, labels_of, places_of, series_of
from geoqa.library.systems import projected, same_system, unit_of
from geoqa.model.quantity import Length, LengthUnit

_CHORDS = 8.0  # a search without a bound begins this many usual chords wide
_WIDER = 8.0  # and is this much wider each time, for the points still without a line


def station_offset(
    points: Places, lines: Placed, *, line_id: str | None = None, max_distance: str | Length | None = None
) -> pd.DataFrame:
    """Find the nearest line of every point, and where the point lies beside it.

    Parameters
    ----------
    points : GeoDataFrame, GeoSeries or (n, 2) or (n, 3) array
        Points, in the system of `lines`. An array holds eastings and northings in the unit of that system; elevations
        are not used.
    lines : GeoDataFrame or GeoSeries
        LineStrings in a projected system, in 2D or with elevations. Their order of vertices is the direction: right is
        positive. A MultiLineString of one part is that line; of several parts it is refused.
    line_id : str, optional
        Column of `lines` that names them in the answer; their index if not given. Names are unique.
    max_distance : str or Length, optional
        Lines farther away are not considered: a length with its unit, ``"10 ft"``. Without one the nearest line counts
        however far it is, which costs time where many points are far from all lines.

    Returns
    -------
    DataFrame
        One row a point, on the index of `points`, in the unit of the system:

        ``line``
            Name of the nearest line; whole numbers as ``Int64``. Missing where none is in reach.
        ``station``
            Along the line, from 0 at its first vertex, to the nearest place.
        ``offset``
            Square to the line, right of its direction positive.
        ``along``
            How far past an end of the line: positive past its last vertex, negative before its first, 0 beside it.
        ``distance``
            From the point to the nearest place of the line: ``hypot(offset, along)``.
        ``azimuth``
            Direction of the line there, degrees clockwise from grid north.
        ``design_elevation``
            Of the line at that station, linear between vertices, in the unit of their elevations; only where lines
            have elevations.

        Numbers are NaN where a row has no geometry, an empty one, or no line in reach.

    Raises
    ------
    FrameError
        Points and lines are not in one projected system with a linear unit.
    GeometryInputError
        A row holds something other than a point or one line, or a line without length.
    LayerError
        A table without geometry, or lines whose names are not unique.
    QuantityError
        `max_distance` has no unit, or is not positive.

    Notes
    -----
    The kernel `geoqa.kernels.design.station.nearest`, as jobs use it: elementary plane geometry, station and offset as
    in route surveying. Where two lines are equally near, the first in `lines` counts. Arcs given as chords are
    measured as chords.

    Examples
    --------
    Two shots beside a curb that runs north from (1000, 5000), rising from 100 ft to 101 ft over 50 ft.

    >>> import geopandas, geoqa
    >>> curb = geopandas.GeoSeries.from_wkt(
    ...     ["LINESTRING Z (1000 5000 100, 1000 5050 101)"], index=["EC-1"], crs="EPSG:6547")
    >>> shots = geopandas.GeoSeries.from_wkt(
    ...     ["POINT (1000.1 5025)", "POINT (999.8 5053)", None], index=["a", "b", "c"], crs="EPSG:6547")
    >>> geoqa.station_offset(shots, curb).round(3)
       line  station  offset  along  distance  azimuth  design_elevation
    a  EC-1     25.0     0.1    0.0     0.100      0.0             100.5
    b  EC-1     50.0    -0.2    3.0     3.007      0.0             101.0
    c   NaN      NaN     NaN    NaN       NaN      NaN               NaN
    """
    design = series_of(lines, what="lines")
    labels = labels_of(lines, line_id)
    places, index = _placed(points, design)
    reach = _reach(max_distance, unit_of(design, what="lines"))
    elements = elements_of(design)
    _refuse_pointlike(elements, labels)
    found = _nearest_at_all(places, elements) if reach is None else nearest(places, elements, reach=reach)
    return _table(found, labels, index, elevated=bool(np.isfinite(elements.start_elevation).any()))


def _refuse_pointlike(elements: Elements, labels: Any) -> None:
    """Refuse lines whose vertices are all one place: they have no direction, and nothing lies right or left of them."""
    whole = np.bincount(elements.line, elements.length, minlength=len(labels))
    empty = np.flatnonzero((whole == 0) & (np.bincount(elements.line, minlength=len(labels)) > 0))
    if len(empty):
        more = f" (and {len(empty) - 1} more)" if len(empty) > 1 else ""
        raise GeometryInputError(
            f"lines: {labels[int(empty[0])]!r}{more} has no length, for all its vertices are one place; nothing lies "
            "right or left of it. Leave it out: lines[lines.length > 0]."
        )


def _placed(points: Places, lines: geopandas.GeoSeries) -> tuple[Floats, pd.Index]:
    """Places of points, and the index of the answer."""
    if isinstance(points, np.ndarray | list | tuple):
        projected(lines, what="lines")
        array = array_of(points)
        return array[:, :2], pd.RangeIndex(len(array))
    series = series_of(points, what="points")
    same_system(series, lines, what=("points", "lines"))
    return places_of(series), series.index


def _reach(max_distance: str | Length | None, unit: LengthUnit) -> float | None:
    if max_distance is None:
        return None
    reach = distance_in(max_distance, unit, name="max_distance")
    if reach == 0:
        raise QuantityError('max_distance is 0; give a positive length, for example "10 ft", or None for no bound.')
    return reach


def _nearest_at_all(places: Floats, elements: Elements) -> Nearest:
    """Nearest line however far: ever wider searches for those still without one, each with cells of its own size."""
    usual = float(elements.length.mean()) if len(elements) else 0.0
    reach = _CHORDS * usual if usual > 0 else 1.0
    found = nearest(places, elements, reach=reach)
    left = np.flatnonzero((found.line < 0) & np.isfinite(places).all(axis=1)) if len(elements) else np.zeros(0, int)
    columns = {name: np.array(values) for name, values in vars(found).items()}
    while left.size:
        reach *= _WIDER
        wider = nearest(places[left], elements, reach=reach)
        hit = wider.line >= 0
        for name, values in columns.items():
            values[left[hit]] = getattr(wider, name)[hit]
        left = left[~hit]
    return Nearest(**columns)


def _table(found: Nearest, labels: Any, index: pd.Index, *, elevated: bool) -> pd.DataFrame:
    columns = {
        "line": labels.take(found.line, allow_fill=True),
        "station": found.station,
        "offset": found.offset,
        "along": found.along,
        "distance": found.distance,
        "azimuth": found.azimuth,
    }
    if elevated:
        columns["design_elevation"] = found.elevation
    return pd.DataFrame(columns, index=index, copy=False)
