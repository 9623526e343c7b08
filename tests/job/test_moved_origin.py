"""A design whose origin was moved or turned is told with the lines for it; pasted, they bring planted defects back.

Nothing is found by the program that makes the cases: the shift is what the test subtracts.
"""

import json
import re

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geoqa.errors import JobError
from geoqa.frames.systems.factors import combined_factor
from geoqa.frames.systems.resolve import resolve
from geoqa.job.check import check
from geoqa.job.run import run

pytestmark = pytest.mark.long

ZONES = {"ft": ("EPSG:6547", 2_228_000.0, 446_000.0), "ftUS": ("EPSG:2277", 3_113_000.0, 10_071_000.0)}
ELL = np.array([[0.0, 0.0], [310.0, 40.0], [420.0, 260.0], [300.0, 420.0], [330.0, 700.0]])
STREET = np.column_stack([np.linspace(0.0, 900.0, 5), np.zeros(5)])
MARKS = np.array([[-40.0, -30.0], [500.0, 60.0], [380.0, 500.0], [120.0, 650.0]])
BAD = (7, 23)
"""Shots that lie 0.9 ft across their line and are planted to be found."""


def turned(places, degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return places @ np.array([[c, s], [-s, c]])


class Site:
    """One street with two lines, as-built with two defects, and a design that was moved."""

    def __init__(self, folder, unit, *, line=ELL, beside=(8.0, -6.0), seed=5):
        self.folder, self.unit = folder, unit
        self.code, *origin = ZONES[unit]
        self.origin, rng = np.array(origin), np.random.default_rng(seed)
        self.lines = {"WF-1": line, "WF-2": np.add(line, beside)}
        self.shots, across = [], 0
        for places in self.lines.values():
            for share in np.linspace(0.03, 0.97, 20) * (len(places) - 1):
                nth = int(share)
                run_ = places[nth + 1] - places[nth]
                left = np.array([-run_[1], run_[0]]) / np.hypot(*run_)
                off = 0.9 if across in BAD else rng.normal(0, 0.03)
                self.shots.append(places[nth] + (share - nth) * run_ + off * left)
                across += 1

    def write(self, move, *, marks=None, extra="", frame="", moved_lines=(0, 1), control=True):
        shots = np.array(self.shots) + self.origin
        rows = [f"{n},{e:.3f},{no:.3f},900.0,WKF,day" for n, (e, no) in enumerate(shots, 1)]
        rows += [f"c{n},{e:.3f},{no:.3f},900.0,CHK,CP-{n}" for n, (e, no) in enumerate(MARKS + self.origin, 1)]
        (self.folder / "shots.csv").write_text(
            "point,easting,northing,elevation,code,line_id\n" + "\n".join(rows) + "\n"
        )
        rows = [f"CP-{n},{e:.3f},{no:.3f},900.0" for n, (e, no) in enumerate(MARKS + self.origin, 1)]
        (self.folder / "control.csv").write_text("mark,easting,northing,elevation\n" + "\n".join(rows) + "\n")
        (self.folder / "codes.csv").write_text(
            "code,kind,geometry,role\nWKF,walk-front,line,feature\nCHK,control,point,check\n"
        )
        shapes = [
            shapely.LineString(move(each + self.origin) if nth in moved_lines else each + self.origin)
            for nth, each in enumerate(self.lines.values())
        ]
        (self.folder / "design.gpkg").unlink(missing_ok=True)
        table = {"name": list(self.lines), "kind": ["walk-front"] * 2}
        gpd.GeoDataFrame(table, geometry=shapes, crs=self.code).to_file(self.folder / "design.gpkg", layer="lines")
        if marks is not None:
            points = [shapely.Point(*each) for each in marks]
            table = {"name": [f"CP-{n}" for n in range(1, len(marks) + 1)], "kind": ["mark"] * len(marks)}
            gpd.GeoDataFrame(table, geometry=points, crs=self.code).to_file(self.folder / "design.gpkg", layer="points")
        path = self.folder / "job.toml"
        listed = '[control]\nfile = "control.csv"\n' if control else ""
        path.write_text(
            f'[job]\nname = "x"\n[frame]\nhorizontal = "{self.code}"\n{frame}\n[[shots]]\nfile = "shots.csv"\n{listed}'
            f'[codes]\nfile = "codes.csv"\n[[design]]\nfile = "design.gpkg"\n{extra}\n'
            f'[tolerance.walk-front]\nhorizontal = "0.40 {self.unit}"\nreference = "C-101"\n'
        )
        return path


def lines_of(said):
    frame = re.search(r"add to \[frame\] the four lines: (.*); and to ", said)[1].split("; ", 3)
    return "\n".join(frame) + "\n", re.search(r"and to \[\[design\]\] of design the line: (.*?)\. Nothing", said)[1]


def said_of(path):
    """What check says of the origin, also where the file is refused for lying outside."""
    found = check(path)
    told = [*found.doubts, *(line for each in found.problems for line in each.split("\n"))]
    return [each.strip() for each in told if "Was the origin" in each or "ground coordinates:" in each]


def failed(results):
    rows = results.layers["findings"]
    return set(rows.loc[rows["verdict"].eq("OUT"), "shot"].dropna().str.split("/").str[-1])


@pytest.mark.parametrize(
    ("unit", "shift"), [("ft", (-2_000_000.0, 0.0)), ("ftUS", (-1_000.0, -3_000.0)), ("ftUS", (-1_812.5, 640.25))]
)
def test_a_shift_found_on_named_marks_pasted_into_the_job_finds_the_defects(tmp_path, unit, shift):
    site = Site(tmp_path, unit)
    marks = MARKS + site.origin + shift
    (said,) = said_of(site.write(lambda places: places + shift, marks=marks))
    assert "CP-1, CP-2, CP-3 and CP-4" in said
    assert "Nothing was changed" in said
    frame, line = lines_of(said)
    assert json.loads(re.search(r"ground_shift = (\[.*\])", frame)[1]) == pytest.approx(shift, abs=0.001)
    path = site.write(lambda places: places + shift, marks=marks, frame=frame, extra=line)
    assert said_of(path) == []
    assert failed(run(path, write=False)) >= {str(each + 1) for each in BAD}


@pytest.mark.parametrize(("unit", "shift"), [("ftUS", (-2_000_000.0, 0.0)), ("ft", (-1_812.5, 640.25))])
def test_a_shift_found_on_the_shots_alone_does_so_too(tmp_path, unit, shift):
    site = Site(tmp_path, unit)
    (said,) = said_of(site.write(lambda places: places + shift))
    assert "40 of 40 shots lie on design of their kind" in said
    frame, line = lines_of(said)
    found = json.loads(re.search(r"ground_shift = (\[.*\])", frame)[1])
    if shift[1]:
        u = float(re.search(r"± ([\d.]+) ft", said)[1])
        assert np.hypot(*np.subtract(found, shift)) < 4 * u < 0.4
        assert "What the work as a whole is off by is in that number" in said
    else:
        assert found == list(shift)
    path = site.write(lambda places: places + shift, frame=frame, extra=line)
    assert said_of(path) == []
    assert failed(run(path, write=False)) >= {str(each + 1) for each in BAD}


@pytest.mark.parametrize("unit", ZONES)
def test_nothing_is_said_of_a_design_in_place_or_of_a_few_displaced_lines(tmp_path, unit):
    site = Site(tmp_path, unit)
    assert said_of(site.write(lambda places: places, marks=MARKS + site.origin)) == []
    assert said_of(site.write(lambda places: np.add(places, [500.0, 0.0]), moved_lines=(1,))) == []


def test_marks_drawn_elsewhere_beside_lines_in_place_move_nothing(tmp_path):
    site = Site(tmp_path, "ft")
    assert said_of(site.write(lambda places: places, marks=MARKS + site.origin + [800.0, 0.0])) == []


def test_marks_and_lines_that_contradict_each_other_propose_nothing(tmp_path):
    site = Site(tmp_path, "ft")
    (said,) = said_of(site.write(lambda places: places - [3_000.0, 0.0], marks=MARKS + site.origin + [800.0, 0.0]))
    assert "contradict each other" in said
    assert "What would settle it" in said
    assert "ground_shift" not in said


def test_marks_that_disagree_propose_nothing_and_one_odd_mark_is_named(tmp_path):
    site = Site(tmp_path, "ft")
    marks = MARKS + site.origin - [3_000.0, 0.0]
    (said,) = said_of(
        site.write(lambda places: places - [3_000.0, 0.0], marks=np.add(marks, [[0, 0], [9, 0], [0, 7], [0, 0]]))
    )
    assert "by no one shift or turn" in said
    assert "ground_shift" not in said
    (said,) = said_of(
        site.write(lambda places: places - [3_000.0, 0.0], marks=np.add(marks, [[0, 0], [9, 0], [0, 0], [0, 0]]))
    )
    assert "CP-2 does not" in said
    assert "ground_shift = [-3000.0, 0.0]" in said


def line_of(said):
    return re.search(r"add to \[\[design\]\] of design the line: (local = .*? \})\. Nothing", said)[1]


@pytest.mark.parametrize(
    ("unit", "degrees", "shift"),
    [("ft", 12.5, (700.0, 50.0)), ("ftUS", -91.25, (-3_100_000.0, -10_000_000.0)), ("ft", 1.3, (0.0, 0.0))],
)
def test_a_turn_found_on_named_marks_pasted_into_the_job_finds_the_defects(tmp_path, unit, degrees, shift):
    site = Site(tmp_path, unit)

    def move(places):
        return turned(places - site.origin - [250.0, 300.0], degrees) + site.origin + [250.0, 300.0] + shift

    marks = move(MARKS + site.origin)
    (said,) = said_of(site.write(move, marks=marks))
    turn, se = (float(each) for each in re.search(r"turned by ([-+\d.]+)° ± ([\d.]+)°", said).groups())
    assert turn == pytest.approx(degrees, abs=0.001)
    assert se < 0.001
    assert "40 of 40 shots lie near design of their kind" in said
    assert "ground_shift" not in said
    path = site.write(move, marks=marks, extra=line_of(said))
    assert said_of(path) == []
    (told,) = [each for each in check(path).remarks if each.startswith("design.gpkg: local origin")]
    assert "and all is turned back by" in told
    assert failed(run(path, write=False)) == {str(each + 1) for each in BAD}


def test_a_turned_design_without_marks_proposes_nothing(tmp_path):
    site = Site(tmp_path, "ft")
    (said,) = said_of(site.write(lambda places: turned(places - site.origin, 12.5) + site.origin + [700.0, 50.0]))
    assert "no shift alone" in said
    assert "three control marks" in said


def test_marks_that_are_turned_beside_lines_in_place_turn_nothing(tmp_path):
    site = Site(tmp_path, "ft")
    marks = turned(MARKS, 2.0) + site.origin
    assert said_of(site.write(lambda places: places, marks=marks)) == []
    (said,) = said_of(site.write(lambda places: places - [3_000.0, 0.0], marks=marks))
    assert "contradict each other" in said
    assert "local =" not in said


def test_a_turned_plan_on_the_ground_is_told_its_scale_and_given_no_line(tmp_path, monkeypatch):
    monkeypatch.setitem(globals(), "MARKS", MARKS * 8)
    site = Site(tmp_path, "ft")

    def move(places):
        return turned(places - site.origin, 30.0) * 1.0003 + site.origin - [5_000.0, 0.0]

    (said,) = said_of(site.write(move, marks=move(MARKS + site.origin)))
    assert "1.00030" in said
    assert "local =" not in said


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('local = { point = [0.0, 0.0], at = [1.0, 1.0], turn_deg = 400.0, reference = "C-1" }', "less than or equal"),
        ("local = { point = [0.0, 0.0], at = [1.0, 1.0], turn_deg = 4.0 }", "reference"),
        ('local = { point = [0.0], at = [1.0, 1.0], turn_deg = 4.0, reference = "C-1" }', "point"),
        ('local = { point = [0.0, inf], at = [1.0, 1.0], turn_deg = 4.0, reference = "C-1" }', "finite"),
    ],
)
def test_a_local_origin_that_is_not_whole_is_refused_with_its_place(tmp_path, line, said):
    path = Site(tmp_path, "ft").write(lambda places: places, extra=line)
    with pytest.raises(JobError, match=said):
        check(path)


def test_along_a_straight_street_nothing_is_proposed_but_whole_thousands(tmp_path):
    site = Site(tmp_path, "ft", line=STREET)
    (said,) = said_of(site.write(lambda places: np.add(places, [-312.0, 840.0])))
    assert "several shifts" in said
    assert "What would settle it" in said
    assert "ground_shift" not in said
    (said,) = said_of(site.write(lambda places: places - [1_000.0, 400_000.0]))
    assert "ground_shift = [-1000.0, -400000.0]" in said


def test_the_other_foot_and_ground_coordinates_make_such_shifts_too(tmp_path):
    site = Site(tmp_path, "ftUS", line=ELL[1:, ::-1], beside=(-40.0, -900.0))
    (said,) = said_of(site.write(lambda places: places * 1.000002))
    assert 'set unit = "ft" in [[design]]' in said
    assert "ground_shift" not in said
    factor = combined_factor(resolve(site.code), *site.origin[:, None], [800.0])[0]
    (said,) = said_of(site.write(lambda places: places / factor - [3_000_000.0, 10_000_000.0]))
    assert "ground coordinates about 0, 0" in said
    assert "ground_shift" not in said


def test_a_job_with_ground_coordinates_of_its_own_is_not_given_others(tmp_path):
    site = Site(tmp_path, "ft")
    frame = 'combined_factor = 0.9999\nground_origin = [2228000.0, 446000.0]\nground_reference = "C-001"\n'
    (said,) = said_of(site.write(lambda places: places - [5_000.0, 0.0], frame=frame))
    assert "states other ground coordinates already" in said
    assert "ground_shift" not in said


def test_without_control_the_shots_may_be_the_moved_ones(tmp_path):
    path = Site(tmp_path, "ft").write(lambda places: places - [5_000.0, 0.0], control=False)
    (said,) = said_of(path)
    assert run(path, write=False).notes.count(said) == 1
    assert "it may be they that were moved" in said


def test_a_design_of_which_nothing_is_built_yet_is_left_alone(tmp_path):
    site = Site(tmp_path, "ft")
    path = site.write(lambda places: places)
    table = {"name": ["WF-9", "WF-10"], "kind": ["walk-front"] * 2}
    later = [shapely.LineString(each + site.origin + [2_000.0, 300.0]) for each in site.lines.values()]
    gpd.GeoDataFrame(table, geometry=later, crs=site.code).to_file(tmp_path / "later.gpkg", layer="lines")
    path.write_text(path.read_text() + '[[design]]\nid = "later"\nfile = "later.gpkg"\n')
    assert said_of(path) == []
