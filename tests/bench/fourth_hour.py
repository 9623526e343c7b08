"""A fourth stranger: all design in one LandXML file, a headerless log of code, line and note, a workbook of marks."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
import openpyxl

from bench.first_hour import SIGMA, Planted, Stranger, Zone

ZONES = (
    Zone(code="EPSG:6543", us=True, east=1_452_310.0, north=541_220.0, azimuth=math.radians(40)),
    Zone(code="EPSG:6561", us=False, east=4_921_900.0, north=651_300.0, azimuth=math.radians(112)),
)
FIRST, RADIUS, TURN, LAST = 180.0, 600.0, math.radians(20), 160.0
ARC = RADIUS * TURN
LONG = FIRST + ARC + LAST
PVI, RISE, FALL, PARABOLA = 250.0, 0.012, -0.008, 120.0
LINES = {
    "TBC LT": ("BC1", -18.0), "TBC RT": ("BC2", 18.0), "GUTTER FL LT": ("FL1", -17.5), "GUTTER FL RT": ("FL2", 17.5),
    "SW FRONT RT": ("SWF2", 23.0), "SW BACK RT": ("SWB2", 28.0),
}  # fmt: skip
"""The engineer's name, the crew's code with its line, and how far right of the centre line."""
MARKS = {"201": (-10.0, -45.0), "202": (200.0, 44.0), "203": (LONG + 5.0, -42.0)}
MANHOLES = {"SMH-1": (40.0, 8.0), "SMH-2": (240.0, 8.4), "SMH-3": (400.0, 7.7)}
HYDRANTS = ((90.0, 21.0), (310.0, 21.0))
FOREMAN = ("", " ", "", "  chipped", " 4x4 panel 12")


@dataclass(frozen=True)
class Road:
    """A tangent, an arc to the right and a tangent, with a crest, a curb either side and a walk on the right."""

    zone: Zone

    def place(self, station: float, offset: float) -> tuple[float, float]:
        on = min(max(station - FIRST, 0.0), ARC)
        turned = self.zone.azimuth + on / RADIUS
        chord, half = 2.0 * RADIUS * math.sin(on / RADIUS / 2.0), self.zone.azimuth + on / RADIUS / 2.0
        before, after = min(station, FIRST), max(station - FIRST - ARC, 0.0)
        legs = ((before, self.zone.azimuth), (chord, half), (after, turned), (offset, turned + math.pi / 2.0))
        east = self.zone.east + sum(far * math.sin(way) for far, way in legs)
        return east, self.zone.north + sum(far * math.cos(way) for far, way in legs)

    def grade(self, station: float) -> float:
        x = min(max(station - (PVI - PARABOLA / 2.0), 0.0), PARABOLA)
        after = max(station - (PVI + PARABOLA / 2.0), 0.0)
        before = min(station, PVI - PARABOLA / 2.0)
        return 702.0 + RISE * (before + x) + (FALL - RISE) / (2.0 * PARABOLA) * x * x + FALL * after

    def level(self, station: float, offset: float) -> float:
        away = abs(offset)
        if away > 20.0:
            return self.grade(station) + 0.15 + 0.015 * (away - 18.0)
        return self.grade(station) - 0.02 * min(away, 17.5) + (0.5 if away > 17.6 else 0.0)

    def text(self, station: float, offset: float, *, high: bool = False) -> str:
        east, north = self.place(station, offset)
        return f"{north:.5f} {east:.5f}" + f" {self.level(station, offset):.4f}" * high


def write_folder(folder: Path, zone: Zone, *, seed: int = 1) -> Stranger:
    """Write the files, and say what was planted."""
    road, random = Road(zone), np.random.default_rng(seed)
    (folder / "Vesper design.xml").write_text(_landxml(road), encoding="utf-8")
    _workbook(folder / "ctrl list.xlsx", road)
    rows = list(_shots(road))
    lines = []
    for number, (code, station, offset, high) in enumerate(rows, start=1001):
        east, north = road.place(station, offset)
        e, n, z = np.array([east, north, road.level(station, offset) + high]) + random.normal(0.0, SIGMA, 3)
        lines.append(f"{number},{n:.4f},{e:.4f},{z:.4f},{code}\n")
    (folder / "VESPER-0417.txt").write_text("".join(lines), encoding="utf-8")
    planted = (
        Planted(what="five shots of the left gutter low by 0.28", kind="GUTTER FL LT", station=145.0),
        Planted(what="a hydrant 1.40 off", kind="Fire hydrant", station=310.0),
        Planted(what="back of walk not built", kind="SW BACK RT", station=205.0),
    )
    return Stranger(folder=folder, shots=len(rows), planted=planted)


def _shots(road: Road) -> Iterable[tuple[str, float, float, float]]:
    """Description, station, offset, and how much higher than designed."""
    for name in MARKS:
        yield (f"CHK {name}", *MARKS[name], 0.0)
    for word, (code, offset) in LINES.items():
        for at, station in enumerate(np.arange(5.0, LONG, 20.0)):
            if word != "SW BACK RT" or not 150.0 < station < 260.0:
                low = word == "GUTTER FL LT" and 100.0 <= station <= 190.0
                yield f"{code}{FOREMAN[at % 5]}", float(station), offset, -0.28 * low
    yield "FH pumper north", *HYDRANTS[0], 0.0
    yield "FH", HYDRANTS[1][0] + 1.4, HYDRANTS[1][1], 0.0
    for name, (station, _) in MANHOLES.items():
        yield f"SMH {name}", station, 4.0, 0.0
    for name in MARKS:
        yield (f"CHK {name}", *MARKS[name], 0.0)


def _landxml(road: Road) -> str:
    """Two points, the alignment with an equation and its profile, six plan features, a surface and a sewer."""
    points = "".join(
        f'<CgPoint name="HYD{at}" desc="Fire hydrant">{road.text(*place, high=True)}</CgPoint>'
        for at, place in enumerate(HYDRANTS, start=1)
    )
    features = "".join(_feature(road, word, offset) for word, (_, offset) in LINES.items())
    unit = "USSurveyFoot" if road.zone.us else "foot"
    return (
        '<?xml version="1.0" encoding="UTF-8"?><LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" '
        f'version="1.2"><Units><Imperial linearUnit="{unit}" diameterUnit="inch"/></Units>'
        f"<CgPoints>{points}</CgPoints><Alignments>{_alignment(road)}</Alignments>"
        f"<PlanFeatures>{features}</PlanFeatures>{_surface(road)}{_network(road)}</LandXML>"
    )


def _alignment(road: Road) -> str:
    turned = road.zone.azimuth + math.pi / 2.0
    east, north = road.place(FIRST, 0.0)
    centre = f"{north + RADIUS * math.cos(turned):.5f} {east + RADIUS * math.sin(turned):.5f}"
    ends = [road.text(at, 0.0) for at in (0.0, FIRST, FIRST + ARC, LONG)]
    return (
        f'<Alignment name="Vesper Ln" length="{LONG:.6f}" staStart="1000"><CoordGeom>'
        f'<Line length="{FIRST}"><Start>{ends[0]}</Start><End>{ends[1]}</End></Line>'
        f'<Curve rot="cw" radius="{RADIUS}" length="{ARC:.6f}"><Start>{ends[1]}</Start><Center>{centre}</Center>'
        f'<End>{ends[2]}</End></Curve><Line length="{LAST}"><Start>{ends[2]}</Start><End>{ends[3]}</End></Line>'
        '</CoordGeom><StaEquation staAhead="1500" staBack="1200" staInternal="1200"/><Profile name="PG">'
        f'<ProfAlign name="FG"><PVI>1000 {road.grade(0.0):.4f}</PVI><ParaCurve length="{PARABOLA}">{1000 + PVI} '
        f"{702.0 + RISE * PVI:.4f}</ParaCurve><PVI>{1000 + LONG:.5f} {road.grade(LONG):.4f}</PVI></ProfAlign></Profile>"
        "</Alignment>"
    )


def _feature(road: Road, word: str, offset: float) -> str:
    stations = [*np.arange(0.0, LONG, 20.0), LONG]
    chain = " ".join(road.text(at, offset, high=True) for at in stations)
    return (
        f'<PlanFeature name="{word}"><CoordGeom><IrregularLine><Start>{road.text(0.0, offset)}</Start>'
        f"<End>{road.text(LONG, offset)}</End><PntList3D>{chain}</PntList3D></IrregularLine></CoordGeom></PlanFeature>"
    )


def _surface(road: Road) -> str:
    grid = [(at, across) for at in np.linspace(0.0, LONG, 12) for across in (-40.0, 0.0, 40.0)]
    corners = "".join(
        f'<P id="{nth}">{road.text(*place)} {road.grade(place[0]):.3f}</P>' for nth, place in enumerate(grid, start=1)
    )
    halves = [n for k in range(11) for n in (3 * k + 1, 3 * k + 2)]
    faces = "".join(f"<F>{n} {n + 1} {n + 3}</F><F>{n + 1} {n + 4} {n + 3}</F>" for n in halves)
    return (
        f'<Surfaces><Surface name="EG"><Definition surfType="TIN"><Pnts>{corners}</Pnts><Faces>{faces}</Faces>'
        "</Definition></Surface></Surfaces>"
    )


def _network(road: Road) -> str:
    made = ""
    for name, (station, deep) in MANHOLES.items():
        rim = road.level(station, 4.0)
        made += (
            f'<Struct name="{name}" elevRim="{rim:.3f}" elevSump="{rim - deep:.3f}"><CircStruct diameter="4"/>'
            f'<Center>{road.text(station, 4.0)}</Center><Invert elev="{rim - deep:.3f}" flowDir="out" refPipe="P1"/>'
            "</Struct>"
        )
    names = list(MANHOLES)
    pipes = "".join(
        f'<Pipe name="P{at}" refStart="{one}" refEnd="{two}"><CircPipe diameter="8"/></Pipe>'
        for at, (one, two) in enumerate(pairwise(names), start=1)
    )
    return (
        f'<PipeNetworks><PipeNetwork name="San" pipeNetType="sanitary"><Structs>{made}</Structs><Pipes>{pipes}</Pipes>'
        "</PipeNetwork></PipeNetworks>"
    )


def _workbook(path: Path, road: Road) -> None:
    unit = "usft" if road.zone.us else "ft"
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Control"
    sheet.append(["Pt", *(f"{each} ({unit})" for each in ("Northing", "Easting", "Elevation")), "Description"])
    for name, at in MARKS.items():
        east, north = road.place(*at)
        sheet.append([int(name), round(north, 3), round(east, 3), round(road.level(*at), 3), "MAG nail"])
    book.save(path)
