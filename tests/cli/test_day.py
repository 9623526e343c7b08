"""`geoqa day` as a crew types it."""

import os
import shlex

import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.simulate import make, write


def geoqa(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def field(tmp_path_factory):
    folder = tmp_path_factory.mktemp("field")
    write(make(seed=2, plants=("T13",)), folder)
    return folder


@pytest.mark.long
def test_something_to_do_before_leaving_ends_with_one_and_is_said_in_plain_words(field):
    said = geoqa("day", field / "shots/day2.csv", "--frame", "EPSG:6547", "--control", field / "control.csv")
    assert said.exit_code == 1
    assert "Before you leave:" in said.output
    assert "Rod leaned too far" in said.output
    assert "re-shoot with the rod plumb" in said.output
    assert (field / "shots/day2-day/day.html").exists()


@pytest.mark.long
def test_a_day_without_anything_urgent_ends_with_zero(field, tmp_path):
    said = geoqa("day", field / "shots/day1.csv", "--frame", "EPSG:6547", "--out", tmp_path / "page")
    assert said.exit_code == 0, said.output
    assert (tmp_path / "page" / "day.html").exists()


def test_without_a_frame_the_command_asks_for_one_and_ends_with_two(field):
    said = geoqa("day", field / "shots/day2.csv", "--design", field / "design.gpkg")
    assert said.exit_code == 2
    assert "--frame is needed" in said.output
    assert "zone North Dakota South" in said.output


def test_a_file_that_is_not_there_is_a_usage_error(tmp_path):
    assert geoqa("day", tmp_path / "none.csv", "--frame", "EPSG:6547").exit_code == 2


@pytest.mark.long
def test_a_job_is_answered_with_what_to_type_instead(field, tmp_path):
    job = next(field.glob("*.toml"))
    said = geoqa("day", job)
    assert said.exit_code == 2
    assert f"{job.name} is a job file; day takes the files of shots" in said.output
    typed = shlex.split(next(line for line in said.output.splitlines() if "geoqa day" in line))
    assert typed[2:4] == [os.path.relpath(field / f"shots/day{nth}.csv") for nth in (1, 2)]
    assert typed[4:8] == ["--frame", "EPSG:6547", "--control", os.path.relpath(field / "control.csv")]
    assert f"geoqa run {os.path.relpath(job)}" in said.output
    assert geoqa(*typed[1:], "--out", tmp_path / "page").exit_code in (0, 1)  # and it does what was asked
    (tmp_path / "broken.toml").write_text("[job\n")
    assert "geoqa day FILE.csv --frame EPSG:6547" in geoqa("day", tmp_path / "broken.toml").output


@pytest.mark.long
def test_a_file_may_have_any_name(field, tmp_path):
    odd = tmp_path / 'Tag "1" – Straße.csv'
    odd.write_bytes((field / "shots" / "day1.csv").read_bytes())
    said = geoqa("day", odd, "--frame", "EPSG:6547")
    assert said.exit_code == 0, said.output
    assert (tmp_path / 'Tag "1" – Straße-day' / "day.html").exists()
    assert geoqa("day", odd, "--frame", "x'''y").exit_code == 3


def test_rows_that_are_not_read_stand_first_in_the_terminal_and_on_the_page(tmp_path):
    rows = [f"{100 + nth},{700000 + 20 * nth}.25,{2000000 + 7 * nth}.50,850.{nth},EP" for nth in range(6)]
    rows[2:2] = ["201,700050.25 2000020.50,850.4,EP", "202,700060.25,2000030.50,850.4"]
    (tmp_path / "pts.txt").write_text("\n".join(rows) + "\n")
    columns = "shot,northing,easting,elevation,code"
    said = CliRunner().invoke(main, ["day", str(tmp_path / "pts.txt"), "--frame", "EPSG:6547", "--columns", columns])
    first, *rest = said.output.splitlines()
    assert first.startswith("pts.txt: 6 shots, ")
    assert first.endswith("2 rows not read: lines 3, 4 of pts.txt")
    assert next(line for line in rest if "1. " in line).strip().startswith("1. 2 rows not read: lines 3, 4 of pts.txt")
    assert said.exit_code == 1
    page = (tmp_path / "pts-day" / "day.html").read_text(encoding="utf-8")
    lead = page[page.index('<p class="lead') :].partition("</p>")[0]
    assert "6 shots were looked at. 2 rows not read: lines 3, 4 of pts.txt." in lead


def test_check_counts_rows_that_are_not_read_and_asks_no_order_that_control_settles(tmp_path):
    rows = [f"{100 + nth},{446000 + 20 * nth}.25,{2228500 + 7 * nth}.50,850.{nth},EP" for nth in range(6)]
    (tmp_path / "pts.txt").write_text("\n".join([*rows, "201,446050.25 2228520.50,850.4,EP"]) + "\n")
    (tmp_path / "control.csv").write_text("mark,northing,easting,elevation\nCP1,446010.0,2228510.0,850.0\n")
    job = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[control]\nfile = "control.csv"\n'
    (tmp_path / "job.toml").write_text(job + '[[shots]]\nfile = "pts.txt"\n')
    said = geoqa("check", tmp_path / "job.toml")
    assert said.exit_code == 1, said.output
    assert "! 1 row not read: line 7 of pts.txt" in said.output
    assert "are in order" not in said.output
    assert "order of columns" not in said.output
    (tmp_path / "pts.txt").write_text("\n".join(rows) + "\n")
    assert geoqa("check", tmp_path / "job.toml").exit_code == 0
