"""Frames of tables: from one system and foot to another, which system a file may be in, and grid over ground."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import geopandas
import numpy as np
import pandas as pd
import shapely

from geoqa.errors import FrameError, LayerError, QuantityError
from geoqa.frames.moving import convert as moving
from geoqa.frames.readings.doubt import Known, doubt
from geoqa.frames.systems import factors
from geoqa.frames.systems.definitions import linear_unit, systems
from geoqa.frames.systems.resolve import frame_wkt, refuse_web_map, resolve
from geoqa.library.accepted import Lengths, Placed, Places, System
from geoqa.library.lengths import distance_in
from geoqa.library.numbers import beside
from geoqa.library.shapes import array_of, places_of, series_of
from geoqa.library.systems import definition, projected
from geoqa.model.frame import Frame
from geoqa.model.quantity import METRE, Length, length_unit
from geoqa.model.source import Evidence, Source


@dataclass(frozen=True, kw_only=True, eq=False)
class Converted:
    r"""A table in another frame, and what was done to it.

    Attributes
    ----------
    table : GeoDataFrame or GeoSeries
        As it was given, with its geometry in the new system; elevations in the unit of that system.
    frame : Frame
        The new frame.
    evidence : tuple of Evidence
        What was scaled and moved, by which operation and how accurate that is; ``print(*evidence, sep="\n")``.
    """

    table: Placed
    frame: Frame
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class FrameCandidates:
    """What unlabelled coordinates may be in.

    Attributes
    ----------
    readings : DataFrame
        Most probable first: code, zone, unit, order, datum, probability, longitude and latitude of the middle
        (degrees), misfit at known points (metres).
    settled : mapping
        Question (zone, unit, order, datum) to answer; what cannot be told is not in it.
    recommendation : str
        In words: what to declare, or what would tell it.
    """

    readings: pd.DataFrame
    settled: Mapping[str, str]
    recommendation: str


def convert(
    points: Placed,
    *,
    to: str | System,
    unit: str | None = None,
    elevation_unit: str | None = None,
    epoch: float | None = None,
    accuracy_limit: str | Length = "0.05 m",
    accept_operation: bool = False,
) -> Converted:
    """Bring a table into another frame; every step is told, and none is taken that is not good enough.

    Parameters
    ----------
    points : GeoDataFrame or GeoSeries
        Points, lines or areas in a projected system, in 2D or with elevations.
    to : str or CRS
        A projected system: ``"EPSG:6547"``, with a vertical system ``"EPSG:6547+8228"``, or a definition.
    unit : {"m", "ft", "ftUS"}, optional
        Unit the coordinates are really in, where it is another than that of their system: numbers in one foot under a
        system in the other.
    elevation_unit : {"m", "ft", "ftUS", "in", "cm", "mm"}, optional
        Unit of the elevations; needed where there are some and the system has no vertical part.
    epoch : float, optional
        Decimal year of the coordinates, for operations that move with time.
    accuracy_limit : str or Length
        Worst stated accuracy of a datum operation that is taken.
    accept_operation : bool
        Take the best operation that is there although a better one is known whose grid is missing.

    Returns
    -------
    Converted

    Raises
    ------
    FrameError
        A system is missing, unknown, in degrees, or in two units; no operation may be taken; or most positions lie
        outside the area of use of the new system.
    QuantityError
        Elevations without a unit.

    Notes
    -----
    The way every file of a job takes (`geoqa.frames.moving.convert`). Between units of one projection numbers are
    scaled exactly and nothing else is done. ``GeoDataFrame.to_crs`` is never used: it takes a coarse operation without
    a word where a grid is missing, and leaves elevations in the old unit.

    Examples
    --------
    One zone in metres and in feet: a plain change of unit, and so it says.

    >>> import geopandas, geoqa
    >>> shots = geopandas.GeoSeries.from_wkt(["POINT Z (679094.4 135331.2 444.09)"], crs="EPSG:6546")
    >>> moved = geoqa.convert(shots, to="EPSG:6547", elevation_unit="m")
    >>> [round(value, 3) for value in moved.table.iloc[0].coords[0]]
    [2228000.0, 444000.0, 1456.988]
    >>> print(moved.evidence[0])
    eastings and northings: m to ft, times 1250/381 (one projection in two units; the scale is exact)
    """
    series = series_of(points, what="points")
    frame = _target(to)
    vertical = _elevation_unit(series, elevation_unit)
    shapes = series.to_numpy()
    vertices, row = shapely.get_coordinates(shapes, include_z=True, return_index=True)
    elevated = bool(series.has_z.any())
    table = pd.DataFrame(vertices, columns=["easting", "northing", "elevation"])
    layers, evidence = moving.convert(
        Source(layers={"shots": table}),
        frame=frame,
        declared=projected(series, what="points"),
        unit=None if unit is None else length_unit(unit),
        vertical=None if vertical is None else length_unit(vertical),
        epoch=epoch,
        accuracy_limit=distance_in(accuracy_limit, METRE, name="accuracy_limit"),
        accept_operation=accept_operation,
        what="points",
    )
    moved = geopandas.GeoSeries(
        _reshaped(shapes, layers["shots"].to_numpy(float), row),
        index=series.index,
        crs=frame_wkt(frame),
        name=series.name,
    )
    made = moved if isinstance(points, geopandas.GeoSeries) else points.set_geometry(moved)
    if not elevated:  # nothing is told about elevations that are not there
        evidence = tuple(each for each in evidence if "elevations" not in each.what)
    return Converted(table=made, frame=frame, evidence=evidence)


def frame_candidates(
    points: Places,
    *,
    marks: Placed | None = None,
    near: Placed | None = None,
    epoch: float | None = None,
    shown: int = 12,
) -> FrameCandidates:
    """Rank the zones, feet, orders and datums that unlabelled coordinates may be in.

    Parameters
    ----------
    points : GeoDataFrame, GeoSeries, or (n, 2) or (n, 3) array
        Their first and second plan column, as they came; a system that is set is not looked at.
    marks : GeoDataFrame or GeoSeries, optional
        Control, in a system beyond doubt, on which rows of `points` with the same label in the index were measured.
    near : GeoDataFrame or GeoSeries, optional
        Points, in a system beyond doubt, somewhere about which `points` lie; the design, for example. It settles the
        zone and not the foot.
    epoch : float, optional
        Decimal year of the survey, for a global frame shown as NAD83; 2020.0 without.
    shown : int
        How many readings are handed back.

    Returns
    -------
    FrameCandidates

    Raises
    ------
    FrameError
        No row has both numbers; or `marks` or `near` is in no projected system.
    LayerError
        No label of `marks` is one of `points`, or one stands twice.

    Notes
    -----
    Bayes' rule over all readings, as `geoqa check` does it for a file without a frame
    (`geoqa.frames.readings.doubt`). Nothing is chosen silently: without known points hardly anything can be told.

    Examples
    --------
    >>> import geopandas, geoqa
    >>> marks = geopandas.GeoSeries.from_wkt(
    ...     ["POINT (2228515.752 445968.253)", "POINT (2229619.554 446161.130)"], crs="EPSG:6547")
    >>> found = geoqa.frame_candidates([[2228511.295, 445967.361], [2229615.095, 446160.238]], marks=marks)
    >>> found.settled["zone"], found.settled["unit"]
    ('North Dakota South', 'ftUS')
    """
    if isinstance(points, np.ndarray | list | tuple):
        places = array_of(points)
        index: pd.Index = pd.RangeIndex(len(places))
    else:
        series = series_of(points, what="points")
        places, index = places_of(series), series.index
    known = []
    if marks is not None:
        known.append(_known(series_of(marks, what="marks"), "marks", index))
    if near is not None:
        known.append(_known(series_of(near, what="near"), "near", None))
    found = doubt(places[:, 0], places[:, 1], references=known, epoch=epoch, shown=shown)
    names = ("code", "zone", "unit", "order", "datum", "probability", "longitude", "latitude", "misfit")
    readings = pd.DataFrame({name: [getattr(each, name) for each in found.readings] for name in names})
    return FrameCandidates(readings=readings, settled=dict(found.settled), recommendation=found.recommendation)


def combined_factor(points: Placed, *, ellipsoid_height: Lengths, unit: str | None = None) -> pd.Series:
    """Combined factor at points: grid distance over ground distance.

    Parameters
    ----------
    points : GeoDataFrame or GeoSeries
        In a projected system; their elevations are not used.
    ellipsoid_height : str, Length, or float, array or Series beside `unit`
        Height above the *ellipsoid*, not the elevation: the two differ by tens of metres.
    unit : {"m", "ft", "ftUS", "in", "cm", "mm"}, optional
        Unit of heights given as numbers.

    Returns
    -------
    Series
        Ratio, on the index of `points`, named ``combined_factor``; NaN where a place or a height is missing.

    Raises
    ------
    FrameError
        No projected system, or a projection whose scale depends on the direction.
    QuantityError
        Heights that are numbers without a unit.

    Notes
    -----
    Grid scale factor times R / (R + h), R the geometric mean of the radii of curvature, as NOAA Manual NOS NGS 5
    (Stem 1989) gives it. Ground distance is grid distance over the factor.

    Examples
    --------
    >>> import geopandas, geoqa
    >>> site = geopandas.GeoSeries.from_wkt(["POINT (2228000 444000)"], crs="EPSG:6547")
    >>> geoqa.combined_factor(site, ellipsoid_height="1360 ft").round(5).tolist()
    [0.99987]
    """
    series = series_of(points, what="points")
    frame = resolve(projected(series, what="points"))
    places = places_of(series)
    if isinstance(ellipsoid_height, str | Length):
        heights = beside(ellipsoid_height, series.index, name="ellipsoid_height", unit=frame.unit.name)
    elif unit is None:
        raise QuantityError(
            "ellipsoid_height holds numbers without a unit; state unit= (m, ft, ftUS, in, cm, mm), or write one height "
            'as text, for example "1360 ft".'
        )
    else:
        own = float(length_unit(unit).metres / frame.unit.metres)
        heights = beside(ellipsoid_height, series.index, name="ellipsoid_height", unit=unit) * own
    found = factors.combined_factor(frame, places[:, 0], places[:, 1], heights)
    return pd.Series(found, index=series.index, name="combined_factor")


def _target(to: Any) -> Frame:
    if not isinstance(to, str) and not hasattr(to, "to_wkt"):
        raise FrameError(f'to must be a system, such as "EPSG:6547", and is a {type(to).__name__}.')
    text = to if isinstance(to, str) else definition(to)
    plan, height = systems(text, "to")
    refuse_web_map(plan, what="to")
    if height is not None and linear_unit(height, what="to") != linear_unit(plan, what="to"):
        raise FrameError(
            f"to is {plan.name} in {linear_unit(plan, what='to').full_name} with {height.name} in "
            f"{linear_unit(height, what='to').full_name}; a table here has one unit. Name a vertical system in the "
            "unit of the plan, for example EPSG:8228 (ft), EPSG:6360 (ftUS) or EPSG:5703 (m)."
        )
    return resolve(text)


def _elevation_unit(points: geopandas.GeoSeries, stated: str | None) -> str | None:
    """Unit of the elevations by the word of the caller, where the system has no vertical part; None if it has."""
    height = systems(projected(points, what="points"))[1]
    own = None if height is None else linear_unit(height, what="points")
    if stated is not None and own is not None and length_unit(stated) != own:
        raise QuantityError(
            f"elevation_unit is {stated}, and the system of points says {own.name} ({height.name if height else ''}); "
            "leave elevation_unit out, or set the system that is right with points.set_crs(..., allow_override=True)."
        )
    if own is not None:
        return None
    if stated is None and bool(points.has_z.any()):
        raise QuantityError(
            "points have elevations, and nothing says their unit; state elevation_unit= (m, ft, ftUS, in, cm, mm), or "
            "take them off with points.force_2d()."
        )
    return stated


def _reshaped(shapes: np.ndarray, vertices: np.ndarray, row: np.ndarray) -> np.ndarray:
    """The same shapes through moved vertices; what was flat stays flat."""
    made = shapes.copy()
    elevated = shapely.has_z(shapes)
    for rows, width in ((~elevated, 2), (elevated, 3)):
        made[rows] = shapely.set_coordinates(shapes[rows].copy(), vertices[rows[row], :width])
    return made


def _known(places: geopandas.GeoSeries, what: str, index: pd.Index | None) -> Known:
    """Points beyond doubt; with an index, those of its rows that carry the same label."""
    frame = resolve(projected(places, what=what))
    coordinates = places_of(places, what=what)
    there = np.isfinite(coordinates).all(axis=1)
    row = None
    if index is not None:
        if not places.index.is_unique:
            raise LayerError(f"{what}: two of them have the same label; give each its own.")
        own = places.index.get_indexer(index)
        row = np.flatnonzero((own >= 0) & np.append(there, False)[own])
        if not len(row):
            raise LayerError(
                f"{what}: no label of theirs is one of points; points measured on a mark have its label in their "
                "index. For points somewhere about, use near=."
            )
        coordinates = coordinates[own[row]]
    else:
        coordinates = coordinates[there]
    return Known(what=what, frame=frame, easting=coordinates[:, 0], northing=coordinates[:, 1], row=row)
