"""Points on disk: a third coordinate for the rows that have an elevation, and for no other."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoqa.write.rows import is_placed

if TYPE_CHECKING:
    import geopandas as gpd


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
