"""What the map draws as lines and areas: design lines, bands, runs and gaps."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from geoqa.model.quantity import FOOT
from geoqa.model.tables.layer import Layers
from geoqa.present.map.pack import Packer
from geoqa.present.map.rounding import whole, whole_stations

if TYPE_CHECKING:
    import pandas as pd


SAGITTA_FT = 0.02
"""A drawn chord stays within this of its arc, in feet."""


class Canvas:
    """Where coordinates become whole numbers: the packer, the local origin and the decimals."""

    def __init__(self, packer: Packer, origin: tuple[float, float], digits: int) -> None:
        self.packer = packer
        self.origin = origin
        self.digits = digits

    def whole(self, easting: ArrayLike, northing: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
        """Round grid coordinates as they are printed, then count from the origin."""
        east = whole(easting, self.digits) - whole([self.origin[0]], self.digits)[0]
        north = whole(northing, self.digits) - whole([self.origin[1]], self.digits)[0]
        return east, north


def drawn_elements(elements: "pd.DataFrame", *, chord: float) -> dict[str, np.ndarray]:
    """Vertices of design elements, arcs as chords within `chord` of the arc.

    Parameters
    ----------
    elements : DataFrame
        Table `design_elements`.
    chord : float
        Largest distance between chord and arc, in the job's unit.

    Returns
    -------
    dict of str to ndarray
        ``easting``, ``northing`` and ``station`` of every vertex (job's unit), ``line`` its name, and
        ``part``, which counts up wherever the drawing starts anew.
    """
    table = elements.sort_values(["line", "sequence"], kind="stable").reset_index(drop=True)
    east, north = table["start_easting"].to_numpy(float), table["start_northing"].to_numpy(float)
    end_east, end_north = table["end_easting"].to_numpy(float), table["end_northing"].to_numpy(float)
    length, station = table["length"].to_numpy(float), table["start_station"].to_numpy(float)
    line = table["line"].to_numpy(object)
    arc = (table["shape"] == "arc").to_numpy() & (table["radius"].to_numpy(float) > chord)
    pieces = np.ones(len(table), dtype=np.int64)
    radius = np.where(arc, table["radius"].to_numpy(float), 1.0)
    pieces[arc] = np.maximum(1, np.ceil(length[arc] / radius[arc] / (2 * np.arccos(1 - chord / radius[arc]))))
    apart = np.hypot(east[1:] - end_east[:-1], north[1:] - end_north[:-1]) > chord
    last = np.append((line[1:] != line[:-1]) | apart, True) if len(table) else np.zeros(0, dtype=bool)
    owner = np.repeat(np.arange(len(table)), pieces + last)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(pieces + last) - (pieces + last), pieces + last)
    share = step / pieces[owner]
    x = east[owner] + share * (end_east - east)[owner]
    y = north[owner] + share * (end_north - north)[owner]
    turned = arc[owner] & (share > 0) & (share < 1)
    if turned.any():
        which = owner[turned]
        centre_east = table["centre_easting"].to_numpy(float)[which]
        centre_north = table["centre_northing"].to_numpy(float)[which]
        start = np.arctan2(north[which] - centre_north, east[which] - centre_east)
        turn = -table["sense"].to_numpy(float)[which] * share[turned] * length[which] / radius[which]
        x[turned] = centre_east + radius[which] * np.cos(start + turn)
        y[turned] = centre_north + radius[which] * np.sin(start + turn)
    part = (np.cumsum(last) - last)[owner]
    return {
        "easting": x,
        "northing": y,
        "station": station[owner] + share * length[owner],
        "line": line[owner],
        "part": part,
    }


def add_design(canvas: Canvas, layers: Layers) -> None:
    """Add design lines: from their elements where there are any, else as they were drawn."""
    chord = SAGITTA_FT * float(FOOT.metres / layers.frame.unit.metres)
    if "design_elements" in layers and len(layers["design_elements"]):
        drawn = drawn_elements(layers["design_elements"], chord=chord)
    else:
        drawn = _drawn_geometry(layers)
    starts = np.flatnonzero(np.diff(drawn["part"], prepend=-1)) if len(drawn["part"]) else np.zeros(0, dtype=int)
    names = drawn["line"][starts]
    kinds = dict(zip(layers["design_lines"]["line"], layers["design_lines"]["kind"], strict=True))
    table = canvas.packer.table("lines", len(starts))
    table.texts("line", names)
    table.texts("kind", [kinds.get(name) for name in names])
    table.numbers("count", np.diff(np.append(starts, len(drawn["part"]))))
    points = canvas.packer.table("lines.points", len(drawn["part"]))
    east, north = canvas.whole(drawn["easting"], drawn["northing"])
    points.numbers("easting", east, delta=True)
    points.numbers("northing", north, delta=True)
    points.numbers("station", whole_stations(drawn["station"]), delta=True)


def _drawn_geometry(layers: Layers) -> dict[str, np.ndarray]:
    import shapely

    table = layers["design_lines"]
    if "geometry" not in table.columns or len(table) == 0:
        empty = np.zeros(0)
        return {"easting": empty, "northing": empty, "station": empty, "line": empty.astype(object), "part": empty}
    parts, owner = shapely.get_parts(np.asarray(table["geometry"], dtype=object), return_index=True)
    coordinates, part = shapely.get_coordinates(parts, return_index=True)
    return {
        "easting": coordinates[:, 0],
        "northing": coordinates[:, 1],
        "station": np.full(len(part), np.nan),
        "line": table["line"].to_numpy(object)[owner[part]],
        "part": part,
    }


def add_shapes(canvas: Canvas, name: str, geometry: ArrayLike) -> np.ndarray:
    """Add lines or areas of a layer as paths; an area is its rings.

    Parameters
    ----------
    geometry : array_like of shapely geometries, shape (n,)

    Returns
    -------
    ndarray of bool, shape (n,)
        Rows that have something to draw.
    """
    import shapely

    shapes = np.asarray(geometry, dtype=object)
    parts, owner = shapely.get_parts(shapes, return_index=True)
    areas = shapely.get_type_id(parts) == 3
    rings, inside = shapely.get_rings(parts[areas], return_index=True)
    paths = np.concatenate([parts[~areas], rings])
    owners = np.concatenate([owner[~areas], owner[areas][inside]])
    order = np.argsort(owners, kind="stable")
    paths, owners = paths[order], owners[order]
    coordinates, _ = shapely.get_coordinates(paths, return_index=True)
    table = canvas.packer.table(f"{name}.paths", len(paths))
    table.numbers("owner", owners, delta=True)
    table.numbers("count", shapely.get_num_coordinates(paths))
    points = canvas.packer.table(f"{name}.points", len(coordinates))
    east, north = canvas.whole(coordinates[:, 0], coordinates[:, 1])
    points.numbers("easting", east, delta=True)
    points.numbers("northing", north, delta=True)
    drawn = np.zeros(len(shapes), dtype=bool)
    drawn[owners] = True
    return drawn


def add_asbuilt(canvas: Canvas, members: "pd.DataFrame", shots: "pd.DataFrame") -> None:
    """Add the lines that the shots made: of each how many shots it goes through, and which.

    Parameters
    ----------
    members : DataFrame
        Table `asbuilt_members`.
    shots : DataFrame
        As they are packed.
    """
    import pandas as pd

    members = members.sort_values(["line", "sequence"], kind="stable")
    row = np.asarray(pd.Index(shots["shot_key"]).get_indexer(pd.Index(members["shot_key"])))
    lines, there = members["line"].to_numpy(object)[row >= 0], row[row >= 0]
    names, counts = np.unique(lines.astype(str), return_counts=True)
    table = canvas.packer.table("asbuilt", len(names))
    table.numbers("count", counts)
    points = canvas.packer.table("asbuilt.points", len(there))
    points.numbers("shot", there, delta=True)
