"""Which design line each point is of, where more than one may be meant, and how far it is from it."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.errors import GeometryInputError
from geoqa.library.accepted import Placed
from geoqa.library.design_tables import column, design_kinds, design_layers, names_of
from geoqa.library.lengths import positive_length
from geoqa.library.shapes import elevations_of, labels_of, series_of
from geoqa.library.systems import same_height, same_system, unit_of
from geoqa.model.quantity import Length
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.judging.text_columns import rows_of

_NUMBERS = ("station", "offset", "along", "distance", "azimuth", "design_elevation")


def match(
    points: Placed,
    lines: Placed,
    *,
    kind: str | None = None,
    string: str | None = None,
    line_id: str | None = None,
    max_distance: str | Length = "10 ft",
    scale: str | Length = "0.5 ft",
    alike: str | Length = "0.03 ft",
) -> pd.DataFrame:
    """Choose the design line of every point where that is safe, and leave it open where it is not.

    Parameters
    ----------
    points : GeoDataFrame or GeoSeries
        Points, in the system of `lines`.
    lines : GeoDataFrame or GeoSeries
        LineStrings in a projected system, in 2D or with elevations.
    kind : str, optional
        Column of both tables that says what a row is (curb, walk): a point is matched with lines of its kind only, and
        with none where its kind is missing.
    string : str, optional
        Column of `points` that says which were shot as one line; the others of a string tip an even choice, and so
        does a string that has the name of a line.
    line_id : str, optional
        Column of `lines` that names them in the answer; their index if not given.
    max_distance : str or Length
        Farthest line considered.
    scale : str or Length
        Plausible error of construction, 1 sigma, for telling lines apart.
    alike : str or Length
        Lines whose offset and elevation agree this well are no rivals: either way the same is judged.

    Returns
    -------
    DataFrame
        One row a point, on the index of `points`, in the unit of the system: ``line``, ``station``, ``offset`` (right
        positive), ``along``, ``distance``, ``azimuth`` and, where lines have elevations, ``design_elevation``, as from
        `station_offset`; missing where the match is open or nothing is in reach. And:

        ``candidates``
            How many lines are in reach.
        ``odds``
            Probability of the best of them; NaN without any.
        ``ambiguous``
            Whether none is likely enough (0.95) to be chosen without asking.

    Raises
    ------
    FrameError
        Points and lines are not in one projected system with a linear unit.
    GeometryInputError
        A row holds something other than a point or one line.
    LayerError
        A table without geometry or without a column, a line without kind, or lines whose names are not unique.
    QuantityError
        A length without a unit, or not positive (`alike` may be 0).

    Notes
    -----
    The step ``match-lines`` of every job. A candidate costs (distance / scale)², and is exp(-cost / 2) as likely as
    one that costs nothing.

    Examples
    --------
    Face and back of a curb, half a foot apart: a shot on the face, and one midway.

    >>> import geopandas, geoqa
    >>> curb = geopandas.GeoSeries.from_wkt(
    ...     ["LINESTRING (0 0, 0 50)", "LINESTRING (2 0, 2 50)"], index=["face", "back"], crs="EPSG:6547")
    >>> shots = geopandas.GeoSeries.from_wkt(["POINT (0.1 9)", "POINT (1 9)"], crs="EPSG:6547")
    >>> geoqa.match(shots, curb)[["line", "offset", "candidates", "odds", "ambiguous"]].round(3)
       line  offset  candidates   odds  ambiguous
    0  face     0.1           2  0.999      False
    1   NaN     NaN           2  0.500       True
    """
    places, design = series_of(points, what="points"), series_of(lines, what="lines")
    same_system(places, design, what=("points", "lines"))
    labels = labels_of(lines, line_id)
    names = names_of(labels, what="lines")
    layers = design_layers(
        places,
        design,
        names=names,
        point_kinds=column(points, kind, what="points", option="kind"),
        line_kinds=design_kinds(lines, kind, what="lines"),
        strings=column(points, string, what="points", option="string"),
    )
    unit = unit_of(design, what="lines")
    step = MatchLines(
        reach=positive_length(max_distance, unit, name="max_distance"),
        scale=positive_length(scale, unit, name="scale"),
        alike=positive_length(alike, unit, name="alike", or_none=True),
    )
    found = step.run(layers)["line_matches"]
    elevated = bool(np.isfinite(layers["design_elements"]["start_elevation"]).any())
    return _one_row_a_point(found, names, labels, places.index, elevated=elevated)


def deviations(
    points: Placed,
    lines: Placed,
    *,
    kind: str | None = None,
    string: str | None = None,
    line_id: str | None = None,
    max_distance: str | Length = "10 ft",
    scale: str | Length = "0.5 ft",
    alike: str | Length = "0.03 ft",
) -> pd.DataFrame:
    """Match points with lines and take measured minus design, across and in elevation.

    Parameters
    ----------
    points : GeoDataFrame or GeoSeries
        Points with elevations, in the system of `lines`.
    lines : GeoDataFrame or GeoSeries
        LineStrings with elevations, in the same unit above the same datum.
    kind, string, line_id, max_distance, scale, alike
        As in `match`.

    Returns
    -------
    DataFrame
        As from `match`, on the index of `points`, with ``elevation`` as measured and ``elevation_deviation``: elevation
        minus design elevation at the point's own station, positive high. The deviation across is ``offset``. A point
        past the end of its line (``along`` not 0) is compared with the elevation of that end.

    Raises
    ------
    FrameError
        As in `match`; or the two systems have different vertical parts.
    GeometryInputError
        Points or lines have no elevations.
    LayerError, QuantityError
        As in `match`.

    Notes
    -----
    To judge them, hand ``offset`` or ``elevation_deviation`` to `judge` with limits and an uncertainty.

    Examples
    --------
    >>> import geopandas, geoqa
    >>> walk = geopandas.GeoSeries.from_wkt(["LINESTRING Z (0 0 100, 0 50 101)"], index=["W-1"], crs="EPSG:6547")
    >>> shots = geopandas.GeoSeries.from_wkt(["POINT Z (0.1 25 100.53)"], crs="EPSG:6547")
    >>> geoqa.deviations(shots, walk)[["line", "offset", "design_elevation", "elevation_deviation"]].round(3)
      line  offset  design_elevation  elevation_deviation
    0  W-1     0.1             100.5                 0.03
    """
    found = match(
        points, lines, kind=kind, string=string, line_id=line_id, max_distance=max_distance, scale=scale, alike=alike
    )
    places, design = series_of(points, what="points"), series_of(lines, what="lines")
    same_height(places, design, what=("points", "lines"))
    if len(found) and "design_elevation" not in found:
        raise GeometryInputError(
            "lines have no elevations, so there is nothing to compare with; use match for offsets, or give lines in 3D."
        )
    elevation = elevations_of(places)
    if len(elevation) and not np.isfinite(elevation).any():
        raise GeometryInputError(
            "points have no elevations; give them in 3D, for example "
            "geopandas.points_from_xy(table.easting, table.northing, table.elevation, crs=...)."
        )
    design_elevation = found["design_elevation"] if "design_elevation" in found else np.full(len(found), np.nan)
    return found.assign(elevation=elevation, elevation_deviation=elevation - design_elevation)


def _one_row_a_point(
    found: pd.DataFrame, names: pd.Series, labels: Any, index: pd.Index, *, elevated: bool
) -> pd.DataFrame:
    """The chosen candidate of every point, and what is known of the others."""
    row = found["shot_key"].astype("int64").to_numpy()
    count = np.bincount(row, minlength=len(index))
    odds, ambiguous = np.full(len(index), -1.0), np.zeros(len(index), dtype=bool)
    np.maximum.at(odds, row, found["odds"].to_numpy())
    ambiguous[row] = found["ambiguous"].to_numpy()
    chosen = found["chosen"].to_numpy()
    line = np.full(len(index), -1)
    line[row[chosen]] = rows_of(found["design"][chosen], names)
    columns: dict[str, Any] = {"line": labels.take(line, allow_fill=True)}
    for name in _NUMBERS if elevated else _NUMBERS[:-1]:
        columns[name] = np.full(len(index), np.nan)
        columns[name][row[chosen]] = found[name].to_numpy()[chosen]
    columns |= {"candidates": count, "odds": np.where(count > 0, odds, np.nan), "ambiguous": ambiguous}
    return pd.DataFrame(columns, index=index)
