"""A small street with every verdict on it, made by hand."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import shapely

from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.results import Results, Title
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.finding import finding_id
from geoqa.model.tables.layer import Layers, placed, shaped

ORIGIN = (2_228_500.0, 446_000.0)
AZIMUTH = math.radians(80.0)
RADIUS = 500.0
TURN = math.radians(15.0)
STRAIGHT = 800.0
HOSTILE = "</script><script>window.harm = 1</script><img src=x onerror='window.harm = 2'> \u2028 & \"quoted\""

FRAME = Frame(
    horizontal="EPSG:6547",
    horizontal_name="NAD83(2011) / North Dakota South (ft)",
    horizontal_wkt="EPSG:6547",
    unit=FOOT,
    vertical="EPSG:8228",
    vertical_name="NAVD88 height (ft)",
    vertical_unit=FOOT,
)

LINES = {
    "CFL-L": ("curb-flow", -16.0),
    "CTB-L": ("curb-top", -16.5),
    "WKF-L": ("walk-front", -21.0),
    "WKB-L": ("walk-back", -26.0),
}


def elements_of(line, offset):
    """Tangent, curve to the right, tangent: the middle of the street moved sideways."""
    forward = np.array([math.sin(AZIMUTH), math.cos(AZIMUTH)])
    right = np.array([forward[1], -forward[0]])
    start = np.array(ORIGIN) + offset * right
    bend = start + STRAIGHT * forward
    centre = bend + (RADIUS - offset) * right
    after = AZIMUTH + TURN
    onward = np.array([math.sin(after), math.cos(after)])
    outward = -np.array([onward[1], -onward[0]])
    leave = centre + (RADIUS - offset) * outward
    arc = TURN * (RADIUS - offset)
    end = leave + 400.0 * onward
    row = {"line": line, "start_elevation": 1460.0, "end_elevation": 1458.0}
    return [
        row | place(0, "line", start, bend, 1000.0, STRAIGHT),
        row | place(1, "arc", bend, leave, 1000.0 + STRAIGHT, arc, centre, RADIUS - offset),
        row | place(2, "line", leave, end, 1000.0 + STRAIGHT + arc, 400.0),
    ]


def place(sequence, shape, start, end, station, length, centre=(math.nan, math.nan), radius=math.nan):
    return {
        "sequence": sequence,
        "shape": shape,
        "start_station": station,
        "length": length,
        "sense": 1 if shape == "arc" else 0,
        "radius": radius,
        "start_easting": start[0],
        "start_northing": start[1],
        "end_easting": end[0],
        "end_northing": end[1],
        "centre_easting": centre[0],
        "centre_northing": centre[1],
    }


def at(offset, station):
    """Position on the street at an offset and a station of that line."""
    along = station - 1000.0
    forward = np.array([math.sin(AZIMUTH), math.cos(AZIMUTH)])
    right = np.array([forward[1], -forward[0]])
    start = np.array(ORIGIN) + offset * right
    if along <= STRAIGHT:
        return start + along * forward
    centre = start + STRAIGHT * forward + (RADIUS - offset) * right
    turned = min(TURN, (along - STRAIGHT) / (RADIUS - offset))
    azimuth = AZIMUTH + turned
    onward = np.array([math.sin(azimuth), math.cos(azimuth)])
    outward = -np.array([onward[1], -onward[0]])
    rest = along - STRAIGHT - turned * (RADIUS - offset)
    return centre + (RADIUS - offset) * outward + rest * onward


class Book:
    """Collects rows while a street is written."""

    def __init__(self):
        self.shots, self.findings, self.evidence, self.runs, self.gaps, self.tracks = [], [], [], [], [], []

    def shot(self, name, position, elevation, kind, line, **more):
        easting, northing = (round(float(each), 3) for each in position)
        row = {
            "shot_key": f"day1/{name}",
            "source": "day1",
            "line": len(self.shots) + 2,
            "shot": name,
            "easting": easting,
            "northing": northing,
            "elevation": elevation,
            "raw_easting": f"{easting:.3f}",
            "raw_northing": f"{northing:.3f}",
            "raw_elevation": "" if math.isnan(elevation) else f"{elevation:.3f}",
            "code": kind[:3].upper(),
            "line_id": line,
            "kind": kind,
            "role": "feature",
            "time": pd.Timestamp("2026-03-18T13:00:00Z") + pd.Timedelta(seconds=20 * len(self.shots)),
            "session": "A",
            "solution": "fixed",
            "rod_height": 6.562,
            "tilt": 0.4,
            "use": True,
            "flags": "",
        }
        self.shots.append(row | more)
        return row | more

    def finding(self, check, subject, shot=None, *, keys=(), **facts):
        row = {
            "finding": finding_id(check, "job", subject, [shot["shot_key"]] if shot else list(keys)),
            "check": check,
            "against": "job rules, rev. B",
            "subject": subject,
            "kind": shot["kind"] if shot else facts.get("kind"),
            "shot": shot["shot_key"] if shot else None,
            "label": f"{subject}, shot {shot['shot']}" if shot else subject,
            "quantity": "length",
            "rule": "guarded",
            "reference": "Drawing C-101, note 4",
            "edition": "rev. B",
            "verified": True,
        }
        if shot:
            row |= {name: shot[name] for name in ("easting", "northing", "elevation")}
        self.findings.append(row | facts)
        return row | facts


def judged(deviation, lower, upper, u):
    """Verdict of the guarded rule for a normal error, worked out here."""
    below = 0.5 * (1 + math.erf((lower - deviation) / u / math.sqrt(2)))
    above = 1 - 0.5 * (1 + math.erf((upper - deviation) / u / math.sqrt(2)))
    inside = 1 - below - above
    verdict = "OUT" if max(below, above) >= 0.95 else "IN" if inside >= 0.95 else "UNDECIDED"
    return {
        "verdict": verdict,
        "p_conform": max(0.0, inside),
        "why": "near-limit" if verdict == "UNDECIDED" else "proven",
        "excess": max(lower - deviation, deviation - upper) / u,
        "lower": lower,
        "upper": upper,
        "deviation": deviation,
        "u": u,
        "u_common": u * 0.6,
        "u_random": u * 0.8,
        "remedy": "shoot it again from another set-up" if verdict == "UNDECIDED" else None,
    }


def write_lines(book, rng):
    run = finding_id("offset", "job", "CTB-L", ["run"])
    members = []
    for number, (line, (kind, offset)) in enumerate(LINES.items()):
        for step in range(56):
            station = 1000.0 + 25.0 * step
            if line == "WKB-L" and 1500.0 < station < 1600.0:
                continue
            low = 0.22 if line == "CFL-L" and 1300.0 <= station <= 1375.0 else 0.0
            side = 0.16 if line == "CTB-L" and 1600.0 <= station <= 1700.0 else 0.0
            aside, height = side + rng.normal(0, 0.02), -low + rng.normal(0, 0.02)
            elevation = round(1460.0 - step * 0.05 + height, 3)
            shot = book.shot(f"{101 + number * 100 + step}", at(offset + aside, station), elevation, kind, line)
            width = 0.10 if kind.startswith("curb") else 0.15
            facts = {"station": station, "station_end": station, "offset": aside, "elevation": elevation}
            found = book.finding(
                "offset", line, shot, **facts, design=0.0, measured=aside, **judged(aside, -width, width, 0.028)
            )
            if side:
                book.findings[-1]["run"] = run
                members.append((shot, found))
            book.finding(
                "elevation",
                line,
                shot,
                **facts,
                design=elevation - height,
                measured=elevation,
                **judged(height, -0.08, 0.06, 0.028),
            )
    middle = members[2][0]
    mean = float(np.mean([found["deviation"] for _, found in members]))
    facts = {
        "finding": run,
        "kind": "curb-top",
        "label": "CTB-L, 16+00 to 17+00",
        "station": 1600.0,
        "station_end": 1700.0,
        "design": 0.0,
        "measured": mean,
        "offset": mean,
    }
    place = {name: middle[name] for name in ("easting", "northing", "elevation")}
    book.finding(
        "offset",
        "CTB-L",
        **facts,
        **place,
        **(judged(mean, -0.10, 0.10, 0.014) | {"cause": "construction", "remedy": "set back to line"}),
    )
    book.runs.append(
        {
            "run": run,
            "check": "offset",
            "kind": "curb-top",
            "line": "CTB-L",
            "station": 1600.0,
            "station_end": 1700.0,
            "shots": len(members),
            "mean": mean,
        }
    )
    book.tracks.append(shapely.LineString([at(-16.5, s) for s in np.arange(1600.0, 1701.0, 5.0)]))


def write_rest(book, rng):
    for number in range(12):
        spot = at(9.0, 1100.0 + 100.0 * number)
        shot = book.shot(
            f"I-{number + 1:03d}", spot, 1451.2 + 0.01 * number, "invert", f"MH-{number + 1} out", solution="fixed"
        )
        facts = {
            "design": 1451.2,
            "measured": shot["elevation"],
            "verdict": "UNDECIDED",
            "why": "u-too-large",
            "remedy": "level it from the rim",
        }
        book.finding("elevation", f"MH-{number + 1} out", shot, **(judged(0.01 * number, -0.05, 0.05, 0.035) | facts))
    shot = book.shot("901", at(-19.0, 1250.0), math.nan, "hydrant", "HYD-1", note=HOSTILE, raw_elevation="")
    nothing = {
        "verdict": "NO_DATA",
        "why": "no-elevation",
        "rule": None,
        "deviation": math.nan,
        "lower": -0.1,
        "upper": 0.1,
    }
    book.finding("elevation", "HYD-1", shot, **nothing)
    book.finding(
        "position", "HYD-1", shot, measured=0.27, **(judged(0.27, -math.inf, 0.3, 0.02) | {"reference": HOSTILE})
    )
    for number in range(6):
        shot = book.shot(f"G{number}", at(30.0, 1050.0 + 150.0 * number), 1459.0 + number, "ground", "", role="other")
    shot = book.shot(
        "902", at(-16.0, 2100.0), 1457.0, "curb-flow", "CFL-L", solution="float", use=False, flags="solution;pdop"
    )
    book.finding("offset", "CFL-L", shot, verdict="NO_DATA", why="screened", rule=None, lower=-0.1, upper=0.1)
    book.shot("903", (math.nan, math.nan), 1457.0, "curb-flow", "CFL-L", raw_easting="not read", raw_northing="")
    for number, (mark, offset, station) in enumerate(
        (("CP-1", 34.0, 1010.0), ("CP-2", -38.0, 1350.0), ("CP-3", 33.0, 1790.0))
    ):
        shot = book.shot(f"C{number + 1}", at(offset, station), 1461.0, "control", mark, role="check")
        away = (0.012, 0.151, 0.02)[number]
        book.finding("control-position", mark, shot, measured=away, **judged(away, -math.inf, 0.07, 0.014))
    gap = at(-26.0, 1550.0)
    facts = {
        "kind": "walk-back",
        "label": "WKB-L, 15+00 to 16+00",
        "station": 1500.0,
        "station_end": 1600.0,
        "easting": gap[0],
        "northing": gap[1],
        "measured": 100.0,
        "deviation": 100.0,
    }
    found = book.finding(
        "coverage", "WKB-L", **facts, lower=-math.inf, upper=30.0, verdict="OUT", why="no-evidence", excess=math.inf
    )
    book.gaps.append(
        {
            "finding": found["finding"],
            "kind": "walk-back",
            "line": "WKB-L",
            "station": 1500.0,
            "station_end": 1600.0,
            "length": 100.0,
        }
    )


def table(name, rows):
    return conform(name, pd.DataFrame(rows)) if rows else empty(name)


def make_street(*, reviewed=False):
    """Results of a small street: all verdicts, one run, one gap, a hostile note and shots without a place."""
    rng = np.random.default_rng(7)
    book = Book()
    write_lines(book, rng)
    write_rest(book, rng)
    elements = table(
        "design_elements", [row for line, (_, offset) in LINES.items() for row in elements_of(line, offset)]
    )
    lines = table(
        "design_lines", [{"line": line, "kind": kind, "source": "design"} for line, (kind, _) in LINES.items()]
    )
    centre = {
        line: shapely.LineString([at(offset, s) for s in np.arange(1000.0, 2330.0, 5.0)])
        for line, (_, offset) in LINES.items()
    }
    bands = table(
        "bands",
        [
            {"kind": kind, "line": line, "lower": -0.1, "upper": 0.1, "reference": "Drawing C-101, note 4"}
            for line, (kind, _) in LINES.items()
        ],
    )
    points = [
        {"point": f"MH-{n + 1} out", "kind": "invert", "source": "design", "elevation": 1451.2}
        | dict(zip(("easting", "northing"), at(9.0, 1100.0 + 100.0 * n), strict=True))
        for n in range(12)
    ]
    marks = (("CP-1", 34.0, 1010.0), ("CP-2", -38.0, 1350.0), ("CP-3", 33.0, 1790.0))
    control = [
        {
            "mark": mark,
            "elevation": 1461.0,
            "u_h": 0.01,
            "u_v": 0.01,
            "held": False,
            "independent": False,
            "reference": "County sheet 4",
        }
        | dict(zip(("easting", "northing"), at(offset, station), strict=True))
        for mark, offset, station in marks
    ]
    gaps = shapely.LineString([at(-26.0, s) for s in np.arange(1500.0, 1601.0, 5.0)])
    tables = {
        "shots": placed("shots", table("shots", book.shots), FRAME),
        "findings": placed(
            "findings",
            table("findings", book.findings).sort_values("excess", ascending=False, ignore_index=True),
            FRAME,
        ),
        "evidence": table(
            "evidence",
            [
                {
                    "finding": book.gaps[0]["finding"],
                    "role": "nearest",
                    "layer": "shots",
                    "key": "day1/420",
                    "weight": 1.0,
                }
            ],
        ),
        "design_lines": shaped(lines, [centre[line] for line in lines["line"]], FRAME),
        "design_elements": elements,
        "design_points": placed("design_points", table("design_points", points), FRAME),
        "control": placed("control", table("control", control), FRAME),
        "runs": shaped(table("runs", book.runs), book.tracks, FRAME),
        "gaps": shaped(table("gaps", book.gaps), [gaps], FRAME),
        "bands": shaped(bands, [centre[line].buffer(0.1, cap_style="flat") for line in bands["line"]], FRAME),
        "sources": table(
            "sources",
            [
                {
                    "source": "day1",
                    "role": "shots",
                    "path": "shots/day1.csv",
                    "sha256": "ab" * 32,
                    "reader": "shots.csv",
                    "version": "1",
                }
            ],
        ),
    }
    findings = tables["findings"]
    counts = findings[findings["run"].isna()]["verdict"].value_counts()
    title = Title(
        name="Tannery Lane, phase 0",
        revision="Design rev. B, 2026-03-14",
        date="2026-03-19",
        client="Town of Larkmere",
        reviewed_by="A. Licensee, PLS 0000" if reviewed else "",
        reviewed_on="2026-03-20" if reviewed else "",
    )
    notes = (
        "Inverts: the tolerance of 0.050 ft cannot be proven with u = 0.035 ft; level them.",
        "1 shot has no position.",
    )
    return Results(
        title=title,
        layers=Layers(tables, frame=FRAME),
        summary={"reported": {str(k): int(v) for k, v in counts.items()}},
        record={},
        notes=notes,
    )


@pytest.fixture(scope="session")
def street():
    return make_street()


@pytest.fixture(scope="session")
def reviewed_street():
    return make_street(reviewed=True)


@pytest.fixture(scope="session")
def lines():
    return SimpleNamespace(at=at, names=tuple(LINES), hostile=HOSTILE)
