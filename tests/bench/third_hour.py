"""A third stranger: a file a day, each of another shape, a drawing that says inches, and a rod that was off a day."""

from pathlib import Path

import ezdxf
import numpy as np
import openpyxl

from bench.first_hour import Planted, Site, Stranger, Zone

ZONES = (
    Zone(code="EPSG:6549", us=True, east=1_704_200.0, north=788_400.0, azimuth=2.6),
    Zone(code="EPSG:6407", us=False, east=701_300.0, north=812_900.0, azimuth=0.9),
)

LINES = {"R-KERB-TB": ("TC", 15.0), "R-CHANNEL": ("FL", 15.5), "R-PATH-BACK": ("BW", 22.0)}
"""The drafter's layer, the crew's code and how far from the middle of the street, to either side."""
HYDRANTS, GULLIES = ((60.0, -18.0), (210.0, 18.0), (340.0, -18.0)), ((110.0, 15.2), (290.0, -15.2))
MARKS = {"CP11": (-12.0, -35.0), "CP12": (140.0, 36.0), "CP13": (280.0, -37.0), "CP14": (415.0, 33.0)}
LONG, ROD = 400.0, 0.33
CHECKS = ("CK CP11", "CKCP12", "CP13 CHK", "CK CP14")
"""The same thing, as four people write it."""
LEFT_OUT = {"plan signed.pdf": "a document, of which nothing is read", "1 picture": "photos that the shots name"}


class Street(Site):
    """The street, a kerb that holds the road and a path behind it."""

    def level(self, station: float, offset: float) -> float:
        away = abs(offset)
        return 512.0 - 0.009 * station + (0.0 if away < 14 else 0.5 if away < 15.1 else 0.0 if away < 15.6 else 0.6)


def write_folder(folder: Path, zone: Zone, *, seed: int = 1) -> Stranger:
    """Write the files, and say what was planted."""
    site = Street(zone, seed)
    _drawing(folder / "R-2 plan.dxf", site)
    _landxml(folder / "centre.xml", site, us=zone.us)
    marks = [f"{name},{n:.3f},{e:.3f},{site.level(*MARKS[name]):.3f},rebar" for name, e, n in _marks(site)]
    (folder / "control.txt").write_text("\n".join(marks) + "\n", encoding="utf-8")
    days = [_day(site, number) for number in range(4)]
    _headerless(folder / "crew1_0413.txt", days[0])
    _decimal_comma(folder / "export 0414.csv", days[1])
    _other_language(folder / "dia3.tab", days[2])
    _workbook(folder / "wide.xlsx", days[3], "usft" if zone.us else "ft")
    _level_book(folder / "level book.csv", site)
    (folder / "plan signed.pdf").write_bytes(b"%PDF-1.7\n\x00")
    (folder / "IMG_0001.jpg").write_bytes(b"\xff\xd8\xff\x00")
    planted = (
        Planted(what="three shots of kerb low by 0.30", kind="R-KERB-TB", station=220.0),
        Planted(what="kerb not shot", kind="R-KERB-TB", station=320.0),
        Planted(what="a hydrant 1.20 off", kind="FH-7", station=210.0),
        Planted(what="a hydrant not shot", kind="FH-7", station=340.0),
        Planted(what="all elevations of a day low by the rod", kind="R-PATH-BACK", station=200.0),
    )
    return Stranger(folder=folder, shots=sum(map(len, days)), planted=planted)


def _marks(site: Site) -> list[tuple[str, float, float]]:
    return [(name, *site.place(*at)) for name, at in MARKS.items()]


def _day(site: Site, number: int) -> list[tuple[str, float, float, float]]:
    """Description, easting, northing and elevation of what one crew shot on one day."""
    low = -ROD if number == 2 else 0.0
    rows = [(CHECKS[at], *site.shot(*list(MARKS.values())[at], high=low)) for at in (0, 1, 2, 3)]
    walks = (("R-KERB-TB", -1), ("R-CHANNEL", -1)), (("R-KERB-TB", 1), ("R-CHANNEL", 1)), (("R-PATH-BACK", -1),)
    for layer, side in walks[number] if number < 3 else (("R-PATH-BACK", 1),):
        code, offset = LINES[layer]
        for station in np.arange(0.0, LONG + 1, 20.0):
            planted = (number, layer) == (0, "R-KERB-TB")
            if planted and 300.0 <= station <= 340.0:
                continue
            high = low - (0.30 if planted and 200.0 <= station <= 240.0 else 0.0)
            note = " 12 in spall" if station == 60.0 else ""
            rows.append((f"{code}{1 + (side > 0)}{note}", *site.shot(station, side * offset, high=high)))
    if number == 3:
        rows += [(f"HYD {at}", *site.shot(s + 1.2 * (at == 1), o)) for at, (s, o) in enumerate(HYDRANTS[:2])]
        rows += [(f"GUL {at}", *site.shot(*place)) for at, place in enumerate(GULLIES)]
        rows.append(("STUFF ??", *site.shot(150.0, 60.0)))
    return rows


def _headerless(path: Path, rows: list) -> None:
    lines = [f"{100 + at},{n:.3f},{e:.3f},{z:.3f},{what}" for at, (what, e, n, z) in enumerate(rows)]
    path.write_bytes("".join(f"{line}\r\n" for line in lines).encode())


def _decimal_comma(path: Path, rows: list) -> None:
    lines = ["Point;East;North;Elev;Description;Time"]
    for at, (what, *place) in enumerate(rows):
        e, n, z = (f"{value:.3f}".replace(".", ",") for value in place)
        lines.append(f"{200 + at};{e};{n};{z};{what};14.04.2026 08:{at % 60:02d}:00")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _other_language(path: Path, rows: list) -> None:
    lines = ["Punto\tNorte\tEste\tCota\tCódigo\tFecha\tHora"]
    for at, (what, e, n, z) in enumerate(rows):
        lines.append(f"{300 + at}\t{n:.3f}\t{e:.3f}\t{z:.3f}\t{what}\t2026-04-15\t08:{at % 60:02d}:00")
    path.write_text("\n".join(lines) + "\n", encoding="latin-1")


def _workbook(path: Path, rows: list, unit: str) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Export"
    for title in (["Survey report"], ["Crew 2"], []):
        sheet.append(title)
    sheet.append(["Point Name", *(f"{each} ({unit})" for each in ("Northing", "Easting", "Elevation")), "Feature Code",
                  "Local Date", "Local Time", "Photo"])  # fmt: skip
    for at, (what, e, n, z) in enumerate(rows):
        photo = "IMG_0001.jpg" if at == 5 else None
        place = [round(float(each), 3) for each in (n, e, z)]
        sheet.append([str(400 + at), *place, what, "2026-04-16", f"08:{at % 60:02d}:00", photo])
    book.create_sheet("Notes").append(["made in the truck"])
    book.save(path)


def _level_book(path: Path, site: Site) -> None:
    """From mark to mark over one turning point; side shots stand in the column of foresights."""
    start, end = (site.level(*MARKS[name]) for name in ("CP11", "CP14"))
    high, lines = start + 5.12, ["Station,BS,HI,FS,Elev"]
    lines.append(f"CP11,5.12,{high:.2f},,{start:.2f}")
    for point, station in ((104, 0.0), (109, 100.0), (114, 200.0), (116, 240.0)):
        level = site.level(station, -15.0) - (0.30 if station >= 200.0 else 0.0)
        foresight = high - level
        if station == 200.0:
            high = level + 6.40
            lines.append(f"{point},6.40,{high:.2f},{foresight:.2f},{level:.2f}")
        else:
            lines.append(f"{point},,,{foresight:.2f},{level:.2f}")
    lines.append(f"CP14,,,{high - end:.2f},{end:.2f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _drawing(path: Path, site: Site) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 1
    space = document.modelspace()
    for layer, (_, offset) in LINES.items():
        for side in (-offset, offset):
            rows = [(*site.place(each, side), site.level(each, side)) for each in np.arange(0.0, LONG + 1, 50.0)]
            space.add_polyline3d(rows, dxfattribs={"layer": layer})
    for block, places in (("FH-7", HYDRANTS), ("GULLY", GULLIES)):
        document.blocks.new(block).add_circle((0, 0), 1.0)
        for station, offset in places:
            where = (*site.place(station, offset), site.level(station, offset))
            space.add_blockref(block, where, dxfattribs={"layer": "U-SYMBOLS"})
    space.add_lwpolyline([site.place(each, 70.0) for each in (0.0, 200.0, 400.0)], dxfattribs={"layer": "E-BOUNDARY"})
    space.add_text("PLAN", dxfattribs={"layer": "NOTES"}).set_placement(site.place(0.0, 60.0))
    document.saveas(path)


def _landxml(path: Path, site: Site, *, us: bool) -> None:
    unit = "USSurveyFoot" if us else "foot"
    (e1, n1), (e2, n2) = site.place(0.0, 0.0), site.place(LONG, 0.0)
    points = "".join(
        f'<CgPoint name="GU{at}" code="GUL">{n:.4f} {e:.4f} {site.level(*place):.3f}</CgPoint>'
        for at, place in enumerate(GULLIES)
        for e, n in [site.place(*place)]
    )
    path.write_text(
        '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2"><Units><Imperial linearUnit='
        f'"{unit}"/></Units><CgPoints>{points}</CgPoints><Alignments><Alignment name="CL 7" length="{LONG}" '
        f'staStart="1000"><CoordGeom><Line><Start>{n1:.4f} {e1:.4f}</Start><End>{n2:.4f} {e2:.4f}</End></Line>'
        f'</CoordGeom><Profile><ProfAlign name="FG"><PVI>1000 512.0</PVI><PVI>1400 508.4</PVI></ProfAlign></Profile>'
        "</Alignment></Alignments></LandXML>",
        encoding="utf-8",
    )
