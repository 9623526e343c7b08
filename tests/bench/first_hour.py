"""A stranger's folder: four shapes of shots, a drawing, a shapefile and a list of marks, with planted defects."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import ezdxf
import geopandas as gpd
import numpy as np
from shapely import LineString

LONG = 400.0
"""Feet of street."""
SIGMA = 0.012
"""Feet, of a shot, each axis."""


@dataclass(frozen=True, kw_only=True)
class Zone:
    """Where the site lies: its system, whether in US survey feet, and its first corner."""

    code: str
    us: bool
    east: float
    north: float
    azimuth: float


ZONES = (
    Zone(code="EPSG:6559", us=False, east=8_212_400.0, north=651_300.0, azimuth=0.4),
    Zone(code="EPSG:6541", us=True, east=1_148_200.0, north=1_022_700.0, azimuth=2.1),
    Zone(code="EPSG:6405", us=False, east=611_900.0, north=1_103_800.0, azimuth=4.9),
)


@dataclass(frozen=True, kw_only=True)
class Planted:
    """One defect: the kind it is of, in words of the draft, and where along the street."""

    what: str
    kind: str
    station: float


@dataclass(frozen=True, kw_only=True)
class Stranger:
    """The folder, how many rows of shots it holds, and what is wrong with the work."""

    folder: Path
    shots: int
    planted: tuple[Planted, ...]


LINES = {  # the drafter's word, and offset from the middle of the street
    ("drawing", "ST-KERBTOP"): (-18.0, 18.0),
    ("drawing", "ST-CHANNEL"): (-17.5, 17.5),
    ("shape", "walk front"): (-24.0, 24.0),
    ("shape", "walk back"): (-29.0, 29.0),
}
CODES = {"ST-KERBTOP": "KT", "ST-CHANNEL": "CH", "walk front": "SWF", "walk back": "SWB"}
POINTS = {"FIREPLUG": ("HY", ((60.0, -21.0), (330.0, 21.0))), "STOPTAP": ("WV", ((100.0, -20.0), (210.0, 20.0)))}
MARKS = {"CP101": (-15.0, 40.0), "CP102": (200.0, -45.0), "CP103": (412.0, 38.0)}


class Site:
    """The street: where things are, how high, and a shot of them."""

    def __init__(self, zone: Zone, seed: int) -> None:
        self.zone, self.random = zone, np.random.default_rng(seed)

    def place(self, station: float, offset: float) -> tuple[float, float]:
        along = np.array([np.sin(self.zone.azimuth), np.cos(self.zone.azimuth)])
        across = np.array([along[1], -along[0]])
        east, north = np.array([self.zone.east, self.zone.north]) + station * along + offset * across
        return float(east), float(north)

    def level(self, station: float, offset: float) -> float:
        return 812.0 + 0.006 * station - 0.02 * abs(offset)

    def shot(self, station: float, offset: float, *, high: float = 0.0) -> tuple[float, float, float]:
        noise = self.random.normal(0.0, SIGMA, 3)
        east, north = self.place(station, offset)
        return east + noise[0], north + noise[1], self.level(station, offset) + noise[2] + high


def write_folder(folder: Path, zone: Zone, *, seed: int = 1) -> Stranger:
    """Write the files of a stranger, and say what was planted."""
    site = Site(zone, seed)
    _drawing(folder / "street plan.dxf", site)
    _shapes(folder / "walks.shp", site)
    _marks(folder / "marks.csv", site)
    counts = [_headerless(folder / "crew1.txt", site), _tabbed(folder / "walk left.txt", site)]
    counts += [_one_field(folder / "walk right.csv", site), _other_words(folder / "misc.csv", site)]
    planted = (
        Planted(what="five shots of channel low by 0.30", kind="ST-CHANNEL", station=240.0),
        Planted(what="a hydrant 1.20 off", kind="FIREPLUG", station=330.0),
        Planted(what="walk back not built", kind="walk back", station=165.0),
    )
    return Stranger(folder=folder, shots=sum(counts), planted=planted)


def _drawing(path: Path, site: Site) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 2
    space = document.modelspace()
    for (where, word), offsets in LINES.items():
        for offset in offsets if where == "drawing" else ():
            stations = np.arange(0.0, LONG + 1, 50.0)
            rows = [(*site.place(each, offset), site.level(each, offset)) for each in stations]
            space.add_polyline3d(rows, dxfattribs={"layer": word})
    for block, (_, places) in POINTS.items():
        document.blocks.new(block).add_circle((0, 0), 1.0)
        for station, offset in places:
            where = (*site.place(station, offset), site.level(station, offset))
            space.add_blockref(block, where, dxfattribs={"layer": "W-FITTINGS"})
    space.add_text("STREET PLAN SHEET 3", dxfattribs={"layer": "NOTES"}).set_placement(site.place(0.0, 60.0))
    document.saveas(path)


def _shapes(path: Path, site: Site) -> None:
    rows = []
    for (where, word), offsets in LINES.items():
        for offset in offsets if where == "shape" else ():
            side = "LT" if offset < 0 else "RT"
            places = [(*site.place(each, offset), site.level(each, offset)) for each in np.arange(0.0, LONG + 1, 50.0)]
            rows.append({"FEATURE": f"{word} {side}", "DRAWNBY": "office", "geometry": LineString(places)})
    gpd.GeoDataFrame(rows, crs=site.zone.code).to_file(path)


def _marks(path: Path, site: Site) -> None:
    rows = [(name, *site.place(*at), site.level(*at)) for name, at in MARKS.items()]
    lines = [f"{name},{north:.3f},{east:.3f},{level:.3f}" for name, east, north, level in rows]
    path.write_text("\n".join(["Name,North,East,Elev", *lines]) + "\n", encoding="utf-8")


def _rows(site: Site, word: str, offset: float, *, skip: tuple[float, float] = (0, 0), low: float = 0.0) -> list[tuple]:
    rows = []
    for station in np.arange(0.0, LONG + 1, 20.0):
        if not skip[0] < station < skip[1]:
            high = -low if 200.0 <= station <= 280.0 else 0.0
            rows.append((CODES[word], *site.shot(station, offset, high=high)))
    return rows


def _headerless(path: Path, site: Site) -> int:
    """P, N, E, Z, D: kerb and channel of both sides."""
    rows = [each for offset in (-18.0, 18.0) for each in _rows(site, "ST-KERBTOP", offset)]
    rows += _rows(site, "ST-CHANNEL", -17.5) + _rows(site, "ST-CHANNEL", 17.5, low=0.30)
    lines = [f"{at},{n:.3f},{e:.3f},{z:.3f},{code}" for at, (code, e, n, z) in enumerate(rows, start=1000)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(rows)


def _tabbed(path: Path, site: Site) -> int:
    """A tab file with a header, whose descriptions hold numbers."""
    rows = _rows(site, "walk front", -24.0) + _rows(site, "walk back", -29.0, skip=(110.0, 220.0))
    note = ("", " 12 cracked", " 12", " 3 root")
    lines = ["Pt\tNorth (ft)\tEast (ft)\tElev (ft)\tDescription"]
    lines += [
        f"{at}\t{n:.3f}\t{e:.3f}\t{z:.3f}\t{code}{note[at % 4]}" for at, (code, e, n, z) in enumerate(rows, start=2000)
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(rows)


def _one_field(path: Path, site: Site) -> int:
    """Code, line number and note in one field."""
    rows = _rows(site, "walk front", 24.0) + _rows(site, "walk back", 29.0)
    note = ("2", "2 end panel 14", "2", "2 cracked")
    lines = ["Point,Northing,Easting,Elevation,Desc"]
    lines += [f"{at},{n:.3f},{e:.3f},{z:.3f},{code}{note[at % 4]}" for at, (code, e, n, z) in enumerate(rows, 3000)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(rows)


def _other_words(path: Path, site: Site) -> int:
    """A header with other words, with check shots that name their mark in the description."""
    rows = []
    for code, places in POINTS.values():
        for station, offset in places:
            off = 1.2 if (code, station) == ("HY", 330.0) else 0.0
            rows.append((code, *site.shot(station + off, offset)))
    for name, at in MARKS.items():
        rows += [(f"CK {name}", *site.shot(*at)) for _ in range(2)]
    lines = ["Point Name,Northing,Easting,Ortho Height,Feature Code,Local Time"]
    lines += [
        f"{at},{n:.3f},{e:.3f},{z:.3f},{code},2026-04-0{1 + at % 2}T{9 + at % 8:02d}:15:00Z"
        for at, (code, e, n, z) in enumerate(rows, start=4000)
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(rows)


LIMITS = {"line": ("0.15", "0.10", "30"), "point": ("0.30", "0.20")}
"""What the stranger's contract asks for: in plan, in elevation, and the longest reach without a shot."""


def edited(draft: str, answers: Mapping[str, str] = MappingProxyType({})) -> tuple[str, int]:
    """A stranger's answers, and how many lines of the draft they changed.

    `answers` are those that no comment proposes, by their key. A line that asks for what its comment proposes takes the
    proposal; a commented line of kinds or of a tolerance loses its # and gets its numbers.
    """
    lines, edits = draft.splitlines(), 0
    for at, line in enumerate(lines):
        new = line
        if '"REQUIRED"' in line and (proposed := re.search(r'# "([^"]+)"\?', line)):
            new = line.replace("REQUIRED", proposed[1], 1)
        elif '"REQUIRED"' in line and (key := line.partition(" ")[0]) in answers:
            new = line.replace("REQUIRED", answers[key], 1)
        elif re.match(r"# (layers|blocks|values|kinds) = ", line):
            new = line.removeprefix("# ")
        elif re.match(r"# walk += \{ cross_slope", line):
            new = line.removeprefix("# ").replace("drawing and note, or clause", "contract, section 7")
            for number in ("2", "5", "4"):
                new = new.replace("…", number, 1)
        elif re.match(r"# (\"[\w, -]+\"|[\w-]+) += \{ horizontal = ", line) and not line.startswith("# control"):
            new = line.removeprefix("# ").replace("drawing and note, or clause", "contract, section 4")
            for number in LIMITS["line" if "spacing" in line else "point"]:
                new = new.replace("…", number, 1)
        edits += new != line
        lines[at] = new
    return "\n".join(lines) + "\n", edits
