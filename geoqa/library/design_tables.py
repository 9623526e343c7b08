"""Points and lines as the tables that steps read: every point a feature shot, every line a design line."""

from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.errors import LayerError
from geoqa.frames.systems.resolve import resolve
from geoqa.kernels.design.elements import Elements
from geoqa.library.shapes import elements_of, places_of
from geoqa.library.systems import projected
from geoqa.model.tables.layer import Layers

ANY_KIND = "any"
"""Kind of every point and line where none is asked for."""


def design_layers(
    points: geopandas.GeoSeries,
    lines: geopandas.GeoSeries,
    *,
    names: pd.Series,
    point_kinds: pd.Series | None,
    line_kinds: pd.Series | None,
    strings: pd.Series | None,
) -> Layers:
    """Lay points and lines out for the steps that match them; the key of a shot is its row.

    Parameters
    ----------
    points, lines : GeoSeries
        In one projected system.
    names : Series of str
        Of the lines, unique, row by row.
    point_kinds, line_kinds, strings : Series or None
        Row by row; without kinds all are of one.

    Returns
    -------
    Layers
        With ``shots``, ``design_lines`` and ``design_elements``.

    Examples
    --------
    >>> walk = geopandas.GeoSeries.from_wkt(["LINESTRING (0 0, 0 50)"], crs="EPSG:6547")
    >>> shots = geopandas.GeoSeries.from_wkt(["POINT (0.1 25)"], crs="EPSG:6547")
    >>> layers = design_layers(
    ...     shots, walk, names=pd.Series(["W-1"]), point_kinds=None, line_kinds=None, strings=None)
    >>> len(layers["shots"]), layers["design_elements"]["length"].tolist()
    (1, [50.0])
    """
    frame = resolve(projected(lines, what="lines"))
    places = places_of(points)
    shots = pd.DataFrame(
        {
            "shot_key": pd.Series(np.arange(len(places))).astype("str"),
            "easting": places[:, 0],
            "northing": places[:, 1],
            "kind": texts_or(point_kinds, len(places), ANY_KIND),
            "role": texts_or(None, len(places), "feature"),
            "code": texts_or(None, len(places), ""),
            "line_id": texts_or(strings, len(places), None),
        }
    )
    design = pd.DataFrame(
        {
            "line": texts_or(names, len(names), None),
            "kind": texts_or(line_kinds, len(names), ANY_KIND),
            "source": texts_or(None, len(names), "table"),
        }
    )
    elements = elements_of(lines)
    return Layers(
        {"shots": shots, "design_lines": design, "design_elements": element_rows(elements, design["line"])}, frame=frame
    )


def column(table: Any, name: str | None, *, what: str, option: str) -> pd.Series | None:
    """Give a column by its name, or None where none is asked for.

    Raises
    ------
    LayerError
        The table has no such column.

    Examples
    --------
    >>> column(pd.DataFrame({"kind": ["curb"]}), "layer", what="lines", option="kind")
    Traceback (most recent call last):
    ...
    geoqa.errors.LayerError: lines have no column 'layer' for kind; they have kind.
    """
    if name is None:
        return None
    if name not in getattr(table, "columns", ()):
        known = ", ".join(map(str, getattr(table, "columns", ()))) or "none"
        raise LayerError(f"{what} have no column '{name}' for {option}; they have {known}.")
    return table[name].reset_index(drop=True)


def names_of(labels: Any, *, what: str) -> pd.Series:
    """What rows of a design are called, as texts that no two share.

    Raises
    ------
    LayerError
        Two have one text.

    Examples
    --------
    >>> names_of([7, "7"], what="lines")
    Traceback (most recent call last):
    ...
    geoqa.errors.LayerError: lines: two of them are called '7' as text; give each a name of its own.
    """
    names = pd.Series(labels).astype("str")
    if (twice := names.duplicated()).any():
        raise LayerError(
            f"{what}: two of them are called '{names[twice].iloc[0]}' as text; give each a name of its own."
        )
    return names


def design_kinds(design: Any, kind: str | None, *, what: str) -> pd.Series | None:
    """Kinds of the rows of a design, none of them missing; None where no column is asked for.

    Raises
    ------
    LayerError
        There is no such column, or a row has no kind.

    Examples
    --------
    >>> design_kinds(pd.DataFrame({"kind": ["curb", None]}), "kind", what="lines")
    Traceback (most recent call last):
    ...
    geoqa.errors.LayerError: lines: 1 of them have no kind; fill it in, or leave them out.
    """
    kinds = column(design, kind, what=what, option="kind")
    if kinds is not None and (lacking := kinds.isna()).any():
        raise LayerError(f"{what}: {int(lacking.sum())} of them have no kind; fill it in, or leave them out.")
    return kinds


def texts_of(values: pd.Series) -> pd.Series:
    """Labels as texts; a whole number is written as one, also where a missing neighbour has made it a float.

    Examples
    --------
    >>> texts_of(pd.Series([7, None])).tolist()
    ['7', nan]
    """
    if pd.api.types.is_float_dtype(values.dtype) and (values.dropna() % 1 == 0).all():
        values = values.astype("Int64")
    return values.astype("str").where(values.notna()).astype("str")


def filled(count: int, text: str | None) -> pd.Series:
    """The same text in every row, or none.

    Examples
    --------
    >>> filled(2, None).isna().tolist()
    [True, True]
    """
    return pd.Series([text] * count, dtype="str")


def texts_or(values: pd.Series | None, count: int, other: str | None) -> pd.Series:
    """Labels as texts, or the same text in every row where there are none.

    Examples
    --------
    >>> texts_or(None, 2, "table").tolist()
    ['table', 'table']
    """
    return filled(count, other) if values is None else texts_of(values)


def element_rows(elements: Elements, names: pd.Series) -> pd.DataFrame:
    """Legs as rows of the table of design elements."""
    legs = len(elements)
    first = np.searchsorted(elements.line, elements.line)
    return pd.DataFrame(
        {
            "line": names.take(elements.line).reset_index(drop=True),
            "sequence": np.arange(legs) - first,
            "shape": texts_or(None, legs, "line"),
            "start_easting": elements.start[:, 0],
            "start_northing": elements.start[:, 1],
            "end_easting": elements.end[:, 0],
            "end_northing": elements.end[:, 1],
            "centre_easting": elements.centre[:, 0],
            "centre_northing": elements.centre[:, 1],
            "radius": elements.radius,
            "sense": elements.sense.astype(np.int64),
            "start_station": elements.start_station,
            "length": elements.length,
            "start_elevation": elements.start_elevation,
            "end_elevation": elements.end_elevation,
        }
    )
