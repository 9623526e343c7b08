"""A declared frame that disagrees with the evidence is told with both readings; a sound one is not talked about.

Outside truth: the exact ratio of the two feet (24 FR 5348 and the Mendenhall Order: 0.3048 m and 1200/3937 m), and
positions made by the projection library from longitude and latitude.
"""

import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from geoqa.errors import AreaError, JobError
from geoqa.frames.systems.geographic import from_geographic
from geoqa.job.begin.begin import begin
from geoqa.job.check import check
from geoqa.job.day import DayFiles, day
from geoqa.job.document.load import FrameMissing, load
from geoqa.job.run import run

SAMPLES = Path(__file__).resolve().parents[2] / "sample_jobs"
FEET = 0.3048 / (1200 / 3937)
"""International foot in US survey feet."""
DEGREES = {"EPSG:6547": (-99.46, 46.885), "EPSG:6405": (-112.4, 33.9), "EPSG:6559": (-122.6, 45.4)}


def written(folder, *, code="EPSG:6547", there=None, shots=lambda east, north: (east, north), names=True, more=""):
    """A small job: five marks within 700 m, a check shot on each with 1 cm of noise, and some shots between."""
    draw = np.random.default_rng(7)
    longitude, latitude = DEGREES[there or code]
    east, north = from_geographic(
        there or code, longitude + draw.uniform(-4e-3, 4e-3, 5), latitude + draw.uniform(-3e-3, 3e-3, 5)
    )
    noise = draw.normal(0, 0.03, (2, 5))
    e, n = shots(east + noise[0], north + noise[1])
    rows = [f"{i + 1},{e[i]:.3f},{n[i]:.3f},100.0,CHK,{f'M{i}' if names else ''}" for i in range(5)]
    rows += [f"{i + 11},{e[i] + 5:.3f},{n[i] + 5:.3f},100.0,CTB,L" for i in range(5)]
    (folder / "shots.csv").write_text("point,easting,northing,elevation,code,line_id\n" + "\n".join(rows) + "\n")
    marks = [f"M{i},{east[i]:.3f},{north[i]:.3f},100.0" for i in range(5)]
    (folder / "control.csv").write_text("mark,easting,northing,elevation\n" + "\n".join(marks) + "\n")
    (folder / "codes.csv").write_text("code,kind,geometry,role\nCHK,control,point,check\nCTB,curb-top,line,feature\n")
    path = folder / "job.toml"
    path.write_text(
        f'[job]\nname = "x"\n[frame]\nhorizontal = "{code}"\n[[shots]]\nfile = "shots.csv"\n{more}'
        '[control]\nfile = "control.csv"\n[codes]\nfile = "codes.csv"\n'
    )
    return path


@pytest.mark.parametrize("code", DEGREES)
def test_of_a_sound_job_nothing_is_said(tmp_path, code):
    assert check(written(tmp_path, code=code)).doubts == ()


@pytest.mark.long
def test_the_demo_says_nothing_of_its_frame():
    checked = check(SAMPLES / "tannery_lane" / "tannery_lane.toml")
    assert checked.problems == ()
    assert checked.doubts == ()


@pytest.mark.long
def test_check_tells_the_wrong_foot_of_the_sample_with_both_readings():
    checked = check(SAMPLES / "wrong_foot" / "wrong_foot.toml")
    (said,) = checked.doubts
    assert said.startswith("Is the frame of shots/day2.csv right?")
    # 2,228,500 and 446,000 ft times two parts in a million: 4.457 and 0.892 ft, 4.545 ft in plan
    assert "lie 4.545 ft off 6 marks" in said
    assert "in US survey foot, 0.028 ft" in said
    assert 'set unit = "ftUS" in [[shots]] of day2' in said
    assert "check shots of day1 lie on the same marks" in said


@pytest.mark.long
def test_a_run_notes_it_next_to_the_blunder_and_changes_nothing():
    results = run(SAMPLES / "wrong_foot" / "wrong_foot.toml", write=False)
    assert results.notes[0].startswith("Survey blunder?")
    assert results.notes[1].startswith("Is the frame of shots/day2.csv right?")
    assert results.notes[1] in " ".join(results.record["evidence"])
    first = results.layers["shots"].query("source == 'day2'").iloc[0]
    assert float(first["raw_easting"]) == first["easting"]


@pytest.mark.parametrize("code", DEGREES)
def test_where_all_shots_are_in_the_other_foot_it_is_not_said_which_file_is_the_odd_one(tmp_path, code):
    path = written(tmp_path, code=code, shots=lambda east, north: (east * FEET, north * FEET))
    (said,) = check(path).doubts
    assert "in US survey foot" in said
    assert "Which of the two is the odd one, this file or the control, the numbers cannot tell." in said


def test_a_declared_survey_foot_that_is_none_is_told_as_well(tmp_path):
    (said,) = check(written(tmp_path, more='unit = "ftUS"\n')).doubts
    assert "Declared as NAD83(2011) / North Dakota South (ft) in US survey foot" in said
    assert 'set unit = "ft" in [[shots]] of shots' in said


def test_exchanged_columns_that_stay_inside_the_zone_are_told_once(tmp_path):
    # in Arizona Central both orders look like plausible numbers
    (said,) = check(written(tmp_path, code="EPSG:6405", shots=lambda east, north: (north, east))).doubts
    assert "northing in the easting column, 0.041 ft" in said
    assert "exchange easting and northing" in said


def test_a_file_declared_in_the_zone_next_door_is_refused_with_the_right_one_first(tmp_path):
    (said,) = check(written(tmp_path, more='frame = "EPSG:6545"\n')).problems
    assert "1. NAD83 / North Dakota South in international foot (EPSG:6547), over 99.9 %" in said
    assert "control.csv 0.04 ft away" in said


def test_a_file_far_from_all_others_is_told_without_any_mark(tmp_path):
    # 200 km west inside the same zone, and no check shot has the name of a mark
    path = written(tmp_path, shots=lambda east, north: (east - 200_000 / 0.3048, north), names=False)
    (said,) = check(path).doubts
    assert "it lies 200 km from the other files" in said
    assert "ground or local coordinates, or another site" in said


def test_shots_that_lie_outside_come_with_what_they_may_be(tmp_path):
    path = written(tmp_path, there="EPSG:6547", code="EPSG:6405", more="")
    with pytest.raises(AreaError, match="outside the area of use") as caught:
        run(path, write=False)
    assert "none is chosen" in str(caught.value)
    assert "Cannot tell zone" in str(caught.value)  # control and shots alike say nothing: so it is


def test_one_mark_alone_is_no_evidence_of_a_frame(tmp_path):
    path = written(tmp_path, shots=lambda east, north: (east * FEET, north * FEET))
    marks = (tmp_path / "control.csv").read_text().splitlines()
    (tmp_path / "control.csv").write_text("\n".join(marks[:2]) + "\n")
    assert check(path).doubts == ()


def test_a_shift_that_no_frame_explains_is_left_to_the_diagnosis(tmp_path):
    path = written(tmp_path, shots=lambda east, north: (east + 3.0, north - 7.0))
    assert check(path).doubts == ()


@pytest.mark.parametrize("ask", [check, run])
@pytest.mark.parametrize("horizontal", ["", 'horizontal = "REQUIRED"'])
def test_a_job_without_a_frame_lists_the_candidates_and_takes_none(tmp_path, horizontal, ask):
    shutil.copytree(SAMPLES / "wrong_foot", tmp_path, dirs_exist_ok=True)
    path = tmp_path / "wrong_foot.toml"
    text = path.read_text(encoding="utf-8")
    line = next(each for each in text.splitlines() if each.startswith("horizontal  = "))
    path.write_text(
        text.replace(line, horizontal).replace("[tolerance.rim]", "[tolerance.rim]\nodd = 1"), encoding="utf-8"
    )
    with pytest.raises(JobError) as caught:
        ask(path)
    said = str(caught.value)
    assert "[frame], horizontal" in said
    assert "odd" in said  # all problems at once, still
    assert "1. NAD83 / North Dakota South in international foot (EPSG:6547), over 99.9 %" in said
    assert (
        "This takes control.csv to be in NAD83(2011) / North Dakota South (ft) (EPSG:6547), as design.gpkg is." in said
    )


def drafted(folder, *leave_out, **options):
    shutil.copytree(SAMPLES / "wrong_foot", folder, ignore=shutil.ignore_patterns("*.toml", "out", *leave_out))
    return begin(folder, **options).path.read_text(encoding="utf-8")


@pytest.mark.long
def test_init_ranks_the_frames_as_comments_and_leaves_the_choice(tmp_path):
    text = drafted(tmp_path / "job")
    assert 'horizontal = "REQUIRED"' in text
    assert "# 1. NAD83 / North Dakota South in international foot (EPSG:6547), over 99.9 %" in text
    assert '# Recommendation: NAD83 / North Dakota South in ft: declare "EPSG:6547".' in text
    one, two = (part for part in text.split("\n[[shots]]\n")[1:3])
    assert "0.027 ft off their marks if it is in international foot" in one
    assert "0.028 ftUS off their marks if it is in US survey foot" in two
    assert "\nunit" not in text


@pytest.mark.long
def test_init_without_any_label_says_that_it_cannot_tell_and_compares_the_files(tmp_path):
    text = drafted(tmp_path / "job", "design.gpkg")
    assert "Recommendation: Cannot tell zone, unit, order, datum" in text
    one, two = (part for part in text.split("\n[[shots]]\n")[1:3])
    assert "read alike. This only compares" in one
    assert "if they are in US survey feet and the marks in international feet" in two


@pytest.mark.long
def test_init_with_a_frame_given_still_tells_the_odd_file(tmp_path):
    text = drafted(tmp_path / "job", frame="EPSG:6547")
    assert 'horizontal = "EPSG:6547"' in text
    assert "none is chosen" not in text
    assert "if it is in US survey foot (NAD83)" in text.split("\n[[shots]]\n")[2]


def lines_of(text):
    """Lines of a job file's comments, or of a message."""
    return [line.removeprefix("#").strip() for line in text.splitlines()]


@pytest.mark.long
def test_check_run_init_and_day_print_the_same_doubt_of_one_file(tmp_path):
    path = written(tmp_path, shots=lambda east, north: (east * FEET, north * FEET))
    (doubt,) = check(path).doubts
    assert doubt.startswith("Is the frame of shots.csv right?")
    assert run(path, write=False).notes.count(doubt) == 1
    listed = {"control": tmp_path / "control.csv", "codes": tmp_path / "codes.csv"}
    assert day(DayFiles(shots=tmp_path / "shots.csv", frame="EPSG:6547", **listed)).notes.count(doubt) == 1
    path.unlink()
    assert lines_of(begin(tmp_path, frame="EPSG:6547").path.read_text(encoding="utf-8")).count(doubt) == 1


@pytest.mark.long
def test_check_run_init_and_day_print_the_same_candidates_of_one_file(tmp_path):
    path = written(tmp_path)
    path.write_text(path.read_text().replace('horizontal = "EPSG:6547"\n', ""))
    listed = {"control": tmp_path / "control.csv", "codes": tmp_path / "codes.csv"}

    def candidates(ask):
        with pytest.raises(JobError) as caught:
            ask()
        lines = lines_of(str(caught.value))
        return lines[next(row for row, line in enumerate(lines) if "none is chosen" in line) :]

    printed = candidates(lambda: check(path))
    assert "hold these numbers, none is likelier than" in printed[0]
    assert "North Dakota South in ft, EPSG:6547 (latitude " in printed[1]
    assert printed[-1].startswith("Recommendation: Cannot tell zone")
    assert candidates(lambda: run(path)) == printed
    assert candidates(lambda: day(DayFiles(shots=tmp_path / "shots.csv", **listed))) == printed
    path.unlink()
    drafted_lines = lines_of(begin(tmp_path).path.read_text(encoding="utf-8"))
    start = drafted_lines.index(printed[0])
    assert drafted_lines[start : start + len(printed)] == printed


@pytest.fixture
def opened():
    """Files that are opened while the test runs."""
    files, watching = [], [True]
    sys.addaudithook(lambda event, facts: files.append(str(facts[0])) if watching and event == "open" else None)
    yield files
    watching.clear()  # a hook cannot be taken off


@pytest.mark.parametrize("horizontal", ['horizontal = "EPSG:6547"\n', ""])
def test_load_opens_no_file_but_the_job_file(tmp_path, opened, horizontal):
    path = written(tmp_path)
    path.write_text(path.read_text().replace('horizontal = "EPSG:6547"\n', horizontal))
    opened.clear()
    if horizontal:
        load(path)
    else:
        with pytest.raises(FrameMissing) as caught:
            load(path)
        assert "none is chosen" not in str(caught.value)
    assert [Path(file).name for file in opened if file.startswith(str(tmp_path))] == ["job.toml"]
