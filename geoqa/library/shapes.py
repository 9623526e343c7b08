"""Tables of points and lines taken apart for the kernels, row by row; a row without a place stays a row."""

from typing import Any

import geopandas
import numpy as np
import pandas as pd
import shapely

from geoqa.errors import GeometryInputError, LayerError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.design.element_making import from_vertices
from geoqa.kernels.design.elements import Elements
from geoqa.model.words import many

_POINT, _LINE, _RING, _LINES = 0, 1, 2, 5  # numbers of types in the simple-features library


def series_of(table: Any, *, what: str) -> geopandas.GeoSeries:
    """Give the geometry of a table.

    Raises
    ------
    LayerError
        The table has none.

    Examples
    --------
    >>> series_of(pd.DataFrame({"x": [1.0]}), what="points")
    Traceback (most recent call last):
    ...
    geoqa.errors.LayerError: points are a DataFrame without geometry; give a GeoDataFrame or a GeoSeries, for example \
geopandas.GeoDataFrame(table, geometry=geopandas.points_from_xy(table.easting, table.northing), crs="EPSG:6547").
    """
    if isinstance(table, geopandas.GeoSeries):
        return table
    if isinstance(table, geopandas.GeoDataFrame) and table.active_geometry_name is not None:
        return table.geometry
    kind = "GeoDataFrame" if isinstance(table, geopandas.GeoDataFrame) else type(table).__name__
    if isinstance(table, shapely.Geometry):
        raise LayerError(
            f'{what} are a {kind} alone, which states no system; give geopandas.GeoSeries([…], crs="EPSG:6547") of it.'
        )
    raise LayerError(
        f"{what} are a {kind} without geometry; give a GeoDataFrame or a GeoSeries, for example "
        "geopandas.GeoDataFrame(table, geometry=geopandas.points_from_xy(table.easting, table.northing), "
        'crs="EPSG:6547").'
    )


def places_of(points: geopandas.GeoSeries, *, what: str = "points") -> Floats:
    """Eastings and northings of points, (n, 2); NaN where a row has no geometry or an empty one.

    Raises
    ------
    GeometryInputError
        A row holds something other than a point.

    Examples
    --------
    >>> places_of(geopandas.GeoSeries.from_wkt(["POINT (1 2)", "POINT EMPTY", None])).tolist()
    [[1.0, 2.0], [nan, nan], [nan, nan]]
    """
    shapes = points.to_numpy()
    kinds = shapely.get_type_id(shapes)
    if (wrong := kinds > _POINT).any():
        row = int(np.argmax(wrong))
        raise GeometryInputError(
            f"{what}: {many(int(wrong.sum()), 'row is no point', 'rows are no points')}, "
            f"the first is a {shapes[row].geom_type} "
            f"(row {_label(points.index, row)}); give points, for example {what}.explode() for a MultiPoint."
        )
    return _coordinates(shapes)[:, :2]


def elevations_of(points: geopandas.GeoSeries) -> Floats:
    """Elevations of points, (n,); NaN for a point in 2D or a missing one.

    Examples
    --------
    >>> elevations_of(geopandas.GeoSeries.from_wkt(["POINT Z (1 2 3)", "POINT (1 2)", None])).tolist()
    [3.0, nan, nan]
    """
    return _coordinates(points.to_numpy(), elevated=True)[:, 2]


def _coordinates(shapes: Any, *, elevated: bool = False) -> Floats:
    """One row a point, also where it is missing or empty, which the library leaves out."""
    found, row = shapely.get_coordinates(shapes, include_z=elevated, return_index=True)
    if len(found) == len(shapes):
        return found
    coordinates = np.full((len(shapes), found.shape[1]), np.nan)
    coordinates[row] = found
    return coordinates


def _label(index: pd.Index, row: int) -> str:
    return repr(index[[row]].tolist()[0])


def array_of(points: Any, *, what: str = "points") -> Floats:
    """Places and perhaps elevations given as an array, (n, 2) or (n, 3).

    Raises
    ------
    GeometryInputError
        Another shape, or what is no number.

    Examples
    --------
    >>> array_of([[1, 2, 3]]).shape
    (1, 3)
    """
    try:
        array = np.asarray(points, dtype=np.float64)
    except (TypeError, ValueError):
        raise GeometryInputError(
            f"{what} hold something that is no number; give (n, 2) or (n, 3) coordinates."
        ) from None
    if array.size == 0:
        return array.reshape(0, 2)
    if array.ndim != 2 or array.shape[1] not in (2, 3):
        raise GeometryInputError(
            f"{what} have shape {array.shape}; give a GeoDataFrame, or (n, 2) eastings and northings, or (n, 3) with "
            "elevations."
        )
    return array


def elements_of(lines: geopandas.GeoSeries, *, what: str = "lines") -> Elements:
    """Legs between the vertices of lines; the number of a line is its row. Rows without a line have no legs.

    Raises
    ------
    GeometryInputError
        A row holds several parts or something other than a line, or a vertex without a place.

    Examples
    --------
    >>> elements_of(geopandas.GeoSeries.from_wkt([None, "LINESTRING (0 0, 3 4)"])).length.tolist()
    [5.0]
    """
    shapes = lines.to_numpy()
    kinds = shapely.get_type_id(shapes)
    parts = shapely.get_num_geometries(shapes)
    if (several := (kinds == _LINES) & (parts > 1)).any():
        label = _label(lines.index, int(np.argmax(several)))
        raise GeometryInputError(
            f"{what}: {int(several.sum())} MultiLineStrings of several parts, the first in row {label}; "
            f"stations across a gap would be invented. Make each part a line of its own: {what}.explode("
            "ignore_index=True)."
        )
    if (wrong := ~np.isin(kinds, (-1, _LINE, _RING, _LINES))).any():
        row = int(np.argmax(wrong))
        raise GeometryInputError(
            f"{what}: {many(int(wrong.sum()), 'row is no line', 'rows are no lines')}, "
            f"the first is a {shapes[row].geom_type} "
            f"(row {_label(lines.index, row)}); give LineStrings, for example the boundary of a Polygon."
        )
    coordinates, row = shapely.get_coordinates(shapes, include_z=True, return_index=True)
    missing = ~np.isfinite(coordinates[:, :2]).all(axis=1)
    if missing.any():
        label = _label(lines.index, row[int(np.argmax(missing))])
        raise GeometryInputError(f"{what}: a vertex of row {label} has no place; leave that line out or mend it.")
    return from_vertices(coordinates, row)


def labels_of(lines: Any, line_id: str | None, *, what: str = "lines", option: str = "line_id") -> Any:
    """Give an extension array of what lines are called, which no two share: their index, or a column.

    Raises
    ------
    LayerError
        There is no such column, two lines share a label, or one has none.

    Examples
    --------
    >>> labels_of(geopandas.GeoSeries.from_wkt(["LINESTRING (0 0, 3 4)"], index=[7]), None)
    <IntegerArray>
    [7]
    Length: 1, dtype: Int64
    """
    if line_id is None:
        index = lines.index.to_flat_index() if isinstance(lines.index, pd.MultiIndex) else lines.index
        labels, source = pd.Series(index, dtype=index.dtype), "index"
    elif line_id in getattr(lines, "columns", ()):
        labels, source = lines[line_id].reset_index(drop=True), f"column '{line_id}'"
    else:
        known = ", ".join(map(str, getattr(lines, "columns", ()))) or "none"
        raise LayerError(f"{what} have no column '{line_id}' for {option}; they have {known}.")
    if (twice := labels.duplicated()).any() or labels.isna().any():
        label = labels[twice].tolist()[0] if twice.any() else "no value"
        raise LayerError(
            f"{what}: two of them are called {label!r} in the {source}, and an answer could not say which; name a "
            f"column of unique values with {option}=, or use {what}.reset_index(drop=True)."
            if twice.any()
            else f"{what}: one of them has no name in the {source}; fill it in, or name another column with {option}=."
        )
    return labels.astype("Int64").array if pd.api.types.is_integer_dtype(labels.dtype) else labels.array
