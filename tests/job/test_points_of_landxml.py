"""Points of LandXML as shots and as marks: whoever names such a file means its points, in every command."""

import pytest

from bench import landxml as made
from geoqa.job.check import check
from geoqa.job.day import DayFiles, day
from geoqa.job.document.load import load
from geoqa.job.inputs.intake import take_in

EAST, NORTH = 2_228_000.0, 444_000.0
JOB = """[job]
name = "Points"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "field.xml"
[control]
file = "field.xml"
only = ["CP"]
[codes]
file = "codes.csv"
"""


@pytest.fixture
def folder(tmp_path):
    walk = made.Walk(EAST, NORTH, 0.0).line(90.0)
    shots = [made.cg_point(f"{100 + at}", (EAST + 10 * at, NORTH, 900.0 + at), code="CTB") for at in range(6)]
    marks = [made.cg_point(f"CP{at}", (EAST + 40 * at, NORTH + 60, 900.0 + at)) for at in range(2)]
    lines = made.plan_features(made.plan_feature("CURB", walk.geometry()))
    text = made.document(made.cg_points(*shots, *marks), lines, version="1.2", unit="ft")
    (tmp_path / "field.xml").write_text(text, encoding="utf-8")
    (tmp_path / "codes.csv").write_text("code,kind,geometry\nCTB,curb-top,line\n", encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return tmp_path


def test_check_and_run_agree_on_a_file_of_points_and_lines(folder):
    intake = take_in(load(folder / "job.toml"))
    assert len(intake.layers["shots"]) == 8
    checked = check(folder / "job.toml")
    assert checked.problems == ()
    assert [each for each in checked.remarks if "it looks like design: [[design]] file = …" in each] == [
        'field.xml: holds 8 CgPoint, 1 PlanFeature; it looks like design: [[design]] file = …; its points as control '
        'marks are [control] file = …, only = ["CP"].'
    ]  # fmt: skip


@pytest.mark.long
def test_a_day_of_landxml_points_is_read(folder):
    results = day(DayFiles(shots=folder / "field.xml", frame="EPSG:6547"))
    assert len(results.layers["shots"]) == 8
