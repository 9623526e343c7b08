"""Another stranger's folder: other headings, layers, codes and zones, and what surveys hold beside shots and design."""

from pathlib import Path

import ezdxf
import numpy as np

from bench.first_hour import Planted, Stranger, Zone
from bench.first_hour import Site as FirstSite

ZONES = (
    Zone(code="EPSG:2278", us=True, east=2_131_740.0, north=13_702_930.0, azimuth=1.2),
    Zone(code="EPSG:2914", us=False, east=4_262_310.0, north=861_450.0, azimuth=5.6),
)

LINES = {"CURB-TOP": ("TBC", 20.0), "FLOW-LINE": ("FL", 20.5), "SWK-FRONT": ("WF", 26.0), "SWK-BACK": ("WB", 31.0)}
"""The drafter's word, the crew's code and how far from the middle of the street, to either side."""
SYMBOLS = {"FH-SYM": ("HYD", ((80.0, -23.0), (345.0, 23.0))), "LIGHT-POLE": ("LP", ((150.0, -22.0), (260.0, 22.0)))}
INLETS = ((50.0, -20.6), (350.0, -20.6))
"""Catch basins, CB-1 and CB-2; their rims are shots 100 and 101."""
MARKS = {"BM-7": (-20.0, 44.0), "BM-8": (195.0, -50.0), "BM-9": (420.0, 41.0)}
LONG = 400.0


class Site(FirstSite):
    """The street, with a kerb and a walk that falls to it."""

    def level(self, station: float, offset: float) -> float:
        away = abs(offset)
        across = -0.02 * away if away < 20.2 else -0.91 if away < 20.6 else -0.40 + 0.015 * (away - 20.0)
        return 318.0 + 0.008 * station + across + (0.5 if away < 20.2 and away > 19.0 else 0.0)


def write_folder(folder: Path, zone: Zone, *, seed: int = 1) -> Stranger:
    """Write the files, and say what was planted."""
    site = Site(zone, seed)
    _drawing(folder / "C-101 plan.dxf", site)
    _landxml(folder / "grading.xml", site, us=zone.us)
    lines = [f"{name},{n:.3f},{e:.3f},{site.level(*MARKS[name]):.3f},brass cap" for name, e, n in _marks(site)]
    (folder / "cp.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    shots = _headerless(folder / "topo_0412.asc", site) + _headed(folder / "Walks.csv", site)
    _levels(folder / "level run.csv", site)
    (folder / "smart level.csv").write_text(_readings(), encoding="utf-8")
    (folder / "storm.csv").write_text(_structures(), encoding="utf-8")
    planted = (
        Planted(what="flow line low by 0.30", kind="FLOW-LINE", station=240.0),
        Planted(what="a hydrant 1.20 off", kind="FH-SYM", station=345.0),
        Planted(what="back of walk not built", kind="SWK-BACK", station=160.0),
    )
    return Stranger(folder=folder, shots=shots, planted=planted)


def _marks(site: Site) -> list[tuple[str, float, float]]:
    return [(name, *site.place(*at)) for name, at in MARKS.items()]


def _drawing(path: Path, site: Site) -> None:
    document = ezdxf.new("R2013")
    document.header["$INSUNITS"] = 0
    space = document.modelspace()
    for word in ("CURB-TOP", "FLOW-LINE"):
        for side, sign in (("L", -1.0), ("R", 1.0)):
            offset = sign * LINES[word][1]
            places = [(*site.place(each, offset), site.level(each, offset)) for each in np.arange(0.0, LONG + 1, 40.0)]
            space.add_polyline3d(places, dxfattribs={"layer": f"C-{word}-{side}"})
    for block, (_, places) in (*SYMBOLS.items(), ("CATCH-BASIN", ("CB", INLETS))):
        document.blocks.new(block).add_circle((0, 0), 1.0)
        for at in places:
            space.add_blockref(block, (*site.place(*at), site.level(*at)), dxfattribs={"layer": "C-SYMBOLS"})
    document.saveas(path)


def _landxml(path: Path, site: Site, *, us: bool) -> None:
    """Edges of the walks as plan features, the marks as points, and a surface of finished ground."""
    features = ""
    for word in ("SWK-FRONT", "SWK-BACK"):
        for side, sign in (("L", -1.0), ("R", 1.0)):
            offset, lines = sign * LINES[word][1], ""
            for start in np.arange(0.0, LONG, 40.0):
                ends = [(*site.place(at, offset), site.level(at, offset)) for at in (start, start + 40.0)]
                one, two = (f"{n:.6f} {e:.6f} {z:.4f}" for e, n, z in ends)
                lines += f"<Line><Start>{one}</Start><End>{two}</End></Line>"
            features += f'<PlanFeature name="{word}-{side}1"><CoordGeom>{lines}</CoordGeom></PlanFeature>'
    points = "".join(
        f'<CgPoint name="{name}">{n:.3f} {e:.3f} {site.level(*MARKS[name]):.3f}</CgPoint>'
        for name, e, n in _marks(site)
    )
    grid = [(at, across) for at in (0.0, 200.0, 400.0) for across in (-60.0, 0.0, 60.0)]
    corners = "".join(
        f'<P id="{nth}">{site.place(*at)[1]:.4f} {site.place(*at)[0]:.4f} 318</P>' for nth, at in enumerate(grid, 1)
    )
    faces = "".join(f"<F>{n} {n + 1} {n + 3}</F><F>{n + 1} {n + 4} {n + 3}</F>" for n in (1, 2, 4, 5))
    path.write_text(
        '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Imperial '
        f'linearUnit="{"USSurveyFoot" if us else "foot"}"/></Units><CgPoints>{points}</CgPoints>'
        f"<PlanFeatures>{features}</PlanFeatures>"
        f'<Surfaces><Surface name="FG"><Definition surfType="TIN"><Pnts>{corners}</Pnts><Faces>{faces}</Faces>'
        "</Definition></Surface></Surfaces></LandXML>",
        encoding="utf-8",
    )


def _line(site: Site, word: str, sign: float, *, low: float = 0.0, skip: tuple[float, float] = (0, 0)) -> list[tuple]:
    code, away = LINES[word]
    return [
        (code, *site.shot(at, sign * away, high=-low if 200.0 <= at <= 280.0 else 0.0))
        for at in np.arange(0.0, LONG + 1, 20.0)
        if not skip[0] < at < skip[1]
    ]


def _headerless(path: Path, site: Site) -> int:
    """P, E, N, Z, D: curb and flow line, the number of the line on the code; checks, hydrants and poles."""
    rows = [("CB", *site.shot(*at)) for at in INLETS]
    for number, sign in ((1, -1.0), (2, 1.0)):
        for word in ("CURB-TOP", "FLOW-LINE"):
            low = 0.30 if (word, number) == ("FLOW-LINE", 2) else 0.0
            rows += [(f"{code}{number}", *place) for code, *place in _line(site, word, sign, low=low)]
    for code, places in SYMBOLS.values():
        for at, offset in places:
            rows.append((code, *site.shot(at + (1.2 if (code, at) == ("HYD", 345.0) else 0.0), offset)))
    for name, at in MARKS.items():
        rows += [(f"CHK {name}", *site.shot(*at)) for _ in range(2)]
    lines = [f"{at},{e:.3f},{n:.3f},{z:.3f},{code}" for at, (code, e, n, z) in enumerate(rows, start=100)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(rows)


def _headed(path: Path, site: Site) -> int:
    """Semicolons and other words: the walks."""
    rows = []
    for number, sign, skip in ((1, -1.0, (110.0, 220.0)), (2, 1.0, (0.0, 0.0))):
        rows += [(f"{code}{number}", *place) for code, *place in _line(site, "SWK-FRONT", sign)]
        rows += [(f"{code}{number}", *place) for code, *place in _line(site, "SWK-BACK", sign, skip=skip)]
    lines = ["Pt No;Grid North;Grid East;Ortho Elev;Descriptor;Remarks"]
    lines += [
        f"{at};{n:.3f};{e:.3f};{z:.3f};{code};{'tree root' if at % 9 == 0 else ''}"
        for at, (code, e, n, z) in enumerate(rows, start=700)
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(rows)


def _levels(path: Path, site: Site) -> None:
    """A run from the first mark over a curb shot to the second, closing to 0.01 ft."""
    first, rim, last = site.level(*MARKS["BM-7"]), site.level(*INLETS[0]), site.level(*MARKS["BM-8"])
    side, rod = 5.0 + first - rim, 5.01 + first - last
    rows = f"BM-7,5.00,,,\n100,,{side:.2f},,\nTP1,4.50,,{rod:.2f},150\nBM-8,,,4.50,160\n"
    path.write_text("Station,BS,IS,FS,Dist\n" + rows, encoding="utf-8")


def _readings() -> str:
    return "Point,Reading\n" + "".join(f"{at},{slope} %\n" for at, slope in ((702, 1.5), (708, 1.6), (745, 3.1)))


def _structures() -> str:
    rows = ("CB-1,101,P-1,out,5.80,12 in,RCP", "CB-2,100,P-1,in,4.20,12 in,RCP")
    return "\n".join(["Structure,Rim Shot,Pipe,Flow,Measure Down (ft),Size,Material", *rows]) + "\n"
