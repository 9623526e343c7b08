"""A design about an origin of its own: init proposes the line that puts it on the grid, and the draft works with it."""

import json
import re

import numpy as np
import pytest
import shapely

from geoqa.job.begin.begin import begin

ORIGIN = np.array([2_228_000.0, 446_000.0])
LINE = np.array([[0.0, 0.0], [310.0, 40.0], [420.0, 260.0], [300.0, 420.0]])
MARKS = np.array([[-40.0, -30.0], [500.0, 60.0], [380.0, 500.0], [120.0, 450.0]])


def turned(places, degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return places @ np.array([[c, s], [-s, c]])


def drafted(folder, *, degrees, by, marks=True):
    """The draft of a folder with one line, shot 24 times, whose plan lies elsewhere."""
    along = np.array(shapely.get_coordinates(shapely.LineString(LINE).interpolate(np.linspace(5, 700, 24))))
    rows = [f"{n},{e:.3f},{no:.3f},900.0,WF" for n, (e, no) in enumerate(along + ORIGIN, 1)]
    (folder / "day.csv").write_text("point,easting,northing,elevation,code\n" + "\n".join(rows) + "\n")
    rows = [f"CP-{n},{e:.3f},{no:.3f},900.0" for n, (e, no) in enumerate(MARKS + ORIGIN, 1)]
    (folder / "control.csv").write_text("mark,easting,northing,elevation\n" + "\n".join(rows) + "\n")
    plan = [("WF-1", "", "walk-front", each) for each in turned(LINE, degrees) + by]
    plan += [("", f"CP-{n}", "mark", each) for n, each in enumerate(turned(MARKS, degrees) + by, 1)] * marks
    rows = [f"{line},{point},{kind},{e:.3f},{no:.3f},900.0" for line, point, kind, (e, no) in plan]
    (folder / "plan.csv").write_text("line,point,kind,easting,northing,elevation\n" + "\n".join(rows) + "\n")
    return begin(folder).path.read_text(encoding="utf-8")


@pytest.mark.parametrize(("degrees", "by"), [(0.0, (1_000.0, 5_000.0)), (-33.0, (1_000.0, 5_000.0))])
def test_the_line_is_proposed_and_codes_are_told_where_shots_lie_by_it(tmp_path, degrees, by):
    text = drafted(tmp_path, degrees=degrees, by=by)
    said = re.search(
        r"^# local = \{ point = (.*), at = (.*), turn_deg = (.*), reference = .*4 named marks", text, re.MULTILINE
    )
    assert float(said[3]) == pytest.approx(degrees, abs=0.001)
    assert np.array(json.loads(said[1])) == pytest.approx(turned(MARKS, degrees).mean(axis=0) + by, abs=0.01)
    assert "#   WF: 24 shots; walk-front, 24 of 24 lie on design of this kind" in text


@pytest.mark.long
def test_in_place_and_without_marks_nothing_is_proposed(tmp_path):
    assert "local = " not in drafted(tmp_path, degrees=0.0, by=ORIGIN)
    for each in tmp_path.iterdir():
        each.unlink()
    assert "local = " not in drafted(tmp_path, degrees=20.0, by=(0.0, 0.0), marks=False)
