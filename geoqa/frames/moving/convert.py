"""Every table of a file into the job's frame: the door between reading and judging.

Eastings and northings are moved, elevations and lengths are scaled by the units that were
declared, and nothing else is touched. A change of projection is never asked to carry elevations:
the coordinate engine lets them through unscaled where a system has no vertical part.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.moving.declared import FileFrame, settle
from geoqa.frames.moving.geoid import GeoidGrid
from geoqa.frames.moving.movement import Movement, movement
from geoqa.frames.systems.area import check_area
from geoqa.frames.systems.projection import same_datum
from geoqa.model.frame import Frame
from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Evidence, Source
from geoqa.model.tables.columns import COORDINATES, TABLES, lengths_of

if TYPE_CHECKING:
    import pandas as pd

ACCURACY_LIMIT = 0.05
"""Metres: the worst stated accuracy of a datum operation taken unless the job sets another limit."""
TOLERATED_OUTSIDE = 0.5
"""Share of a table's positions outside the area of use from which it is the file, not a row, that is wrong."""
BASELINE = "baseline"
ALONG = ("start_station", "length", "radius")
"""Lengths of design elements that lie in the plane, so that ground to grid scales them too."""


def convert(
    source: Source,
    *,
    frame: Frame,
    declared: str | None = None,
    unit: LengthUnit | None = None,
    vertical: LengthUnit | str | None = None,
    heights: Literal["orthometric", "ellipsoid"] = "orthometric",
    geoid: GeoidGrid | None = None,
    ground: bool = False,
    epoch: float | None = None,
    accuracy_limit: float | None = ACCURACY_LIMIT,
    accept: bool = False,
    accept_operation: bool = False,
    what: str = "file",
) -> "tuple[dict[str, pd.DataFrame], tuple[Evidence, ...]]":
    """Bring everything a reader read into the job's frame.

    Parameters
    ----------
    source : Source
        Tables in the file's own unit, and what the file says of itself.
    frame : Frame
        The job's.
    declared : str, optional
        Coordinate system the job declares for this file, code or WKT, compound allowed.
    unit : LengthUnit, optional
        Unit the job declares for this file.
    vertical : LengthUnit or str, optional
        Unit of the elevations, by itself or by its name (``ft``), or their vertical system.
    heights : {"orthometric", "ellipsoid"}
        What the elevation column holds; ellipsoid heights need `geoid`.
    geoid : GeoidGrid, optional
    ground : bool
        Coordinates are on the ground, about the frame's ground origin.
    epoch : float, optional
        Decimal year of the file's coordinates; the frame's if not given.
    accuracy_limit : float, optional
        Worst stated accuracy of a datum operation that is taken, metres.
    accept : bool
        The job's word stands where the file contradicts it.
    accept_operation : bool
        Take the best operation that is there although a better one is known.
    what : str
        Which file, for messages.

    Returns
    -------
    layers : dict of table name to DataFrame
        In the job's frame and unit; a `geometry` column of design lines holds plain 2D shapes.
    evidence : tuple of Evidence
        What was assumed, accepted, scaled and moved.

    Raises
    ------
    FrameError
        The job and the file contradict each other; there is no operation that may be taken; most
        positions of a table lie outside the area of use; arcs would not stay arcs; or ellipsoid
        heights come without a geoid grid.

    Examples
    --------
    >>> import pandas as pd
    >>> from geoqa.frames.systems.resolve import resolve
    >>> from geoqa.model.quantity import METRE
    >>> points = pd.DataFrame({"easting": [679094.4], "northing": [135331.2], "elevation": [444.09]})
    >>> layers, evidence = convert(Source(layers={"shots": points}), frame=resolve("EPSG:6547"), unit=METRE)
    >>> layers["shots"].loc[0, "easting"].round(3), layers["shots"].loc[0, "elevation"].round(3)
    (np.float64(2228000.0), np.float64(1456.988))
    """
    if not _placed(source):
        return dict(source.layers), ()
    file = settle(
        source,
        frame=frame,
        what=what,
        declared=declared,
        unit=unit,
        vertical=vertical,
        ellipsoid_heights=heights == "ellipsoid",
        accept=accept,
    )
    layers, moved = carry(
        source,
        file,
        frame=frame,
        heights=heights,
        geoid=geoid,
        ground=ground,
        epoch=epoch,
        accuracy_limit=accuracy_limit,
        accept_operation=accept_operation,
        what=what,
    )
    return layers, (*file.evidence, *moved)


def carry(
    source: Source,
    file: FileFrame,
    *,
    frame: Frame,
    heights: Literal["orthometric", "ellipsoid"] = "orthometric",
    geoid: GeoidGrid | None = None,
    ground: bool = False,
    epoch: float | None = None,
    accuracy_limit: float | None = ACCURACY_LIMIT,
    accept_operation: bool = False,
    what: str = "file",
) -> "tuple[dict[str, pd.DataFrame], tuple[Evidence, ...]]":
    """Bring the tables of a file whose numbers are settled into the job's frame.

    Parameters
    ----------
    source : Source
    file : FileFrame
        What its numbers mean.
    frame, heights, geoid, ground, epoch, accuracy_limit, accept_operation, what
        As in `convert`.

    Returns
    -------
    layers : dict of table name to DataFrame
    evidence : tuple of Evidence
        What was scaled and moved.

    Raises
    ------
    FrameError
        As in `convert`, but for contradictions between job and file.
    """
    placed = _placed(source)
    ellipsoid = heights == "ellipsoid"
    easting, northing = _positions(placed)
    way = movement(
        file,
        frame,
        what=what,
        easting=easting,
        northing=northing,
        ground=ground,
        epoch=epoch,
        accuracy_limit=accuracy_limit,
        accept_second_best=accept_operation,
    )
    if ellipsoid:
        _check_heights(file, frame, geoid, what)
    evidence = [*way.evidence()]
    layers: dict[str, pd.DataFrame] = {}
    for name, table in source.layers.items():
        where = what if len(placed) == 1 else f"{what}, {name}"
        layers[name] = _table(name, table, way, geoid if ellipsoid else None, where)
        evidence += _area(name, layers[name], frame, where)
    if ellipsoid and geoid is not None:
        evidence.append(geoid.evidence())
    return layers, tuple(evidence)


def _placed(source: Source) -> "dict[str, pd.DataFrame]":
    """Tables of a file that lie somewhere."""
    return {name: table for name, table in source.layers.items() if name in COORDINATES or "geometry" in table}


def _table(name: str, table: "pd.DataFrame", way: Movement, geoid: GeoidGrid | None, what: str) -> "pd.DataFrame":
    if name not in TABLES or (name not in COORDINATES and "geometry" not in table and not lengths_of(name)):
        return table
    if name == "design_elements":
        _check_arcs(table, way, what)
    if name == BASELINE:
        _check_baseline(way, what)
    columns: dict[str, Any] = {}
    for east, north, up in COORDINATES.get(name, ()):
        if east not in table or north not in table:
            continue
        columns[east], columns[north] = way.positions(
            table[east].to_numpy(float), table[north].to_numpy(float), what=what
        )
        if up is not None and up in table:
            columns[up] = way.elevations(table[up].to_numpy(float))
            if geoid is not None:
                columns[up] = geoid.elevation(way.frame, columns[east], columns[north], columns[up])
    for column in lengths_of(name):
        if column in table:
            columns[column] = way.lengths(table[column].to_numpy(float), vertical=_is_vertical(column))
    if "tilt_azimuth" in table and not way.similar:
        turned = table["tilt_azimuth"].to_numpy(float) + way.turn(
            table["easting"], table["northing"], (columns["easting"], columns["northing"])
        )
        columns["tilt_azimuth"] = np.mod(turned, 360.0)
    if "geometry" in table:
        columns["geometry"] = _shapes(table["geometry"].to_numpy(), way, what)
    converted = table.assign(**columns)
    if name == BASELINE:
        return _on_grid(converted, way)
    return _along(converted, way) if name == "design_elements" else converted


def _shapes(shapes: np.ndarray, way: Movement, what: str) -> np.ndarray:
    import shapely

    def moved(pairs: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(way.positions(pairs[:, 0], pairs[:, 1], what=what))

    return shapely.transform(np.asarray(shapes, dtype=object), moved)


def _along(elements: "pd.DataFrame", way: Movement) -> "pd.DataFrame":
    """Keep lengths and stations true to the moved ends; each line keeps its first station."""
    if way.similar and not way.ground:
        return elements
    made: dict[str, Any] = {}
    ordered = elements.sort_values(["line", "sequence"], kind="stable")
    lines = ordered.groupby("line", sort=False)
    first = lines["start_station"].transform("first")
    if way.similar:
        factor = way.length_factor / float(way.scale)  # the unit is already changed
        made = {"length": ordered["length"] * factor, "radius": ordered["radius"] * factor}
        made["start_station"] = first + (ordered["start_station"] - first) * factor
    else:
        made["length"] = np.hypot(
            ordered["end_easting"] - ordered["start_easting"], ordered["end_northing"] - ordered["start_northing"]
        )
        so_far = made["length"].groupby(ordered["line"], sort=False).cumsum() - made["length"]
        made["start_station"] = first + so_far
    return elements.assign(**{name: values.reindex(elements.index) for name, values in made.items()})


def _check_arcs(elements: "pd.DataFrame", way: Movement, what: str) -> None:
    arcs = elements["shape"].eq("arc")
    if not way.similar and arcs.any():
        line = elements.loc[arcs, "line"].iloc[0]
        raise FrameError(
            f"{what}: {int(arcs.sum())} arcs (the first on line '{line}') would not stay arcs on the way from "
            f"{way.operation.source if way.operation else ''} to {way.frame.horizontal_name}; "
            "get the design in the job's own projection."
        )


def _check_baseline(way: Movement, what: str) -> None:
    if not way.similar:
        raise FrameError(
            f"{what}: a baseline would not keep its curves and stations on the way from "
            f"{way.operation.source if way.operation else 'its system'} to {way.frame.horizontal_name}; get it in the "
            "job's own projection."
        )


def _on_grid(baseline: "pd.DataFrame", way: Movement) -> "pd.DataFrame":
    """Lengths and radii of a baseline that was given on the ground; its stations stay those of the ground."""
    if not way.ground:
        return baseline
    factor = way.length_factor / float(way.scale)  # the unit is already changed
    return baseline.assign(**{name: baseline[name] * factor for name in ("length", "start_radius", "end_radius")})


def _check_heights(file: FileFrame, frame: Frame, geoid: GeoidGrid | None, what: str) -> None:
    if geoid is None:
        raise FrameError(
            f"{what}: ellipsoid heights need a geoid grid to become elevations; name the grid file in the job, "
            "or declare the heights as orthometric if they already are."
        )
    if frame.geoid is not None and frame.geoid != geoid.name:
        raise FrameError(f"{what}: the job's geoid is '{frame.geoid}', and the grid is '{geoid.name}'; use one name.")
    if not same_datum(file.system, frame):
        raise FrameError(
            f"{what}: ellipsoid heights stand on the datum of the file, which is not the job's; the height would be "
            "wrong by up to metres. Convert position and height together where the file comes from."
        )


def _area(name: str, table: "pd.DataFrame", frame: Frame, what: str) -> tuple[Evidence, ...]:
    if not COORDINATES.get(name):
        return ()
    east, north, _ = COORDINATES[name][0]
    if east not in table or north not in table:
        return ()
    return check_area(
        frame, table[east].to_numpy(float), table[north].to_numpy(float), what=what, tolerated=TOLERATED_OUTSIDE
    )


def _positions(tables: Mapping[str, "pd.DataFrame"]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Every position of every table, in the file's unit: they say where an operation is needed."""
    pairs = [
        table[[east, north]].to_numpy(float)
        for name, table in tables.items()
        for east, north, up in COORDINATES.get(name, ())
        if (up is not None or name == BASELINE) and east in table and north in table
    ]
    whole = np.concatenate(pairs) if pairs else np.empty((0, 2))
    return whole[:, 0], whole[:, 1]


def _is_vertical(column: str) -> bool:
    """Reported vertical precision, vertical uncertainty and rod height go with the elevations."""
    return "v" in column.split("_") or column in ("rod_height", "elevation", "rise")
