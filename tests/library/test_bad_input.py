"""What bad input gets, for a whole job from tables and for every piece: a sentence of ours, or an answer.

Each row holds what is wrong, and the sentence of each function it concerns: where, what, and what next. Whatever comes,
nothing from below shows, no warning is given, and what was handed over stays as it was.
"""

import copy
import warnings

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely
from pandas.testing import assert_frame_equal

import geoqa
from geoqa.errors import GeoqaError

EAST, NORTH, CRS = 2_228_000.0, 444_000.0, "EPSG:6547"
PLACES = np.array([[20, -0.02, 1457.21], [70, -0.5, 1457.69], [50, 0, 1457.5], [90, 0.1, 1457.9]])
PLACES[:, :2] += EAST, NORTH
TOLERANCES = {"walk-front": {"horizontal": "0.15 ft", "vertical": "0.06 ft", "reference": "C-101"}}
OF_A_FILE = ("job file", "[frame]", "[[", "= {", "this file", "[tolerance")


def points(shapes=None, crs=CRS, index=None, **columns):
    own = {
        "code": ["WKF"] * 4, "shot": list("ABCD"), "mark": list("ABCD"), "session": ["s"] * 4,
        "time": pd.to_datetime(["2026-03-14T14:00Z"] * 4),
    }  # fmt: skip
    shapes = shapely.points(PLACES) if shapes is None else shapes
    return geopandas.GeoDataFrame(own | columns, geometry=list(shapes), crs=crs, index=index)


def flat(table):
    return table.set_geometry(shapely.force_2d(table.geometry))


def lines(shape=None, crs=CRS, index=None, **columns):
    walk = shapely.LineString([(EAST, NORTH, 1457), (EAST + 100, NORTH, 1458)]) if shape is None else shape
    return geopandas.GeoDataFrame({"kind": ["walk-front"], "name": ["W-1"]} | columns, geometry=[walk], crs=crs,
                                  index=index)  # fmt: skip


def twice(table):
    return pd.concat([table, table])


SEVERAL = shapely.MultiLineString([[(EAST, NORTH), (EAST + 40, NORTH)], [(EAST + 50, NORTH), (EAST + 99, NORTH)]])
with np.errstate(invalid="ignore"):  # a vertex without a place can be made, with a warning
    BROKEN = shapely.LineString([(EAST, NORTH), (np.nan, NORTH)])
DEGREES = (
    points(shapely.points([[-100.0, 46.0, 1.0]] * 4), crs="EPSG:4326"),
    lines(shapely.LineString([(-100, 46, 1), (-100, 46.01, 1)]), crs="EPSG:4326"),
)
PIECES = {
    "assess": lambda p, w, **more: geoqa.assess(
        p, w, **{"frame": CRS, "codes": {"WKF": "walk-front"}, "tolerances": TOLERANCES} | more
    ),
    "layers": lambda p, w, **more: geoqa.Layers.from_tables(
        **{"shots": p, "design_lines": w, "frame": CRS, "limits": TOLERANCES} | more
    ),
    "station_offset": lambda p, w, **more: geoqa.station_offset(p, w, **more),
    "match": lambda p, w, **more: geoqa.match(p, w, **more),
    "deviations": lambda p, w, **more: geoqa.deviations(p, w, **more),
    "tolerance_bands": lambda p, w, **more: geoqa.tolerance_bands(w, **{"left": "0.1 ft", "right": "0.1 ft"} | more),
    "coverage": lambda p, w, **more: geoqa.coverage(
        geoqa.station_offset(points(), lines()), w, **{"spacing": "30 ft"} | more
    ),
    "control_residuals": lambda p, w, **more: geoqa.control_residuals(
        p, points().set_index("mark"), **{"mark": "mark", "u_h": "0.02 ft", "u_v": "0.02 ft"} | more
    ),
    "site_fit": lambda p, w, **more: geoqa.site_fit(
        p, points().set_index("mark"), **{"mark": "mark", "u_h": "0.02 ft", "u_v": "0.02 ft"} | more
    ),
    "repeat_statistics": lambda p, w, **more: geoqa.repeat_statistics(p, **{"point": "mark", "time": "time"} | more),
    "convert": lambda p, w, **more: geoqa.convert(p, **{"to": "EPSG:6546", "elevation_unit": "ft"} | more),
    "combined_factor": lambda p, w, **more: geoqa.combined_factor(p, **{"ellipsoid_height": "1400 ft"} | more),
    "frame_candidates": lambda p, w, **more: geoqa.frame_candidates(p, **{"near": points()} | more),
    "judge": lambda p, w, **more: geoqa.judge(
        pd.Series([0.1, 0.2]), **{"lower": "-0.1 ft", "upper": "0.1 ft", "u": "0.02 ft", "unit": "ft"} | more
    ),
    "runs": lambda p, w, **more: geoqa.runs(
        pd.Series([0.06] * 5), **{"line": ["a"] * 5, "station": [0.0, 10, 20, 30, 40], "lower": "-0.1 ft",
                                  "upper": "0.1 ft", "u_random": "0.03 ft", "unit": "ft"} | more
    ),
}  # fmt: skip
PLANAR = ("station_offset", "match", "deviations")
OF_LINES = ("tolerance_bands", "coverage")
OF_SHOTS = ("control_residuals", "site_fit", "repeat_statistics")
OF_POINTS = ("convert", "combined_factor")
FINE = ""
"""Where it is no fault: an answer comes, and rows are kept."""


def same(words, *names):
    return dict.fromkeys(names, words)


CASES = {
    "no system": (
        lambda: (points(crs=None), lines(crs=None)),
        {
            "assess": 'shots: its GeoDataFrame has no coordinate reference system, so nobody says what its numbers are',
            "layers": "shots have no coordinate system, so nobody knows the unit of their lengths. State the one they",
            **same("points have no coordinate system, so nobody knows the unit", *PLANAR, *OF_POINTS),
            **same("lines have no coordinate system, so nobody knows the unit", *OF_LINES),
            **same("shots have no coordinate system, so nobody knows the unit", *OF_SHOTS),
            "frame_candidates": FINE,
        },
    ),
    "another system": (
        lambda: (points(crs="EPSG:6559"), lines()),
        {
            "assess": "shots: is in NAD83(2011) / Oregon North (ft) (international foot), the job in NAD83(2011) / Nor",
            "layers": "shots are in NAD83(2011) / Oregon North (ft) (international foot), the layers in NAD83(2011) / ",
            **same(
                "points are in NAD83(2011) / Oregon North (ft) (international foot), lines in NAD83(2011) / North "
                "Dakota South (ft) (international foot); bring one of the two into the system of the other with",
                *PLANAR,
            ),
            **same("shots are in NAD83(2011) / Oregon North (ft) (international foot), marks in", *OF_SHOTS[:2]),
            "convert": "positions lie outside the area of use",
        },
    ),
    "another system of the design": (
        lambda: (points(), lines(crs="EPSG:6546")),
        {
            "assess": 'design: is in NAD83(2011) / North Dakota South (metre), the job in',
            "layers": "design_lines are in NAD83(2011) / North Dakota South (metre), the layers in NAD83(2011) / North",
            **same("lines in NAD83(2011) / North Dakota South (metre); bring one of the two", *PLANAR),
        },
    ),
    "the other foot": (
        lambda: (points(crs="EPSG:6565"), lines(crs="EPSG:2265")),
        {
            "assess": "shots: is in NAD83(2011) / Pennsylvania South (ftUS) (US survey foot), the job in",
            **same("points are in NAD83(2011) / Pennsylvania South (ftUS) (US survey foot), lines in", *PLANAR),
        },
    ),
    "degrees": (
        lambda: DEGREES,
        {
            "assess": "shots: is in WGS 84, in degrees; nothing is measured in degrees. Project it",
            "layers": "shots are in degrees (WGS 84); lengths, offsets and tolerances need a projected system",
            **same("points are in degrees (WGS 84); lengths, offsets and tolerances need", *PLANAR, *OF_POINTS),
            **same("lines are in degrees (WGS 84); lengths, offsets and tolerances need", *OF_LINES),
            **same("shots are in degrees (WGS 84); lengths, offsets and tolerances need", *OF_SHOTS),
        },
    ),
    "points in 2D": (
        lambda: (flat(points()), lines()),
        {
            "deviations": "points have no elevations; give them in 3D, for example geopandas.points_from_xy",
            **same(FINE, "assess", "layers", "station_offset", "match", *OF_LINES, *OF_SHOTS, *OF_POINTS),
        },
    ),
    "lines in 2D": (
        lambda: (points(), flat(lines())),
        {
            "deviations": "lines have no elevations, so there is nothing to compare with; use match for offsets, or g",
            **same(FINE, "assess", "layers", "station_offset", "match", *OF_LINES),
        },
    ),
    "lines of several parts": (
        lambda: (points(), lines(SEVERAL)),
        {
            "assess": FINE,
            "layers": "design_lines: 1 MultiLineStrings of several parts, the first in row 0; stations across a gap",
            **same(
                "lines: 1 MultiLineStrings of several parts, the first in row 0; stations across a gap would be "
                "invented. Make each part a line of its own: lines.explode(ignore_index=True)",
                *PLANAR,
                *OF_LINES,
            ),
        },
    ),
    "points of several parts": (
        lambda: (points([shapely.MultiPoint([each]) for each in PLACES]), lines()),
        {
            "assess": "'shots': row 1 is a MultiPoint, and a row here is one Point (4 such). Take parts apart with exp",
            "layers": "shots: 4 rows are no points, the first is a MultiPoint (row 0); give points",
            **same("points: 4 rows are no points, the first is a MultiPoint (row 0); give", *PLANAR, "combined_factor"),
            **same("shots: 4 rows are no points, the first is a MultiPoint (row 0); give points", *OF_SHOTS),
            "frame_candidates": "points: 4 rows are no points",
        },
    ),
    "lines for points": (
        lambda: (lines(code=["WKF"], mark=["A"], time=pd.to_datetime(["2026-03-14T14:00Z"])), points(kind=["a"] * 4)),
        {
            "assess": "'shots': row 1 is a LineString, and a row here is one Point (1 such)",
            "layers": "shots: 1 row is no point, the first is a LineString (row 0)",
            **same("points: 1 row is no point, the first is a LineString (row 0)", *PLANAR, "combined_factor"),
            **same("lines: 4 rows are no lines, the first is a Point (row 0); give LineStrings", *OF_LINES),
            **same("shots: 1 row is no point, the first is a LineString", *OF_SHOTS),
        },
    ),
    "empty and missing points": (
        lambda: (points([shapely.Point(), None, *shapely.points(PLACES[2:])]), lines()),
        same(FINE, "assess", "layers", *PLANAR, *OF_SHOTS, *OF_POINTS, "frame_candidates"),
    ),
    "an empty line": (
        lambda: (points(), lines(shapely.LineString())),
        {
            "assess": "'design' holds no design line and no design point that can be read.",
            **same(FINE, "layers", "station_offset", "match", *OF_LINES),
        },
    ),
    "a vertex without a place": (
        lambda: (points(), lines(BROKEN)),
        {
            "assess": "'W-1' has a vertex without a place on the earth; not read",
            "layers": "design_lines: a vertex of row 0 has no place; leave that line out or mend it",
            **same("lines: a vertex of row 0 has no place; leave that line out or mend it", *PLANAR, *OF_LINES),
        },
    ),
    "a repeated index": (
        lambda: (points(index=[0, 1, 1, 2]).drop(columns="shot"), twice(lines().drop(columns="name"))),
        {
            "assess": "shots: its index holds '1' more than once (1 such row), and results come back on that index; m",
            "layers": "shots.shot_key (source/name; repeats get ~2 … by time, easting, northing) holds 'shots/1' m",
            **same("lines: two of them are called 0 in the index, and an answer could not say", *PLANAR, "coverage"),
            **same(FINE, *OF_SHOTS, *OF_POINTS),
        },
    ),
    "numbers held as objects": (
        lambda: (points(pdop=np.array([1.5, "2", None, 3], dtype=object)), lines()),
        {"assess": FINE, "layers": "shots.pdop is of dtype object and not of numbers; turn it into numbers"},
    ),
    "no columns": (
        lambda: (points()[["geometry"]], lines()[["geometry"]]),
        {
            "assess": 'State the attribute that holds the kind, e.g. declared={"design": {"kind_field": "type"}}',
            "layers": "design_lines.kind (text: feature kind) is missing; give it, or read it",
            **same("shots have no column 'mark' for mark; they have geometry", *OF_SHOTS[:2]),
            "repeat_statistics": "shots have no column 'mark' for point; they have geometry",
            **same(FINE, *PLANAR, *OF_LINES, *OF_POINTS),
        },
    ),
    "no geometry": (
        lambda: (pd.DataFrame({"a": [1.0], "northing": [NORTH], "code": ["WKF"]}), pd.DataFrame({"kind": ["a"]})),
        {
            "assess": "design: is a table without a geometry; give a GeoDataFrame of lines and points",
            "layers": "shots.easting (number, in the unit of the frame: in the job's frame) is missing; give it, or a ",
            **same("without geometry; give a GeoDataFrame or a GeoSeries", *PLANAR, *OF_LINES, *OF_SHOTS, *OF_POINTS),
        },
    ),
    "no tables": (
        lambda: ([1.0], "lines"),
        {
            "assess": "shots: must be a GeoDataFrame, a DataFrame or the path of a file, and is a list",
            "layers": "shots must be a DataFrame or GeoDataFrame, and is a list",
            **same("without geometry; give a GeoDataFrame or a GeoSeries", *PLANAR, *OF_LINES, *OF_SHOTS, *OF_POINTS),
        },
    ),
    "no rows": (
        lambda: (points().iloc[:0], lines().iloc[:0]),
        {"assess": "shots: has no rows", **same(FINE, "layers", *PLANAR, "tolerance_bands", *OF_POINTS)},
    ),
    "kinds without tolerance": (
        lambda: (points(), lines(kind=["curb"])),
        same(FINE, "assess", "layers"),
    ),
}  # fmt: skip
ROWS = [(case, piece) for case, (_, expected) in CASES.items() for piece in expected]

SAID = {
    "assess": [
        ({"frame": "EPSG:4326"}, "frame 'EPSG:4326' is WGS 84, a geographic 2D system; distances, offsets and toleran"),
        ({"frame": "EPSG:3857"}, "frame is WGS 84 / Pseudo-Mercator, made for web maps"),
        ({"frame": "North Dakota"}, "frame 'North Dakota' is neither a code such as EPSG:6547 nor a WKT"),
        (
            {"vertical": CRS},
            "vertical 'EPSG:6547' is NAD83(2011) / North Dakota South (ft), a projected system; name a",
        ),
        ({"tolerances": {"rim": {"vertical": "-0.1 ft", "reference": "C"}}}, "limits are written without a sign, and "),
        ({"tolerances": {"rim": {"vertical": 0.1, "reference": "C"}}}, 'tolerances["rim"]["vertical"]: 0.1 has no un'),
        ({"uncertainty": {"rim": {"vertical_random": 0.1, "reference": "C"}}}, "0.1 has no unit; write it as text wi"),
        ({"columns": {"elevation": "Z"}}, "'shots' has no column 'Z'; its columns are code"),
        ({"control": points()[["geometry"]]}, '. State declared={"control": {"columns": {"mark": "..."}}}'),
    ],
    "layers": [
        ({"limits": {"rim": {"vertical": "-0.1 ft", "reference": "C"}}}, "limits are written without a sign, and -0.1"),
        ({"limits": {"rim": {"vertical": 0.1, "reference": "C"}}}, 'limits["rim"]["vertical"]: 0.1 has no unit; writ'),
        ({"uncertainty": {"rim": {"vertical_random": 0.1, "reference": "C"}}}, "0.1 has no unit; write it as text wi"),
        ({"frame": "EPSG:4326"}, "frame 'EPSG:4326' is WGS 84, a geographic 2D system"),
        ({"vertical": "EPSG:4326"}, "vertical 'EPSG:4326' is WGS 84"),
    ],
    "station_offset": [
        ({"max_distance": 10}, 'max_distance is 10, a number without a unit; write it as text, for example "10 ft"'),
        ({"max_distance": "-1 ft"}, "max_distance is -1 ft"),
        ({"line_id": "string"}, "lines have no column 'string' for line_id; they have kind, name, geometry"),
    ],
    "match": [
        ({"scale": 0.5}, 'scale is 0.5, a number without a unit; write it as text, for example "0.5 ft"'),
        ({"alike": "-1 ft"}, "alike is -1 ft; give a length of 0 or more"),
        ({"kind": "what"}, "points have no column 'what' for kind; they have code"),
    ],
    "deviations": [({"max_distance": 10}, "max_distance is 10, a number without a unit")],
    "tolerance_bands": [
        ({"left": 0.1}, 'left is 0.1, a number without a unit; write it as text, for example "0.1 ft"'),
        ({"left": "-0.1 ft"}, "left is -0.1 ft; give a length of 0 or more, it counts outward"),
    ],
    "coverage": [({"spacing": 30}, 'spacing is 30, a number without a unit; write it as text, for example "30 ft"')],
    "control_residuals": [({"u_h": 0.02}, "u_h holds numbers without a unit"), ({"session": "day"}, "no column 'day'")],
    "site_fit": [
        ({"u_v": 0.02}, "u_v holds numbers without a unit"),
        ({"u_h": "-0.1 ft"}, "u_h holds -0.1, and an uncertainty is not negative; give its size"),
    ],
    "convert": [
        ({"accuracy_limit": 0.05}, "accuracy_limit is 0.05, a number without a unit"),
        ({"elevation_unit": None}, "nothing says their unit; state elev"),
        ({"to": 6547}, 'to must be a system, such as "EPSG:6547", and is a int'),
        ({"to": "EPSG:4326"}, "to 'EPSG:4326' is WGS 84, a geographic 2D system"),
    ],
    "combined_factor": [({"ellipsoid_height": 1400.0}, "ellipsoid_height holds numbers without a unit")],
    "judge": [
        ({"unit": None}, "is a length (-0.1 ft), and the unit of the values is not stated; say unit="),
        ({"upper": "0.1"}, "upper: '0.1' is not a length; write a number and a unit"),
        ({"lower": "0.2 ft"}, "The lower limit 0.2 stands above the upper limit 0.1 (row 0); swap them"),
        ({"u": "-0.1 ft"}, "A standard uncertainty of -0.1 is negative; give its size"),
        ({"u": pd.Series(["0.1", "0.1"])}, "u is of dtype str and not of numbers; turn it into numbers with pandas."),
        ({"u": pd.Series([0.1, 0.1], index=[7, 8])}, "u stands on another index than the values; bring it there with"),
    ],
    "runs": [
        ({"max_gap": 50}, "max_gap is 50, a number without a unit; write it as text"),
        ({"upper": "x"}, "upper: 'x' is not a length"),
        ({"lower": "0.2 ft"}, "lower limit 0.2 stands above the upper limit 0.1 (row 0); swap them"),
        ({"u_random": "-0.1 ft"}, "u_random holds -0.1, and an uncertainty is not negative; give its size"),
    ],
}
SENTENCES = [(piece, number) for piece, rows in SAID.items() for number in range(len(rows))]


def plain_refusal(piece, *tables, **options):
    """What a piece says no with: a sentence of ours, without a warning and without the words of a job file."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(GeoqaError) as caught:
            PIECES[piece](*tables, **options)
    said = str(caught.value)
    assert not [words for words in OF_A_FILE if words in said], said
    return said


def unchanged(table, before):
    if isinstance(table, pd.DataFrame):
        assert_frame_equal(pd.DataFrame(table), pd.DataFrame(before))
        assert getattr(table, "crs", None) == getattr(before, "crs", None)
    else:
        assert table == before


@pytest.mark.parametrize(("case", "piece"), ROWS, ids=[" - ".join(row) for row in ROWS])
def test_bad_tables(case, piece):
    make, expected = CASES[case]
    tables = make()
    before = copy.deepcopy(tables)
    if expected[piece]:
        assert expected[piece] in plain_refusal(piece, *tables)
    else:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            assert PIECES[piece](*tables) is not None
    for table, old in zip(tables, before, strict=True):
        unchanged(table, old)


@pytest.mark.parametrize(("piece", "number"), SENTENCES, ids=[f"{piece} {number}" for piece, number in SENTENCES])
def test_bad_arguments(piece, number):
    options, words = SAID[piece][number]
    tables = points(), lines()
    before, kept = copy.deepcopy(tables), copy.deepcopy(options)
    assert words in plain_refusal(piece, *tables, **options)
    for table, old in zip((*tables, *options.values()), (*before, *kept.values()), strict=True):
        if not isinstance(table, pd.Series):
            unchanged(table, old)


@pytest.mark.long
def test_rows_without_a_place_stay_rows_and_are_not_judged():
    tables = CASES["empty and missing points"][0]()
    for piece in PLANAR:
        found = PIECES[piece](*tables)
        assert found["offset"].isna().tolist() == [True, True, False, False]
    found = PIECES["assess"](*tables)
    assert len(found.shots) == 4
    offsets = found.findings.query("check == 'offset' and shot.notna()").set_index("shot")["verdict"]
    assert {offsets.get(f"shots/{name}", "NO_DATA") for name in "AB"} == {"NO_DATA"}
    assert {offsets[f"shots/{name}"] for name in "CD"} <= {"IN", "OUT", "UNDECIDED"}


@pytest.mark.long
def test_what_has_no_elevation_or_no_tolerance_is_never_judged_in():
    for tables in (CASES["points in 2D"][0](), CASES["lines in 2D"][0]()):
        found = PIECES["assess"](*tables).findings.query("check == 'elevation'")
        assert set(found["verdict"]) == {"NO_DATA"}
    found = PIECES["assess"](*CASES["kinds without tolerance"][0]())
    assert not (found.findings["verdict"] == "IN").any()
    assert len(found.shots) == 4
