"""Small sound files, one of every role in every format that it is read from."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bench import landxml as xml
from geoqa import plugins

EAST, NORTH = 2231000.0, 445000.0


@dataclass(frozen=True, kw_only=True)
class Seed:
    """A sound file.

    Attributes
    ----------
    name : str
        ``role.suffix``, as the reader is named.
    rows : tuple of tuple of str
        Header and rows, where it is a table.
    one_to_one : bool
        Whether each row of it is one row of the table that is read.
    files : mapping of str to bytes
        Suffix and content of each file, where it is none; the first is the one that is named.
    options : mapping
        What a job would state for it.
    """

    name: str
    rows: tuple[tuple[str, ...], ...] = ()
    one_to_one: bool = False
    files: Mapping[str, bytes] = field(default_factory=dict)
    options: Mapping[str, Any] = field(default_factory=dict)

    @property
    def suffix(self) -> str:
        """The end of its name."""
        return self.name.split(".")[1]

    def reader(self) -> Any:
        """The reader that a job would take."""
        return plugins.load("readers", self.name)(**self.options)


def _shots() -> tuple[tuple[str, ...], ...]:
    head = ("point", "easting", "northing", "elevation", "code", "note", "time", "session", "pdop", "rod_height")
    rows = [
        (
            f"{100 + n:03d}",
            f"{EAST + 7.31 * n:.3f}",
            f"{NORTH + 3.07 * n:.3f}",
            f"{1458.25 + 0.013 * n:.3f}",
            ("CTB", "CFL", "WKF", "VLV")[n % 4],
            ("", "wet", "beside wall")[n % 3],
            f"2026-03-14T14:{n:02d}:22Z",
            "AB"[n // 7],
            f"1.{n % 9}",
            "6.562",
        )
        for n in range(14)
    ]
    return (head, *rows)


def _control() -> tuple[tuple[str, ...], ...]:
    head = ("mark", "easting", "northing", "elevation", "u_h", "u_v", "held", "reference")
    return (
        head,
        *(
            (
                f"CP-{n}",
                f"{EAST + 91.7 * n:.3f}",
                f"{NORTH + 55.2 * n:.3f}",
                f"{1450.5 + n:.3f}",
                "0.010",
                "0.015",
                ("yes", "no")[n % 2],
                f"sheet {n}",
            )
            for n in range(1, 8)
        ),
    )


def _design() -> tuple[tuple[str, ...], ...]:
    head = ("line", "point", "kind", "vertex", "easting", "northing", "elevation")
    rows = [
        (
            f"L-{line}",
            "",
            ("curb-top", "walk-front")[line],
            str(n),
            f"{EAST + 20.5 * n:.3f}",
            f"{NORTH + 8.0 * line + n:.3f}",
            f"{1458.5 - 0.02 * n:.3f}",
        )
        for line in range(2)
        for n in range(5)
    ]
    rows += [("", f"V-{n}", "valve", "", f"{EAST + 33.3 * n:.3f}", f"{NORTH + 21.1:.3f}", "1457.750") for n in (1, 2)]
    return (head, *rows)


_CODES = (
    ("code", "kind", "geometry", "role", "pairs_with", "meaning"),
    ("CTB", "curb-top", "line", "feature", "CFL", "top of curb"),
    ("CFL", "curb-flow", "line", "feature", "CTB", "flow line"),
    ("WKF", "walk-front", "line", "feature", "WKB", "front of walk"),
    ("WKB", "walk-back", "line", "feature", "WKF", "back of walk"),
    ("VLV", "valve", "point", "feature", "", "valve box"),
    ("CHK", "control", "point", "check", "", "check shot"),
)
_LEVELS = (
    ("point", "backsight", "intermediate", "foresight", "distance"),
    ("BM-1", "5.120", "", "", ""),
    ("101", "", "4.310", "", ""),
    ("TP-1", "6.470", "", "3.905", "210.5"),
    ("102", "", "4.875", "", ""),
    ("TP-2", "4.805", "", "5.255", "198.0"),
    ("BM-2", "", "", "6.115", "205.5"),
)
_READINGS = (
    ("place", "value", "u", "length"),
    ("101", "1.8 %", "0.1 %", "2 ft"),
    ("102", "2.3 %", "0.1 %", "2 ft"),
    ("103", "1:48", "0.1 %", "4 ft"),
    ("104", "1.95 %", "", ""),
    ("105", "2.05 %", "0.2 %", "2 ft"),
)
_STRUCTURES = (
    ("structure", "rim_shot", "pipe", "direction", "measure_down", "size", "material"),
    ("MH-1", "101", "P-1", "out", "8.31", "8 in", "PVC"),
    ("MH-2", "102", "P-1", "in", "9.02", "8 in", "PVC"),
    ("MH-2", "102", "P-2", "out", "9.12", "10 in", "PVC"),
    ("MH-3", "103", "P-2", "in", "10.40", "9.5 in", "PVC"),
    ("CB-1", "104", "P-3", "out", "4.25", "12 in", "RCP"),
)
_SCREENING = (
    ("kind", "field", "worst", "action", "reference"),
    ("*", "pdop", "4", "warn", "sheet 2"),
    ("*", "satellites", "6", "reject", "sheet 2"),
    ("curb-top", "reported_v", "0.06", "warn", "sheet 3"),
    ("*", "solution", "fixed", "reject", "sheet 2"),
)
_POLICY = (
    ("rule", "limit", "action", "reference"),
    ("opening", "15 min", "warn", "sheet 2"),
    ("closing", "15 min", "warn", "sheet 2"),
    ("interval", "2 h", "reject", "sheet 2"),
    ("marks", "2", "warn", "sheet 2"),
)
_BASELINE = (
    ("pi", "easting", "northing", "radius", "station"),
    ("BOP", "2231000.000", "445000.000", "", "10+00"),
    ("PI-1", "2231400.000", "445050.000", "500", ""),
    ("PI-2", "2231800.000", "445300.000", "600", ""),
    ("EOP", "2232300.000", "445350.000", "", ""),
)
_PROFILE = (
    ("station", "elevation", "curve"),
    ("10+00", "1458.50", ""),
    ("13+00", "1455.20", "200"),
    ("18+00", "1461.80", "150"),
    ("23+00", "1460.10", ""),
)
_SECTION = (
    ("line", "kind", "from", "to", "after", "width", "slope", "rise"),
    ("CFL", "curb-flow", "10+00", "23+00", "", "15.0", "-2 %", ""),
    ("CTB", "curb-top", "10+00", "23+00", "CFL", "0.5", "", "0.5"),
    ("WKF", "walk-front", "10+00", "18+00", "CTB", "4.0", "2 %", ""),
    ("WKB", "walk-back", "10+00", "18+00", "WKF", "5.0", "1.5 %", ""),
)
TABLES: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "shots": _shots(),
    "control": _control(),
    "codes": _CODES,
    "design": _design(),
    "levels": _LEVELS,
    "readings": _READINGS,
    "structures": _STRUCTURES,
    "screening": _SCREENING,
    "check_policy": _POLICY,
    "baseline": _BASELINE,
    "profile": _PROFILE,
    "section": _SECTION,
}
WOVEN = frozenset({"design", "baseline", "profile", "section", "levels"})
"""Roles in which a row rests on those before it, so that one may not simply be gone."""
TEXTS = (
    *("shots.csv", "shots.txt", "shots.tab", "control.csv", "codes.csv", "design.csv", "design.txt", "levels.csv"),
    *("readings.csv", "structures.csv", "screening.csv", "check_policy.csv", "baseline.csv", "profile.csv"),
    "section.csv",
)
BOOKS = ("shots.xlsx", "control.xlsx", "codes.xlsx", "design.xlsx", "levels.xlsx", "readings.xlsx")
VECTORS = (
    "design.geojson",
    "design.gpkg",
    "design.shp",
    "right_of_way.geojson",
    "right_of_way.gpkg",
    "right_of_way.shp",
)
DRAWINGS = ("design.dxf", "baseline.dxf")
XMLS = ("design.xml", "shots.xml", "control.xml", "baseline.xml")
PICTURES = ("design.tif", "background.tif", "background.png", "background.jpg", "photo.jpg", "photo.png")
EVERY = (*TEXTS, *BOOKS, *VECTORS, *DRAWINGS, *XMLS, *PICTURES)


def _frame(role: str) -> Any:
    import geopandas
    import shapely

    if role == "right_of_way":
        ring = [(0, 0), (900, 10), (905, 80), (0, 70)]
        shapes = [shapely.Polygon([(EAST + x, NORTH + y) for x, y in ring])]
        return geopandas.GeoDataFrame({"name": ["strip"], "kind": ["right-of-way"]}, geometry=shapes, crs="EPSG:6547")
    shapes = [
        shapely.LineString(
            [(EAST + 9.0 * n, NORTH + 5, 900), (EAST + 9.0 * n, NORTH + 70, 901), (EAST + 9 * n + 4, NORTH + 90, 902)]
        )
        for n in range(4)
    ]
    return geopandas.GeoDataFrame({"name": list("abcd"), "kind": ["curb-top"] * 4}, geometry=shapes, crs="EPSG:6547")


def _vector(name: str, folder: Path) -> Seed:
    role, suffix = name.split(".")
    _frame(role).to_file(folder / f"a.{suffix}", **({"layer": "lines"} if suffix == "gpkg" else {}))
    parts = ("shp", "shx", "dbf", "prj", "cpg") if suffix == "shp" else (suffix,)
    return Seed(name=name, files={part: (folder / f"a.{part}").read_bytes() for part in parts})


def _drawing(name: str, folder: Path) -> Seed:
    import ezdxf

    document = ezdxf.new("R12" if name == "design.dxf" else "R2010")
    document.header["$INSUNITS"] = 2
    space = document.modelspace()
    if name == "baseline.dxf":
        turn, chord = math.radians(20.0), 200.0  # to the left
        arc = (EAST + 300, NORTH)
        bend = (arc[0] + chord * math.cos(turn / 2), arc[1] + chord * math.sin(turn / 2))
        end = (bend[0] + 400 * math.cos(turn), bend[1] + 400 * math.sin(turn))
        places = [(EAST, NORTH, 0), (*arc, math.tan(turn / 4)), (*bend, 0), (*end, 0)]
        space.add_lwpolyline(places, format="xyb", dxfattribs={"layer": "CENTRE"})
        options: dict[str, Any] = {"layer": "CENTRE", "start": "10+00"}
    else:
        document.blocks.new("HYD").add_attdef("NAME", (0, 0))
        space.add_line((EAST, NORTH, 9), (EAST + 40, NORTH + 50, 9), dxfattribs={"layer": "A"})
        space.add_polyline2d(
            [(EAST, NORTH, 0.3), (EAST + 40, NORTH, 0), (EAST + 60, NORTH + 9, 0)],
            format="xyb",
            dxfattribs={"layer": "B"},
        )
        space.add_polyline3d(
            [(EAST, NORTH, 1), (EAST + 9, NORTH + 9, 2), (EAST + 30, NORTH + 9, 3)], dxfattribs={"layer": "C"}
        )
        space.add_blockref("HYD", (EAST + 4, NORTH + 4, 1), dxfattribs={"layer": "E"}).add_auto_attribs({"NAME": "H-1"})
        options = {"layers": {"A": "curb-top", "B": "curb-top", "C": "walk-front", "E": "hydrant", "*": ""}}
    document.saveas(folder / "a.dxf")
    return Seed(name=name, files={"dxf": (folder / "a.dxf").read_bytes()}, options=options)


def _landxml(name: str) -> Seed:
    walk = xml.Walk(EAST, NORTH, 0.7).line(250.0).spiral(150.0, math.inf, 400.0, 1).curve(400.0, 0.6, 1)
    points = xml.cg_points(
        *(xml.cg_point(f"P{n}", (EAST + 7.5 * n, NORTH + n, 900.5 + n), code="valve") for n in range(6))
    )
    chain = xml.plan_feature("X", xml.chain([(EAST, NORTH, 1), (EAST + 5, NORTH + 5, 2), (EAST + 9, NORTH + 9, 3)]))
    tin = xml.surface(
        "EG",
        [(EAST, NORTH, 1), (EAST + 9, NORTH, 1), (EAST, NORTH + 9, 1), (EAST + 9, NORTH + 9, 2)],
        [(1, 2, 3), (2, 4, 3)],
    )
    rows = "<PVI>1000 50</PVI>", '<ParaCurve length="100">1300 48</ParaCurve>', "<PVI>1600 47</PVI>"
    parts = {
        "design.xml": (xml.plan_features(xml.plan_feature("W", walk.geometry()), chain), xml.surfaces(tin)),
        "baseline.xml": (xml.alignment("CL", walk, xml.profile(*rows)),),
    }.get(name, (points,))
    options = {"kinds": {"*": "curb-top"}, "surfaces": ("EG",)} if name == "design.xml" else {}
    return Seed(name=name, files={"xml": xml.document(*parts).encode()}, options=options)


def _picture(name: str, folder: Path) -> Seed:
    import numpy as np
    import rasterio

    role, suffix = name.split(".")
    tif = suffix == "tif"
    row, column = np.mgrid[:24, :30]
    if role == "design":
        bands, kind = (900 + 0.01 * row + 0.02 * column)[None].astype("float64"), "float64"
    else:
        bands, kind = np.stack([(row * 7 + column * k) % 255 for k in (3, 5, 11)]).astype("uint8"), "uint8"
    place = rasterio.Affine(10, 0, EAST, 0, -10, NORTH + 240)
    driver = {"tif": "GTiff", "png": "PNG", "jpg": "JPEG"}[suffix]
    path = folder / f"a.{suffix}"
    placed = {"crs": "EPSG:6547", "transform": place} if tif else {}
    with rasterio.open(path, "w", driver=driver, height=24, width=30, count=len(bands), dtype=kind, **placed) as out:
        out.write(bands)
    files = {suffix: path.read_bytes()}
    if role == "background" and not tif:
        world = {"png": "pgw", "jpg": "jgw"}[suffix]
        files[world] = f"10.0\n0.0\n0.0\n-10.0\n{EAST + 5}\n{NORTH + 235}\n".encode()
    return Seed(name=name, files=files)


def seed(name: str, folder: Path) -> Seed:
    """The sound file of a reader; `folder` is where it may be made."""
    role = name.split(".")[0]
    if name in TEXTS or name in BOOKS:
        return Seed(name=name, rows=TABLES[role], one_to_one=role not in WOVEN)
    makers: Mapping[tuple[str, ...], Callable[[], Seed]] = {
        VECTORS: lambda: _vector(name, folder),
        DRAWINGS: lambda: _drawing(name, folder),
        XMLS: lambda: _landxml(name),
        PICTURES: lambda: _picture(name, folder),
    }
    return next(make for names, make in makers.items() if name in names)()
