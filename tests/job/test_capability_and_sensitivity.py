"""Before field work: what a method can decide. After it: which verdicts hang on a small error of the set-up."""

import math
import shutil
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.cli.sensitivity import _answer, _as_it_is, _others
from geoqa.errors import JobError
from geoqa.job.capability import capability
from geoqa.job.document.load import load
from geoqa.job.run import run
from geoqa.job.sensitivity import NOTHING, Change, Reported, _counted, _flips, sensitivity
from geoqa.model.quantity import Length
from geoqa.model.tables.reported import reported_verdicts

SAMPLES = Path(__file__).resolve().parents[2] / "sample_jobs"
JOB = SAMPLES / "tannery_lane" / "tannery_lane.toml"
TILT_JOB = SAMPLES / "tilt_test" / "tilt_test.toml"


@pytest.fixture(scope="module")
def shifted():
    """Eleven runs of the sample job: its tests run with the scores."""
    return sensitivity(JOB, rod=Length.parse("0.02 ft"), geoid=Length.parse("0.03 ft"))


def test_capability_needs_no_shot(tmp_path):
    shutil.copy(JOB, tmp_path / "job.toml")  # the job file alone: no shots, no codes, no design
    rows = capability(tmp_path / "job.toml")["capability"].set_index(["kind", "check"])
    assert not rows.loc[("invert", "elevation"), "provable"]  # the demo keeps a limit nobody can prove
    assert rows.loc[("curb-top", "offset"), "provable"]
    assert rows.loc[("curb-top", "offset"), "u"] == pytest.approx(0.02)


@pytest.mark.long
def test_capability_agrees_with_the_numbers_of_a_run():
    before = capability(JOB)["capability"]
    kinds = set(zip(before["kind"], before["check"], strict=True))
    assert ("rim", "position") in kinds
    assert ("rim", "offset") not in kinds
    assert ("curb-top", "offset") in kinds


@pytest.mark.parametrize(("u_v", "mark"), [("", 0.03), ("0.01", 0.01), ("0.05", 0.05)])
def test_marks_count_before_field_work_as_they_do_after_it(tmp_path, u_v, mark):
    rows = [f"CP-{n},{2228500 + 100 * n}.0,445968.0,1461.0,,{u_v}" for n in range(3)]
    (tmp_path / "control.csv").write_text("\n".join(["mark,easting,northing,elevation,u_h,u_v", *rows]) + "\n", "utf-8")
    shutil.copy(TILT_JOB, tmp_path / "job.toml")
    layers = capability(tmp_path / "job.toml")
    said = layers["capability"].set_index("check")
    shot = {each["axis"]: each["u"] for each in layers["budget"].query("part == 'all'").to_dict("records")}
    assert said.loc["control-elevation", "u"] == pytest.approx(math.hypot(shot["v"], mark))
    assert said.loc["control-position", "u"] == pytest.approx(math.hypot(shot["h"], 0.03))
    of_marks = layers["budget"].query("part == 'mark'").set_index("axis")
    assert of_marks["u"].to_dict() == pytest.approx({"h": 0.03, "v": mark})
    assert "assumed for marks that state none" in of_marks.loc["h", "source"]
    assert ("assumed" in of_marks.loc["v", "source"]) == (u_v == "")
    (tmp_path / "control.csv").unlink()
    before = capability(tmp_path / "job.toml")["capability"].set_index("check")
    assert before.loc["control-elevation", "u"] == pytest.approx(math.hypot(shot["v"], 0.03))


@pytest.mark.long
def test_a_lean_costs_capability_and_beyond_the_tested_one_nothing_is_claimed():
    plumb, leaning, far = (
        capability(TILT_JOB, tilt=each)["capability"].set_index(["kind", "check"]) for each in (0, 20, 40)
    )
    key = ("curb-top", "offset")
    assert plumb.loc[key, "in_to"] > leaning.loc[key, "in_to"]
    assert plumb.loc[("control", "control-position"), "u"] == leaning.loc[("control", "control-position"), "u"]
    assert "nothing can be said" in far.loc[key, "words"]


def test_a_job_without_tolerances_has_nothing_to_decide(tmp_path):
    text = JOB.read_text(encoding="utf-8")
    bare = text[: text.index("[tolerance.control]")]
    (tmp_path / "job.toml").write_text(bare, encoding="utf-8")
    with pytest.raises(JobError, match="gives no tolerance that could be decided"):
        capability(tmp_path / "job.toml")
    with pytest.raises(JobError, match="not between 0 and 90"):
        capability(JOB, tilt=95)


def test_the_table_tilt_of_a_job_reaches_the_uncertainty(tmp_path):
    text = TILT_JOB.read_text(encoding="utf-8")
    more = '\n[tilt]\nheading_deg = 4.0\nangle_deg = 0.3\nup_to_deg = 20\nreference = "a rough rod"\n'
    (tmp_path / "job.toml").write_text(text + more, encoding="utf-8")
    layers = capability(load(tmp_path / "job.toml"), tilt=20)
    assert "a rough rod" in set(layers["budget"]["source"])
    assert layers["capability"].set_index(["kind", "check"]).loc[("curb-top", "offset"), "u"] > 0.1


def test_a_wrong_table_tilt_is_refused_with_its_address(tmp_path):
    text = TILT_JOB.read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(text + "\n[tilt]\nheading_deg = 0\n", encoding="utf-8")
    with pytest.raises(JobError, match=r"\[tilt\], heading_deg, line \d+: must be greater than 0"):
        load(tmp_path / "job.toml")


@pytest.mark.score
def test_a_longer_rod_moves_elevations_by_its_length_and_no_plumb_offset(shifted):
    changes, flips = shifted
    mine = flips[flips["change"] == "rod 0.02 ft longer than entered"]
    level = mine[(mine["check"] == "elevation") & mine["deviation_after"].notna()]
    assert len(level) > 100
    moved = level["deviation_after"] - level["deviation_before"]
    assert moved.to_numpy() == pytest.approx(-0.02, abs=2e-4)
    # rows equal to the design are no longer equal to it once they are moved
    assert set(mine["check"]) <= {"elevation", "control-elevation", "coverage", "identical", "offset"}
    assert set(mine.loc[mine["check"] == "offset", "before"]) <= {"NO_DATA"}
    row = changes.set_index("change").loc["rod 0.02 ft longer than entered"]
    assert row["flips"] == len(mine)
    assert row["no_longer_out"] == (mine["before"] == "OUT").sum()
    assert row["between"] == (mine["before"].isin(["IN", "UNDECIDED"]) & mine["after"].isin(["IN", "UNDECIDED"])).sum()


PARTS = ["same", "no_longer_out", "more_out", "between", "unjudged", "judged", "gone", "own"]


@pytest.mark.score
def test_what_is_counted_is_what_a_run_counts_and_it_adds_up(shifted, tmp_path):
    changes, _ = shifted
    shutil.copytree(JOB.parent, tmp_path / "job", ignore=shutil.ignore_patterns("out"))
    counts = run(tmp_path / "job" / JOB.name).summary["reported"]
    for verdict, count in counts.items():
        assert set(changes[f"as_{verdict}"]) == {count}
    assert set(changes["total"]) == {sum(counts.values())}
    assert (changes[PARTS].sum(axis=1) == changes["total"]).all()
    assert (changes["stay"] + changes["no_longer_out"] + changes["own_out"] == counts["OUT"]).all()


def found(*rows, members=()):
    """Findings: name, shot, verdict, and the run that reports it."""
    table = pd.DataFrame(rows, columns=["finding", "shot", "verdict", "run"]).assign(
        check="elevation", against="A", kind="curb-top", subject="L", label="-", deviation=0.1
    )
    told = reported_verdicts(table)
    return Reported(table.assign(told=told), pd.DataFrame(members, columns=["finding", "shot"]).astype("str"))


def test_a_run_that_is_not_found_again_is_held_against_its_shots_and_every_finding_counts_once():
    runs = [("R1", "a"), ("R1", "b")]
    before = found(
        ("R1", None, "UNDECIDED", None), ("F1", "a", "IN", "R1"), ("F2", "b", "IN", "R1"), ("F3", "c", "OUT", None),
        ("F4", "d", "IN", None), ("F5", "e", "NO_DATA", None), ("F6", "f", "IN", None), ("F7", None, "OUT", None),
        members=runs,
    )  # fmt: skip
    after = found(
        ("R2", None, "OUT", None), ("F1", "a", "IN", "R2"), ("F2", "b", "IN", None), ("F3", "c", "OUT", "R2"),
        ("F4", "d", "UNDECIDED", None), ("F5", "e", "IN", None), ("F6", "f", "NO_DATA", None),
        ("F8", "g", "OUT", None), ("F9", "h", "IN", None), members=[("R2", "a"), ("R2", "c")],
    )  # fmt: skip
    change = Change("some change", dict)
    flips = _flips(before, after, change)
    row = _counted(change, flips, before)
    assert (row["total"], row["as_OUT"], row["as_UNDECIDED"], row["as_NO_DATA"], row["as_IN"]) == (6, 2, 1, 1, 2)
    assert {each: row[each] for each in PARTS} == {
        "same": 1, "no_longer_out": 1, "more_out": 1, "between": 1, "unjudged": 1, "judged": 1, "gone": 0, "own": 0
    }  # fmt: skip
    assert (row["stay"], row["new"], row["new_out"]) == (1, 2, 1)
    assert _answer(row) == "of 2 out of tolerance 1 would not be; 2 more would be out (1 of them not there now)"
    assert _others(row) == (
        "of the other 3, 1 change between within and undecided, 1 would not be judged, 1 not judged now would be, "
        "0 stay as they are; 1 not there now would be"
    )
    assert _as_it_is(row).startswith("As it is, 6 findings, counted as a run counts: 2 out of tolerance, 1 cannot be")


def test_a_run_that_leaves_a_shot_out_by_itself_stays_out():
    members = [("R1", "a"), ("R1", "b")]
    before = found(("R1", None, "OUT", None), ("F1", "a", "OUT", "R1"), ("F2", "b", "IN", "R1"), members=members)
    after = found(("R1", None, "UNDECIDED", None), ("F1", "a", "OUT", None), ("F2", "b", "IN", "R1"), members=members)
    change = Change("some change", dict)
    row = _counted(change, _flips(before, after, change), before)
    assert (row["stay"], row["no_longer_out"], row["new"]) == (1, 0, 0)
    none = found(("R1", None, "UNDECIDED", None), ("F1", "a", "IN", "R1"), ("F2", "b", "IN", "R1"), members=members)
    assert _counted(change, _flips(before, none, change), before)["no_longer_out"] == 1


def test_a_mean_of_sections_that_is_not_found_again_is_held_against_its_sections():
    # sections of a walk bear no shot: they stand under their mean alone
    before = found(("M1", None, "OUT", None), ("S1", None, "OUT", "M1"), ("S2", None, "OUT", "M1"))
    after = found(("S1", None, "OUT", None), ("S2", None, "UNDECIDED", None))
    change = Change("some change", dict)
    row = _counted(change, _flips(before, after, change), before)
    assert (row["stay"], row["no_longer_out"], row["new"]) == (1, 0, 0)
    back = _flips(after, before, change)
    assert back["after"].tolist() == ["OUT"]  # S2 by its mean, which is not told once more
    assert _counted(change, back, after)["new"] == 0


@pytest.mark.score
def test_geoid_up_and_down_move_the_other_way(shifted):
    _, flips = shifted
    for word, by in (("larger", -0.03), ("smaller", 0.03)):
        mine = flips[(flips["change"] == f"geoid separation 0.03 ft {word}") & (flips["check"] == "elevation")]
        moved = (mine["deviation_after"] - mine["deviation_before"]).dropna()
        assert moved.to_numpy() == pytest.approx(by, abs=2e-4)


@pytest.mark.score
def test_every_mark_is_left_out_once_and_its_own_checks_are_not_counted(shifted):
    changes, flips = shifted
    left_out = changes[changes["change"].str.startswith("without mark")]
    assert left_out["change"].tolist() == [f"without mark CP-{number}" for number in range(1, 7)]
    for mark in range(1, 7):
        mine = flips[flips["change"] == f"without mark CP-{mark}"]
        assert f"CP-{mark}" not in set(mine["subject"])


@pytest.mark.score
def test_the_other_foot_leaves_nothing_judged_as_it_was(shifted):
    _, flips = shifted
    mine = flips[flips["change"] == "shots in the US survey foot"]
    control = mine[mine["check"] == "control-position"]
    # two parts in a million of 2,228,500 and 446,000 ft: 4.546 ft
    assert control.loc[control["before"] == "IN", "deviation_after"].median() == pytest.approx(4.546, abs=0.03)
    # slopes are made of neighbouring shots alone: two parts in a million of a walk's width
    assert set(mine.loc[mine["after"] == "IN", "check"]) <= {"coverage", "cross-slope", "running-slope"}
    # the foot is named; sections and low points are those of the shots that then stand opposite one another
    anew = {"cross-slope", "running-slope", "clear-width", "ponding"}
    assert set(mine.loc[mine["before"] == NOTHING, "check"]) <= {"coverage", "diagnosis"} | anew


@pytest.mark.long
def test_capability_says_it_in_plain_words():
    told = CliRunner().invoke(main, ["capability", str(JOB)])
    assert "\N{REPLACEMENT CHARACTER}" not in told.output
    assert "own 0.020 ft in plan, 0.028 ft in elevation for invert: declared: Crew's repeat shots" in told.output
    assert told.exit_code == 1  # the invert's limit can never be proven
    assert "▲ invert, elevation, 0.05 ft low or high" in told.output
    assert "Where the uncertainty comes from" in told.output


@pytest.mark.score
def test_sensitivity_says_it_in_plain_words():
    told = CliRunner().invoke(main, ["sensitivity", str(TILT_JOB)])
    assert told.exit_code == 0, told.output
    assert "rod 0.02 ft longer than entered: nothing is out of tolerance as it is; no more would be out" in told.output
    assert "without mark CP-1: nothing is out of tolerance as it is; no more would be out" in told.output


def test_checks_of_several_shots_are_told_or_named_as_not_covered(tmp_path):
    limits = '[tolerance.pan]\nfall = "0.3 %"\nponding = "0.1 ft"\nreference = "x"\n'
    text = '[job]\nname = "a"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "s.csv"\n[codes]\nfile = "c.csv"\n'
    (tmp_path / "job.toml").write_text(text + limits, encoding="utf-8")
    told = CliRunner().invoke(main, ["capability", str(tmp_path / "job.toml")])
    assert told.exit_code == 0, told.output
    assert "no limit of this job is held against one shot alone" in told.output
    assert "Not covered, as each is made of several shots: ponding of pan." in told.output
    assert "pan, gutter fall, at least 0.300 %, 1 sigma " in told.output
