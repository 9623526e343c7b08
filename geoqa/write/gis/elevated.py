"""Points and as-built lines on disk: a third coordinate for the rows whose elevations are known, and for no other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoqa.write.rows import is_placed

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import pandas as pd


def elevated(table: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Give the points of a table their elevation as third coordinate.

    Parameters
    ----------
    table : GeoDataFrame
        2D points, or no geometry where a row has no position.

    Returns
    -------
    GeoDataFrame
        The same; a row without an elevation keeps its 2D point, because 0 would be a place
        and NaN makes some readers drop the geometry. Tables without points pass unchanged.

    Examples
    --------
    >>> import geopandas, numpy, shapely
    >>> table = geopandas.GeoDataFrame(
    ...     {"elevation": [1456.2, numpy.nan]}, geometry=[shapely.Point(1, 2), shapely.Point(3, 4)]
    ... )
    >>> elevated(table).geometry.to_wkt().tolist()
    ['POINT Z (1 2 1456.2)', 'POINT (3 4)']
    """
    import numpy as np
    import shapely

    if not is_placed(table) or "elevation" not in table.columns:
        return table
    flat = np.asarray(table.geometry.array, dtype=object)
    elevation = table["elevation"].to_numpy(dtype=float)
    rise = (shapely.get_type_id(flat) == shapely.GeometryType.POINT) & np.isfinite(elevation)
    if not rise.any():
        return table
    raised = flat.copy()
    raised[rise] = shapely.points(shapely.get_x(flat[rise]), shapely.get_y(flat[rise]), elevation[rise])
    return table.set_geometry(raised, crs=table.crs)


def elevated_areas(table: gpd.GeoDataFrame, lines: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """Give as-built areas the elevations of the closed lines around them.

    Parameters
    ----------
    table : GeoDataFrame
        `asbuilt_areas`.
    lines : GeoDataFrame
        `asbuilt_lines` as `elevated_lines` gives them.
    """
    import shapely

    around = dict(zip(lines["line"], lines.geometry.array, strict=True))
    raised = [
        shapely.Polygon(shapely.get_coordinates(around[name], include_z=around[name].has_z)) for name in table["line"]
    ]
    return table.set_geometry(raised, crs=table.crs) if len(table) else table


def elevated_lines(table: gpd.GeoDataFrame, elements: pd.DataFrame) -> gpd.GeoDataFrame:
    """Give as-built lines their elevations as third coordinate, where every shot has one.

    Parameters
    ----------
    table : GeoDataFrame
        `asbuilt_lines`, with 2D lines.
    elements : DataFrame
        `asbuilt_elements`; within an arc the elevation changes evenly along its chords.

    Returns
    -------
    GeoDataFrame
        The same; a line that lacks an elevation somewhere stays flat.
    """
    known = dict(zip(table["line"], table["elevations"].to_numpy(bool), strict=True))
    return _in_space(table, elements, {name for name, all_known in known.items() if all_known})


def elevated_design(table: gpd.GeoDataFrame, elements: pd.DataFrame) -> gpd.GeoDataFrame:
    """Give design lines their elevations as third coordinate, where every element has some at both ends.

    Parameters
    ----------
    table : GeoDataFrame
        `design_lines`, with 2D lines.
    elements : DataFrame
        `design_elements`.

    Returns
    -------
    GeoDataFrame
        The same; a line whose drawn shape does not pass through the ends of its elements stays flat, too.
    """
    ends = elements[["start_elevation", "end_elevation"]].notna().all(axis=1).groupby(elements["line"]).all()
    return _in_space(table, elements, set(ends.index[ends.to_numpy(bool)]))


def _in_space(table: gpd.GeoDataFrame, elements: pd.DataFrame, names: set[str]) -> gpd.GeoDataFrame:
    import numpy as np
    import shapely

    lines = np.asarray(table.geometry.array, dtype=object).copy()
    ordered = elements.sort_values("sequence", kind="stable")
    start = ordered["start_elevation"].to_numpy(float)
    corners = ordered[["end_easting", "end_northing", "end_elevation"]].to_numpy(float)
    ends = ordered.groupby("line").indices
    for row, name in enumerate(table["line"].tolist()):
        if name in names and lines[row] is not None and lines[row].geom_type == "LineString":
            places = shapely.get_coordinates(lines[row])
            own = ends[name]
            level = _levels(places, start[own[0]], corners[own])
            if level is not None:
                lines[row] = shapely.linestrings(np.column_stack([places, level]))
    return table.set_geometry(lines, crs=table.crs)


def _levels(places: np.ndarray, first: float, corners: np.ndarray) -> np.ndarray | None:
    """Elevation of each vertex; None where the vertices do not pass through all corners."""
    import numpy as np

    level = np.full(len(places), np.nan)
    level[0], at = first, 0
    for east, north, height in corners.tolist():
        beyond = np.flatnonzero((places[at + 1 :] == (east, north)).all(axis=1))
        if not len(beyond):
            return None
        at += 1 + int(beyond[0])
        level[at] = height
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(places, axis=0).T)))
    known = np.isfinite(level)
    made: np.ndarray = np.interp(along, along[known], level[known])
    return made
