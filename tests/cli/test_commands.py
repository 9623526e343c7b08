"""Commands are doors: what they print, and how they end."""

import errno
import json
import os
import re
import shutil
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from geoqa.cli import COMMANDS, main
from geoqa.simulate import make, write


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    return write(make(seed=2), tmp_path_factory.mktemp("demo") / "job")


def geoqa(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


def change(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="\n")


def test_help_lists_every_command_and_answers_at_once():
    began = time.perf_counter()
    said = subprocess.run([sys.executable, "-m", "geoqa", "--help"], capture_output=True, text=True, check=True)
    assert time.perf_counter() - began < 3
    assert all(name in said.stdout for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name):
    said = geoqa(name, "--help")
    assert said.exit_code == 0
    assert "Usage" in said.output


@pytest.mark.long
def test_demo_writes_a_job_and_runs_it_with_exit_zero_although_defects_are_planted(tmp_path):
    said = geoqa("demo", tmp_path / "job", "--seed", "4", "--run")
    assert said.exit_code == 0, said.output
    assert "PRELIMINARY" in said.output
    assert "▲" in said.output
    made = {path.name for path in (tmp_path / "job" / "out").iterdir()}
    assert {"map.html", "record.json", "summary.json", "findings.csv"} <= made
    assert any(name.endswith(".gpkg") for name in made)


@pytest.mark.long
def test_run_ends_with_one_where_there_are_findings_and_zero_when_told_so(demo):
    bare = demo.with_name("bare.toml")  # without control and pages: nothing to write, less to judge
    text = demo.read_text(encoding="utf-8")
    bare.write_text(text[: text.index("[outputs]")] + '[outputs]\nlayers = ["summary"]\npages = []\n', encoding="utf-8")
    assert geoqa("run", bare, "--quiet").exit_code == 1
    assert geoqa("run", bare, "--quiet", "--exit-zero").exit_code == 0


@pytest.mark.long
def test_run_ends_with_two_for_a_job_file_and_three_for_data(demo, tmp_path):
    shutil.copytree(demo.parent, tmp_path / "job")
    job = tmp_path / "job" / demo.name
    change(job, 'rule = "guarded"', 'rule = "perhaps"')
    said = geoqa("run", job)
    assert said.exit_code == 2
    assert "[decision], rule, line" in said.output
    change(job, 'rule = "perhaps"', 'rule = "guarded"')
    (tmp_path / "job" / "codes.csv").unlink()
    said = geoqa("run", job)
    assert said.exit_code == 3
    assert "codes.csv: there is no such file" in said.output


def test_wrong_usage_ends_with_two():
    assert geoqa("run").exit_code == 2
    assert geoqa("nothing").exit_code == 2
    assert geoqa("explain", "nothing").exit_code == 2


def test_our_own_fault_ends_with_four_and_says_so(demo, monkeypatch):
    def broken(*args, **kwargs):
        raise RuntimeError("nobody thought of this")

    monkeypatch.setattr("geoqa.job.run.run", broken)
    said = geoqa("run", demo)
    assert said.exit_code == 4
    assert "geoqa's fault" in said.output


def test_a_command_stopped_by_hand_does_not_end_as_findings_do(demo, monkeypatch):
    def stopped(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr("geoqa.job.run.run", stopped)
    said = geoqa("run", demo)
    assert said.exit_code == 130
    assert "stopped" in said.output


@pytest.mark.long
def test_check_prints_what_was_detected_and_ends_with_zero(demo):
    said = geoqa("check", demo)
    assert said.exit_code == 0, said.output
    assert "delimiter" in said.output
    assert "in order" in said.output


def test_steps_lists_all_and_shows_the_options_of_one():
    listed = geoqa("steps")
    assert listed.exit_code == 0
    assert "offsets" in listed.output
    one = geoqa("steps", "runs")
    assert "shortest" in one.output
    facts = json.loads(geoqa("steps", "--json").output)
    assert "findings" in facts["offsets"]["adds"]


def test_schema_is_a_json_schema_that_knows_the_steps_options():
    schema = json.loads(geoqa("schema").output)
    assert schema["$schema"].endswith("2020-12/schema")
    assert '"shortest"' in json.dumps(schema["properties"]["steps"])


@pytest.mark.parametrize("check", ["offset", "elevation", "position", "coverage", "extra", "identical"])
def test_explain_says_what_a_check_cannot_show(check):
    said = geoqa("explain", check)
    assert said.exit_code == 0
    assert "cannot show" in said.output
    assert "not a certification" in said.output


@pytest.mark.parametrize(
    "word", ["tilt-off", "none-fits", "code-slip", "near-limit", "unchecked-session", "guarded", "common"]
)
def test_explain_knows_the_words_that_are_printed(word):
    said = geoqa("explain", word)
    assert said.exit_code == 0
    assert said.output.startswith(f"{word}")


@pytest.mark.long
def test_init_drafts_a_job_that_only_lacks_what_a_person_must_know(demo, tmp_path):
    folder = tmp_path / "fresh"
    shutil.copytree(demo.parent, folder, ignore=shutil.ignore_patterns("*.toml", "out", "*.json", "*.md"))
    said = geoqa("init", folder)
    assert said.exit_code == 0, said.output
    text = (folder / "job.toml").read_text(encoding="utf-8")
    assert 'horizontal = "REQUIRED"' in text
    for part in (
        'file = "shots/day1.csv"',
        'file = "shots/day2.csv"',
        "[control]",
        "[codes]",
        "[[design]]",
        "# delimiter",
    ):
        assert part in text, part
    change(folder / "job.toml", '"REQUIRED"', '"EPSG:6547"')
    checked = geoqa("check", folder / "job.toml")
    assert checked.exit_code == 0, checked.output
    again = geoqa("init", folder)
    assert again.exit_code == 2
    assert "--force" in again.output


def test_init_without_shots_says_what_to_put_there(tmp_path):
    said = geoqa("init", tmp_path)
    assert said.exit_code == 2
    assert "delimited text file" in said.output


@pytest.mark.long
def test_init_names_every_kind_and_survives_odd_names_and_files(demo, tmp_path):
    folder = tmp_path / 'My "job" \\ Straße'
    for part in ("a", "b"):
        (folder / part).mkdir(parents=True)
        shutil.copy(demo.parent / "shots" / "day1.csv", folder / part / "day1.csv")
    other = (folder / "b" / "day1.csv").read_text(encoding="utf-8").replace(",4460", ",4461")  # another day, not a copy
    (folder / "b" / "day1.csv").write_text(other, encoding="utf-8")
    for name in ("codes.csv", "control.csv"):
        shutil.copy(demo.parent / name, folder)
    shutil.copy(demo.parent / "codes.csv", folder / "codes of last year.csv")
    for name, content in (("x.csv", b"\x89PNG"), ("empty.csv", b""), ("t.csv", b"a,b\n1,2\n"), ("x.geojson", b"{}")):
        (folder / name).write_bytes(content)
    said = geoqa("init", folder)
    assert said.exit_code == 0, said.output
    job = folder / "job.toml"
    table = tomllib.loads(job.read_text(encoding="utf-8"))
    assert table["job"]["name"] == 'My "Job" \\ Straße'
    assert [each["file"] for each in table["shots"]] == ["a/day1.csv", "b/day1.csv"]
    stated = tomllib.loads((demo.parent / "tannery_lane.toml").read_text(encoding="utf-8"))["tolerance"]
    kinds = [kind for kind in stated if kind not in ("walk", "curb")]  # what pairs of kinds make, no code is of
    drafted = re.findall(r"^# (\S.*?) += \{ horizontal = ", job.read_text(encoding="utf-8"), re.MULTILINE)
    # kinds of one line share its limits
    assert set(kinds) <= {kind for names in drafted for kind in names.strip('"').split(", ")}
    left = geoqa("check", job)
    assert left.exit_code == 2
    assert "[frame], horizontal, line" in left.output
    change(job, '"REQUIRED"', '"EPSG:6547"')
    checked = geoqa("check", job)
    assert checked.exit_code == 0, checked.output
    assert "without [[design]], these steps will not run: " in checked.output


@pytest.mark.long
def test_a_list_of_marks_is_known_by_its_name_and_the_draft_says_so(demo, tmp_path):
    shutil.copy(demo.parent / "shots" / "day1.csv", tmp_path)
    (tmp_path / "site control.csv").write_text(
        "point,northing,easting,elevation\nA,446000,2229000,1460\n", encoding="utf-8"
    )
    assert geoqa("init", tmp_path).exit_code == 0
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert tomllib.loads(text)["control"]["file"] == "site control.csv"
    assert "taken as control because of its name" in text


@pytest.mark.long
def test_a_job_in_which_nothing_is_judged_has_not_passed(demo, tmp_path):
    shutil.copy(demo.parent / "shots" / "day1.csv", tmp_path)
    job = tmp_path / "job.toml"
    job.write_text(
        '[job]\nname = "\\u001b[31mx"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "day1.csv"\n'
        '[outputs]\nlayers = ["csv"]\npages = []\n',
        encoding="utf-8",
    )
    said = geoqa("run", job)
    assert said.exit_code == 1, said.output
    assert "Nothing was judged." in said.output
    assert "\x1b[31mx" not in said.output


@pytest.mark.long
def test_demo_writes_over_an_earlier_demo_and_nothing_else(demo, tmp_path):
    assert geoqa("demo", tmp_path / "new").exit_code == 0
    assert geoqa("demo", tmp_path / "new", "--seed", "2").exit_code == 0
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "control.csv").write_text("mine", encoding="utf-8")
    said = geoqa("demo", mine)
    assert said.exit_code == 3
    assert "control.csv is already in mine" in said.output
    assert [path.name for path in mine.iterdir()] == ["control.csv"]
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert geoqa("demo", tmp_path / "file").exit_code == 3
    assert geoqa("demo", tmp_path / "x", "--zone", "EPSG:4326").exit_code == 2


def test_a_slip_of_the_pen_gets_a_guess():
    assert "Did you mean run?" in geoqa("runn", "x").output
    assert "Did you mean offset?" in geoqa("explain", "ofset").output
    assert "Did you mean offsets?" in geoqa("steps", "offset").output


@pytest.mark.long
def test_an_output_in_an_old_encoding_is_printed_in_plain_signs(tmp_path, demo):
    shutil.copy(demo.parent / "shots" / "day1.csv", tmp_path)
    (tmp_path / "job.toml").write_text(
        '[job]\nname = "▲ Straße"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "day1.csv"\n'
        '[outputs]\nlayers = ["csv"]\npages = []\n',
        encoding="utf-8",
    )
    said = CliRunner(charset="cp1252").invoke(main, ["run", str(tmp_path / "job.toml")])
    assert said.exit_code == 1, said.output
    assert said.output.startswith("^ Straße")
    assert "  ^      0 findings      0 shots  out of tolerance" in said.output


def test_a_full_disk_is_not_our_fault(demo, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "some/shots.csv")

    monkeypatch.setattr("geoqa.job.run.run", full)
    said = geoqa("run", demo)
    assert said.exit_code == 3
    assert "No space left on device (shots.csv)" in said.output


def test_init_writes_its_examples_in_the_foot_of_the_frame_that_is_given(demo, tmp_path):
    shutil.copy(demo.parent / "codes.csv", tmp_path)
    (tmp_path / "day1.csv").write_text("point,easting,northing,elevation,code\n1,2228500,446000,1,CTB\n")
    assert geoqa("init", tmp_path, "--frame", "EPSG:6549").exit_code == 0
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    assert 'horizontal = "… ftUS", vertical = "… ftUS"' in text
    assert '# horizontal_random = "0.02 ftUS"' in text
    assert ' ft"' not in text


@pytest.mark.long
def test_a_full_disk_does_not_cost_the_job_file_that_init_was_to_replace(demo, tmp_path, monkeypatch):
    folder = tmp_path / "job"
    folder.mkdir()
    for name in ("shots/day1.csv", "codes.csv"):
        shutil.copy(demo.parent / name, folder / Path(name).name)
    (folder / "job.toml").write_text("mine", encoding="utf-8")

    def full(*_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    said = geoqa("init", folder, "--force")
    assert said.exit_code not in (0, 4), said.output
    assert "The job.toml that was there is still whole" in " ".join(said.output.split())
    assert (folder / "job.toml").read_text(encoding="utf-8") == "mine"
    assert {path.name for path in folder.iterdir()} == {"day1.csv", "codes.csv", "job.toml"}
