"""A small, complete, invented result with every odd case a writer meets."""

from types import MappingProxyType

import numpy as np
import pandas as pd
import pytest
import shapely

from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT
from geoqa.model.results import Results, Title
from geoqa.model.tables.columns import columns_of, conform
from geoqa.model.tables.layer import Layers, placed, shaped

HOSTILE = (
    "<script>alert(1)</script><b>bold</b> & \"quotes\" 'single'",
    '=HYPERLINK("http://127.0.0.1","click")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "nul\x00after nul",
    "bell\x07 escape\x1b[31mred",
    "\u202eright to left override\u202c \u200fmark",
    "line one\nline two\r\nline three",
    "x" * 10_000,
    "comma, semicolon; tab\t bar| back\\slash {\\P} %%c ^I",
    "NULL",
    "nan",
    "007",
    "",
    "curb ½ in high, 68° F, naïve, Ω, 雪, 🙂",
    "＝1+1",
    "\ufffenoncharacter",
)
"""Texts a crew, a program or an attacker may leave in a note."""


def frame() -> Frame:
    """NAD83(2011) / North Dakota South (ft) with NAVD88 height (ft)."""
    from pyproj import CRS

    horizontal, vertical = CRS("EPSG:6547"), CRS("EPSG:8228")
    return Frame(
        horizontal="EPSG:6547",
        horizontal_name=horizontal.name,
        horizontal_wkt=horizontal.to_wkt("WKT2_2019"),
        unit=FOOT,
        vertical="EPSG:8228",
        vertical_name=vertical.name,
        vertical_wkt=vertical.to_wkt("WKT2_2019"),
        vertical_unit=FOOT,
        realization="NAD83(2011)",
        epoch=2010.0,
        database="EPSG test",
    )


def _conformed(name: str, columns: dict) -> pd.DataFrame:
    table = pd.DataFrame(columns)
    for column in columns_of(name):
        if column.name not in table.columns and column.dtype in ("int64", "bool"):
            table[column.name] = 0 if column.dtype == "int64" else False
    return conform(name, table)


def make_shots() -> pd.DataFrame:
    """One shot per hostile note; the third has no elevation, the fifth no position."""
    count = len(HOSTILE)
    number = np.arange(count)
    easting, northing = 2_228_500.0 + number * 25.123, 446_000.0 + number / 3.0
    elevation = 1_462.0 - number * 0.15
    elevation[2] = np.nan
    easting[4] = northing[4] = elevation[4] = np.nan
    time = pd.Series(pd.date_range("2026-03-14T13:00:00.250Z", periods=count, freq="90s", unit="us"))
    time[5] = pd.NaT
    return _conformed(
        "shots",
        {
            "shot_key": [f"day1/{100 + each}" for each in number],
            "source": "day1",
            "line": number + 2,
            "shot": [str(100 + each) if each != 3 else None for each in number],
            "easting": easting,
            "northing": northing,
            "elevation": elevation,
            "raw_easting": [f"{each:.3f}" for each in easting],
            "raw_elevation": ["-9999" if np.isnan(each) else f"{each:.3f}" for each in elevation],
            "code": "CTB",
            "line_id": "CTB-L",
            "sequence": [None if each == 7 else each for each in number],
            "note": list(HOSTILE),
            "time": time,
            "solution": ["fixed", "float", *["fixed"] * (count - 2)],
            "satellites": [None if each == 1 else 12 + each for each in number],
            "pdop": [np.nan if each == 6 else 1.25 + each / 7.0 for each in number],
            "kind": "curb-top",
            "role": "feature",
            "u_h_random": 0.02,
            "use": number != 1,
            "flags": ["" if each != 1 else "solution" for each in number],
        },
    )


def make_findings(shots: pd.DataFrame) -> pd.DataFrame:
    """Every verdict, one-sided limits, no limit at all, a run, and two control checks."""
    verdicts = ["IN", "OUT", "UNDECIDED", "NO_DATA", "OUT", "IN", "OUT", "IN"]
    excess = [-4.5, 6.25, 0.5, np.nan, np.inf, -1.75, 3.0, -2.0]
    checks = [*["offset"] * 5, "elevation", "control-position", "control-elevation"]
    count = len(verdicts)
    keys = list(shots["shot_key"][:count])
    return _conformed(
        "findings",
        {
            "finding": [f"F{9 - each:012d}" for each in range(count)],
            "item": [None, "1", "2", "3", "4", None, "5", None],
            "check": checks,
            "against": "job",
            "kind": [*["curb-top"] * 6, "control", "control"],
            "subject": [*["CTB-L"] * 4, "-", "CTB-L", "CP-1", "CP-1"],
            "label": [f"{HOSTILE[each][:60]} {each}" for each in range(count)],
            "shot": keys,
            "run": [None, "F000000000042", *[None] * (count - 2)],
            "station": [1000.0 + 25.0 * each if each != 3 else np.nan for each in range(count)],
            "offset": np.linspace(-0.2, 0.2, count),
            "easting": shots["easting"][:count],
            "northing": shots["northing"][:count],
            "elevation": shots["elevation"][:count],
            "quantity": "length",
            "design": 0.0,
            "measured": np.linspace(-0.2, 0.2, count),
            "deviation": [0.1 + 0.2 if each == 0 else -0.2178 + each / 30.0 for each in range(count)],
            "lower": [-0.1, -np.inf, -0.1, np.nan, -0.1, -0.08, -np.inf, -0.08],
            "upper": [0.1, 0.1, np.inf, np.nan, 0.1, 0.08, 0.07, 0.08],
            "u": [0.0251, 0.02, 0.02, np.nan, 0.0, 0.02, 0.015, 0.02],
            "rule": "guarded",
            "p_conform": [0.99, 0.001, 0.6, np.nan, 0.0, 0.97, 0.01, 0.98],
            "verdict": verdicts,
            "why": ["proven", "proven", "near-limit", "no-elevation", "proven", "proven", "proven", "proven"],
            "reference": "Drawing C-101, note 4",
            "verified": [True, False, None, True, True, True, False, True],
            "excess": excess,
        },
    )


def make_layers(where: Frame) -> dict[str, pd.DataFrame]:
    """All tables of a small job."""
    shots = make_shots()
    findings = make_findings(shots)
    line = shapely.LineString([(2_228_500.0, 446_000.0), (2_228_700.0, 446_005.0), (2_229_000.0, 446_010.0)])
    elements = {
        "line": ["CTB-L", "CTB-L", "CTB-L"],
        "sequence": [0, 1, 2],
        "shape": ["line", "arc", "line"],
        "start_easting": [2_228_500.0, 2_228_700.0, 2_228_800.0],
        "start_northing": [446_000.0, 446_000.0, 445_900.0],
        "end_easting": [2_228_700.0, 2_228_800.0, 2_228_800.0],
        "end_northing": [446_000.0, 445_900.0, 445_700.0],
        "centre_easting": [np.nan, 2_228_700.0, np.nan],
        "centre_northing": [np.nan, 445_900.0, np.nan],
        "radius": [np.nan, 100.0, np.nan],
        "sense": [0, 1, 0],
        "start_station": [1000.0, 1200.0, 1200.0 + np.pi * 50.0],
        "length": [200.0, np.pi * 50.0, 200.0],
        "start_elevation": [1462.0, 1461.0, np.nan],
        "end_elevation": [1461.0, np.nan, 1459.0],
    }
    point = {"easting": [2_228_515.752], "northing": [445_968.253], "elevation": [1461.64]}
    control = {"mark": ["CP-1"], **point, "held": [False], "independent": [True], "reference": ["=cmd"]}
    run = {"run": ["F000000000042"], "check": "offset", "kind": "curb-top", "line": "CTB-L"}
    gap = {"finding": ["F000000000077"], "kind": "curb-top", "line": "CTB-L"}
    span = {"station": 1100.0, "station_end": 1150.5}
    limit = {"ruleset": "job", "kind": "curb-top", "check": ["offset", "elevation"], "quantity": "length"}
    source = {"source": ["day1"], "role": "shots", "path": "shots/day1.csv", "sha256": "0" * 64}
    band = {"kind": "curb-top", "line": ["CTB-L"], "lower": [-0.1], "upper": [np.inf], "reference": "C-101"}
    evidence = {"finding": [findings["finding"][1]], "role": "member", "layer": "shots", "key": "day1/101"}
    flag = {"shot_key": ["day1/101"], "flag": "solution", "reject": True, "step": "screen", "variant": "allowed"}
    flag |= {"other": "float", "written": "fixed", "reference": "Drawing C-101"}
    match = {
        "shot_key": ["day1/100", "day1/101", "day1/102"],
        "station": 1000.0,
        "distance": [0.16, 0.05, 0.3],
        "azimuth": [90.0, 90.0, 0.0],
        "cost": 1.0,
        "odds": 0.9,
        "chosen": [True, True, False],
        "ambiguous": False,
    }
    return {
        "shots": placed("shots", shots, where),
        "findings": placed("findings", findings, where),
        "control": placed("control", _conformed("control", control), where),
        "codes": _conformed("codes", {"code": ["CTB"], "kind": "curb-top", "geometry": "line", "role": "feature"}),
        "design_lines": shaped(
            _conformed("design_lines", {"line": ["CTB-L"], "kind": "curb-top", "source": "design"}), [line], where
        ),
        "design_elements": _conformed("design_elements", elements),
        "design_points": placed(
            "design_points",
            _conformed(
                "design_points",
                {
                    "point": ["MH-1", "WV-2"],
                    "kind": ["rim", "valve"],
                    "source": "design",
                    "easting": [2_228_600.0, 2_228_650.0],
                    "northing": [446_001.0, 446_002.0],
                    "elevation": [1456.19, np.nan],
                },
            ),
            where,
        ),
        "limits": _conformed(
            "limits", {**limit, "lower": [-0.1, -np.inf], "upper": [0.1, 0.08], "rule": "guarded", "reference": "C-101"}
        ),
        "runs": shaped(
            _conformed("runs", {**run, **span, "shots": 2, "mean": -0.22}),
            [shapely.LineString([(2_228_550, 446_001), (2_228_575, 446_001)])],
            where,
        ),
        "gaps": shaped(
            _conformed("gaps", {**gap, **span, "length": 50.5}),
            [
                shapely.MultiLineString(
                    [[(2_228_600, 446_001), (2_228_625, 446_001)], [(2_228_630, 446_001), (2_228_640, 446_001)]]
                )
            ],
            where,
        ),
        "bands": shaped(_conformed("bands", band), [line.buffer(0.1, quad_segs=2)], where),
        "sources": _conformed("sources", {**source, "reader": "shots.csv", "version": "1"}),
        "line_matches": _conformed("line_matches", {**match, "design": "CTB-L", "offset": [0.16, -0.05, 0.3]}),
        "point_matches": _conformed("point_matches", {**match, "design": "MH-1", "chosen": [False, False, True]}),
        "run_members": _conformed(
            "run_members", {"run": ["F000000000042"] * 2, "shot_key": ["day1/101", "day1/102"], "weight": 0.5}
        ),
        "control_residuals": _conformed(
            "control_residuals", {"mark": ["CP-1"], "session": "A", "shots": 2, "mean_easting": 0.012, "worst": 0.02}
        ),
        "evidence": _conformed("evidence", {**evidence, "weight": 0.5}),
        "flags": _conformed("flags", flag),
    }


def make_results() -> Results:
    """The whole small result."""
    where = frame()
    return Results(
        title=Title(name="Tannery Lane, phase 0", revision="Design rev. B", date="2026-03-20"),
        layers=Layers(make_layers(where), frame=where),
        summary=MappingProxyType({"reported": {"OUT": 3, "IN": 3, "UNDECIDED": 1, "NO_DATA": 1}, "mean": float("nan")}),
        record=MappingProxyType({"steps": ["offsets"], "versions": {"geoqa": "0.1.0"}}),
        notes=("One check could not be made: no elevations in control.",),
    )


@pytest.fixture
def results() -> Results:
    """Give a fresh small result."""
    return make_results()
