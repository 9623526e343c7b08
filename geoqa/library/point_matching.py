"""Which design point each shot is of, where more than one may be meant, and how far it is from it."""

from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.frames.systems.resolve import resolve
from geoqa.kernels.arrays import Floats
from geoqa.library.accepted import Placed
from geoqa.library.design_tables import ANY_KIND, column, design_kinds, filled, names_of, texts_or
from geoqa.library.lengths import positive_length
from geoqa.library.shapes import elevations_of, labels_of, places_of, series_of
from geoqa.library.systems import projected, same_height, same_system, unit_of
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.judging.text_columns import rows_of

_AXES = ("easting", "northing", "elevation")


def match_points(
    points: Placed,
    design_points: Placed,
    *,
    kind: str | None = None,
    name: str | None = None,
    point_id: str | None = None,
    max_distance: str | Length = "10 ft",
    scale: str | Length = "0.5 ft",
) -> pd.DataFrame:
    """Choose the design point of every shot where that is safe, and take measured minus design.

    Parameters
    ----------
    points : GeoDataFrame or GeoSeries
        Shots, in the system of `design_points`, in 2D or with elevations.
    design_points : GeoDataFrame or GeoSeries
        Points in a projected system, in 2D or with elevations in the unit and above the datum of those of `points`.
    kind : str, optional
        Column of both tables that says what a row is (rim, hydrant): a shot is matched with points of its kind only,
        and with none where its kind is missing.
    name : str, optional
        Column of `points` with the name of a design point, where the crew stored one: such a shot is of that point,
        however far away. A name that is none, or of a point of another kind, says nothing.
    point_id : str, optional
        Column of `design_points` that names them in the answer and for `name`; their index if not given.
    max_distance : str or Length
        Farthest design point considered for a shot without a name.
    scale : str or Length
        Plausible error of construction, 1 sigma, for telling points apart.

    Returns
    -------
    DataFrame
        One row a shot, on the index of `points`, in the unit of the system: ``design_point``,
        ``easting_deviation``, ``northing_deviation`` and ``elevation_deviation`` (measured minus design, positive
        east, north and high), ``distance`` in plan, ``azimuth`` from the design point to the shot (degrees clockwise
        from grid north) and ``design_elevation``; missing where the match is open or nothing is in reach, and in
        elevation where either has none. And:

        ``candidates``
            How many design points are in reach, eight at most; 1 where the shot names its own.
        ``odds``
            Probability of the best of them; NaN without any.
        ``ambiguous``
            Whether none is likely enough (0.95) to be chosen without asking.

    Raises
    ------
    FrameError
        Shots and design are not in one projected system with a linear unit, or in two vertical ones.
    GeometryInputError
        A row holds something other than a point.
    LayerError
        A table without geometry or without a column, a design point without kind, or names that are not unique.
    QuantityError
        A length without a unit, or not positive.

    Notes
    -----
    The step ``match-points`` of every job. Shots are matched together, so that the sum of (distance / scale)² is least
    (linear assignment), where a second shot of one point costs 6 more: exp(-3), a twentieth as likely as a first. The
    odds hold the best matching against the best one that puts the shot at another point.

    Examples
    --------
    Two hydrants, a shot on each, and one midway that neither can claim.

    >>> import geopandas, geoqa
    >>> hydrants = geopandas.GeoSeries.from_wkt(["POINT Z (0 0 100)", "POINT Z (4 0 101)"], index=["H-1", "H-2"],
    ...     crs="EPSG:6547")
    >>> shots = geopandas.GeoSeries.from_wkt(["POINT Z (0.1 0.2 100.05)", "POINT Z (3.9 0 101)", "POINT Z (2 0 100)"],
    ...     crs="EPSG:6547")
    >>> found = geoqa.match_points(shots, hydrants)
    >>> found[["design_point", "northing_deviation", "elevation_deviation", "ambiguous"]].round(3)
      design_point  northing_deviation  elevation_deviation  ambiguous
    0          H-1                 0.2                 0.05      False
    1          H-2                 0.0                 0.00      False
    2          NaN                 NaN                  NaN       True
    """
    measured, design = series_of(points, what="points"), series_of(design_points, what="design_points")
    same_system(measured, design, what=("points", "design_points"))
    same_height(measured, design, what=("points", "design_points"))
    unit = unit_of(design, what="design_points")
    labels = labels_of(design_points, point_id, what="design_points", option="point_id")
    names = names_of(labels, what="design_points")
    shots = _table(measured, column(points, kind, what="points", option="kind"), "points").assign(
        shot_key=pd.Series(np.arange(len(measured))).astype("str"),
        role=filled(len(measured), "feature"),
        line_id=texts_or(column(points, name, what="points", option="name"), len(measured), None),
        shot=filled(len(measured), None),
        note=filled(len(measured), None),
    )
    known = _table(design, design_kinds(design_points, kind, what="design_points"), "design_points").assign(point=names)
    placed = known[known["easting"].notna() & known["northing"].notna()]  # without a place nothing is near
    step = MatchPoints(
        reach=positive_length(max_distance, unit, name="max_distance"),
        scale=positive_length(scale, unit, name="scale"),
    )
    frame = resolve(projected(design, what="design_points"))
    found = step.run(Layers({"shots": shots, "design_points": placed.reset_index(drop=True)}, frame=frame))
    return _one_row_a_shot(found["point_matches"], shots, known, labels, measured.index)


def _table(points: geopandas.GeoSeries, kinds: pd.Series | None, what: str) -> pd.DataFrame:
    """Places, elevations and kinds, row by row."""
    places = places_of(points, what=what)
    return pd.DataFrame(
        {
            "easting": places[:, 0],
            "northing": places[:, 1],
            "elevation": elevations_of(points),
            "kind": texts_or(kinds, len(places), ANY_KIND),
        }
    )


def _one_row_a_shot(
    found: pd.DataFrame, shots: pd.DataFrame, design: pd.DataFrame, labels: Any, index: pd.Index
) -> pd.DataFrame:
    """The chosen point of every shot, how far off it is, and what is known of the others."""
    row, chosen = found["shot_key"].astype("int64").to_numpy(), found["chosen"].to_numpy()
    odds, ambiguous = np.full(len(index), -1.0), np.zeros(len(index), dtype=bool)
    np.maximum.at(odds, row, found["odds"].to_numpy())
    ambiguous[row] = found["ambiguous"].to_numpy()
    place = np.full(len(index), -1)
    place[row[chosen]] = rows_of(found["design"][chosen], design["point"])
    columns: dict[str, Any] = {"design_point": labels.take(place, allow_fill=True)}
    for axis in _AXES:
        columns[f"{axis}_deviation"] = shots[axis].to_numpy(float) - _taken(design[axis], place)
    for name in ("distance", "azimuth"):
        columns[name] = np.full(len(index), np.nan)
        columns[name][row[chosen]] = found[name].to_numpy()[chosen]
    count = np.bincount(row, minlength=len(index))
    columns |= {"design_elevation": _taken(design["elevation"], place), "candidates": count}
    columns |= {"odds": np.where(count > 0, odds, np.nan), "ambiguous": ambiguous}
    return pd.DataFrame(columns, index=index)


def _taken(values: pd.Series, place: np.ndarray) -> Floats:
    """Numbers at places; NaN where a place is -1."""
    return np.append(values.to_numpy(float), np.nan)[place]
