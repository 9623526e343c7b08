"""Sessions that no check shot covers: what they share with the design is asked once, and decides no verdict alone."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.loose_sessions import LooseSessions
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.design.positions import Positions
from geoqa.steps.design.runs import Runs

LINES = {f"L{number}": ("curb-top", 30.0 * number, 0.0, 900.0) for number in range(5)}
LIMITS = (("curb-top", "elevation", -0.10, 0.10),)
U = {"u_v_random": 0.022, "u_v_common": 0.012, "u_h_random": 0.02, "u_h_common": 0.0}
EACH = 16
ALL = (Runs(), OnePlace(), Elevations())


def rows(high, *, lines=4, each=EACH, seed=1, defects=(), built=0.012):
    """Session A along the first line, session B `high` along the next ones; `defects` are line, shot and size."""
    rng = np.random.default_rng(seed)
    planted = {(line, shot): size for line, shot, size in defects}
    made = []
    for line in range(lines + 1):
        phase = rng.uniform(0, 6.28)
        for shot in range(each):
            work = built * np.sin(shot / 2.3 + phase) + planted.get((line, shot), 0.0)
            up = work + rng.normal(0, 0.022) + (high if line else 0.0)
            made.append({"offset": 30.0 * line, "station": 20.0 + 40 * shot, "elevation": 100.0 + up, "true": work,
                         "session": "B" if line else "A", "initialization": "B1" if line else "A1"})  # fmt: skip
    return made


def stepping(levels, *, lines=3, each=EACH, seed=1, aside=0.0, defects=()):
    """As `rows`, line after line in time; `levels` are shots of session B from the first on, and how high they lie."""
    made = rows(0.0, lines=lines, each=each, seed=seed, defects=defects)
    high = np.concatenate([np.full(count, level) for count, level in levels])
    mine = [row for row in made if row["session"] == "B"]
    for row, level in zip(mine, high, strict=True):
        row["elevation"] += level
        row["offset"] += aside
    rng = np.random.default_rng(seed + 100)
    for place, row in enumerate(made):
        row["time"] = pd.Timestamp("2026-05-12T14:00:00Z") + pd.Timedelta(seconds=30 * place)
        row["offset"] += rng.normal(0, 0.02)
    return made


def shifts(*checked):
    row = {"shift": 0.0, "u": 0.01, "u_applied": np.nan, "applied": False, "shots": 4, "marks": 4, "tests": 3,
           "proven": False}  # fmt: skip
    told = [row | {"session": name, "axis": axis} for name in checked for axis in ("easting", "northing", "elevation")]
    return conform("session_shifts", pd.DataFrame(told))


def judged(job, made, *, checked=("A",), steps=ALL, limits=LIMITS):
    shots = job.prepared(job.shots([{k: v for k, v in row.items() if k != "true"} for row in made]), **U)
    layers = job.layers(shots=shots, limits=job.limits(*limits), session_shifts=shifts(*checked), **job.design(LINES))
    return job.run(layers, MatchLines(), LooseSessions(), *steps)


def out(done):
    return done["findings"].query("verdict == 'OUT'")


def test_a_rod_that_is_off_through_a_session_without_checks_is_one_question_and_no_defect(job):
    done = judged(job, rows(0.12))
    assert len(out(done)) == 0
    (one,) = done["loose_sessions"].to_dict("records")
    assert (one["session"], one["lines"], one["shots"]) == ("B", 4, 4 * EACH)
    assert one["shift"] == pytest.approx(0.12, abs=0.02)
    waits = done["findings"][done["findings"]["why"] == "unchecked-session"]
    assert set(waits["verdict"]) == {"UNDECIDED"}
    assert set(waits["hangs_on"]) == {"B"}
    assert waits["cause"].str.startswith("hangs on session B, of which no shot is checked: 0.").all()
    assert waits["remedy"].str.startswith("check that session on a mark").all()
    assert waits["shot"].isna().any()  # the mean of a run waits as its shots do
    assert done["findings"].loc[done["findings"]["hangs_on"].isna(), "verdict"].isin(["IN", "UNDECIDED"]).all()
    (said,) = note_lines(done["notes"], "ft")
    assert "high of the design as a whole, by 64 shots on 4 design lines, and no check shot tells" in said
    assert said.endswith("out as read alone, and wait for that.")


def again(made, times, seed=1):
    """Every shot of session B so often, seconds apart at one place."""
    rng, rows_ = np.random.default_rng(seed), []
    for number, row in enumerate(made):
        for turn in range(times if row["session"] == "B" else 1):
            when = pd.Timestamp("2026-05-12T14:00:00Z") + pd.Timedelta(seconds=120 * number + 8 * turn)
            near = {"station": row["station"] + 0.02 * turn, "elevation": row["elevation"] + rng.normal(0, 0.003)}
            rows_.append(row | {"time": when} | (near if turn else {}))
    return rows_


@pytest.mark.parametrize("seed", range(3))
def test_places_are_counted_and_not_shots(job, seed):
    few = judged(job, again(rows(0.12, lines=1, each=4, seed=seed), 3))
    assert few["loose_sessions"]["shots"].tolist() == [4]
    assert few["loose_sessions"]["shift"].isna().all()  # four places are fewer than six
    done = judged(job, again(rows(0.12, lines=3, each=6, seed=seed), 3))
    (one,) = done["loose_sessions"].to_dict("records")
    assert one["shots"] == 18
    assert one["shift"] == pytest.approx(0.12, abs=0.03)
    assert "by 18 places on 3 design lines" in note_lines(done["notes"], "ft")[0]
    once = judged(job, again(rows(0.12, lines=3, each=6, seed=seed), 1))["loose_sessions"].iloc[0]
    assert one["u"] == pytest.approx(once["u"], rel=0.35)


def test_points_on_a_slope_are_counted_beside_lines(job):
    """Their elevations have a second reading, at the design point; those of lines have none."""
    made = rows(0.12)
    high = [{**made[-1], "offset": -15.0 + each, "station": 100.0 + 40 * place, "elevation": 105.12 + each / 3}
            for place, each in enumerate([-0.3, 0.0, 0.3])]  # fmt: skip
    shots = [{k: v for k, v in row.items() if k != "true"} for row in made + high]
    kind = ["curb-top"] * len(made) + ["rim"] * len(high)
    slope = {"TOE": ("toe", -30.0, 0.0, 900.0, 110.0)}  # 1:3 up from L0
    points = {f"P{place}": ("rim", -15.0, 100.0 + 40 * place, 105.0) for place in range(3)}
    limits = job.limits(*LIMITS, ("rim", "elevation", -0.10, 0.10), ("rim", "position", -np.inf, 0.50))
    design = job.design(LINES | slope, points)
    shots = job.prepared(job.shots(shots), **(U | {"kind": kind}))
    layers = job.layers(shots=shots, limits=limits, session_shifts=shifts("A"), **design)
    done = job.run(layers, MatchLines(), MatchPoints(), LooseSessions(), *ALL, Positions())
    assert len(out(done)) == 0
    assert done["loose_sessions"]["shots"].tolist() == [4 * EACH + len(high)]


def test_what_is_out_both_ways_stays_out_and_what_only_one_reading_gives_does_not(job):
    done = judged(job, rows(0.10, defects=[(2, 5, 0.24), (3, 9, -0.42), (4, 3, -0.18)]), steps=(Elevations(),))
    told = done["findings"].query("shot.notna()").reset_index(drop=True)
    at = {name: told.iloc[line * EACH + shot] for name, line, shot in (("up", 2, 5), ("down", 3, 9), ("even", 4, 3))}
    assert {name: row["verdict"] for name, row in at.items()} == {"up": "OUT", "down": "OUT", "even": "UNDECIDED"}
    assert len(out(done)) == 2
    assert set(out(done)["why"]) == {"proven"}


def test_a_session_that_control_tells_of_is_judged_as_ever(job):
    done = judged(job, rows(0.12), checked=("A", "B"))
    assert len(done["loose_sessions"]) == len(done["notes"]) == 0
    assert "hangs_on" not in done["findings"]
    assert len(out(done)) > 3


def test_a_line_that_is_built_off_is_no_shift_of_its_session(job):
    done = judged(job, rows(0.0, defects=[(2, shot, 0.30) for shot in range(EACH)]), steps=(Elevations(),))
    assert done["loose_sessions"]["shift"].isna().all()
    assert out(done)["subject"].tolist() == ["L2"] * EACH


@pytest.mark.parametrize(("high", "verdict"), [(0.18, "UNDECIDED"), (0.60, "OUT")])
def test_along_one_line_alone_only_a_shift_that_a_session_may_have_is_held(job, high, verdict):
    done = judged(job, rows(high, lines=1), steps=(Elevations(),))
    assert set(done["findings"].query("subject == 'L1'")["verdict"]) == {verdict}


def test_of_a_few_shots_nothing_is_measured_and_what_is_assumed_is_said_once(job):
    done = judged(job, rows(0.0, lines=1, each=4), steps=(Elevations(),))
    assert done["loose_sessions"]["least"].tolist() == [0.03]
    told = done["findings"].groupby("subject")["u_common"].first()
    assert told.to_dict() == pytest.approx({"L0": 0.012, "L1": 0.03})
    (said,) = note_lines(done["notes"], "ft")
    assert said == (
        "No check shot tells how high session B lies: elevations of it are taken to share 0.030 ft (1 sigma) at the "
        "least."
    )


def test_where_nothing_is_measurable_what_is_left_open_is_felt(job):
    done = judged(job, rows(0.0), steps=(Elevations(),))
    (one,) = done["loose_sessions"].to_dict("records")
    assert np.isnan(one["shift"])
    assert 0.0119 < one["least"] < 0.03
    common = done["findings"].query("subject == 'L1'")["u_common"]
    assert common.tolist() == pytest.approx([one["least"]] * EACH)


@pytest.mark.parametrize("seed", range(4))
def test_a_rod_changed_within_a_session_without_checks_is_one_question_and_no_defect(job, seed):
    done = judged(job, stepping([(20, 0.0), (13, 0.17), (15, -0.20)], seed=seed))
    assert len(out(done)) == 0
    (one,) = done["loose_sessions"].to_dict("records")
    assert one["steps"] == 2
    assert abs(one["shift"]) == pytest.approx(0.19, abs=0.03)
    levels = sorted(set(done["loose_shots"]["elevation"].dropna().round(4)))
    assert levels == pytest.approx([-0.20, 0.17], abs=0.03)
    assert done["loose_shots"]["elevation"].notna().sum() == pytest.approx(28, abs=2)
    waits = done["findings"][done["findings"]["why"] == "unchecked-session"]
    assert set(waits["verdict"]) == {"UNDECIDED"}
    (said,) = note_lines(done["notes"], "ft")
    assert said.startswith("Elevations of session B step together twice, and lie up to 0.")
    assert "of the design between steps; no check shot tells" in said


@pytest.mark.parametrize("seed", range(4))
def test_what_is_out_beside_the_level_of_its_own_time_is_found(job, seed):
    made = stepping([(20, 0.0), (13, 0.17), (15, -0.20)], seed=seed, defects=[(1, 6, 0.30), (3, 10, -0.45)])
    done = judged(job, made, steps=(Elevations(),))
    assert out(done)["subject"].tolist() == ["L1", "L3"]


@pytest.mark.parametrize("seed", range(4))
def test_a_reach_of_one_line_that_comes_back_to_where_it_was_is_the_work_s(job, seed):
    sag = [(2, shot, -0.30) for shot in range(3, 13)]
    done = judged(job, stepping([(48, 0.0)], seed=seed, defects=sag), steps=(Elevations(),))
    assert done["loose_sessions"]["shift"].isna().all()
    assert out(done)["subject"].tolist() == ["L2"] * 10
    back = judged(job, stepping([(33, 0.0), (12, 0.30), (3, 0.0)], seed=seed), steps=(Elevations(),))
    assert out(back)["subject"].tolist() == ["L3"] * 12  # the last three shots are good again


@pytest.mark.long
@pytest.mark.parametrize(
    ("levels", "end", "shots"), [(((38, 0.0), (10, 0.30)), "last", 10), (((9, -0.25), (39, 0.0)), "first", 9)]
)
@pytest.mark.parametrize("seed", range(4))
def test_what_lasts_from_the_first_shot_or_to_the_last_may_be_the_work_or_the_survey(job, levels, end, shots, seed):
    done = judged(job, stepping(levels, seed=seed))
    assert len(out(done)) == 0
    waits = done["findings"][done["findings"]["why"] == "unchecked-session"]
    assert len(waits.query("shot.notna()")) >= shots - 1
    assert set(waits["verdict"]) == {"UNDECIDED"}
    assert waits["remedy"].str.startswith("check that session on a mark, from the same set-up").all()
    (said,) = note_lines(done["notes"], "ft")
    assert said.startswith(f"The {end} ")
    assert abs(int(said.split()[2]) - shots) <= 2  # the step may be seen a shot or two late
    assert "of the design and none comes back" in said
    assert "check it on a mark from the same set-up, or shoot two of them again in a session that is checked." in said
    (one,) = done["loose_sessions"].to_dict("records")
    assert 0.0119 < one["least"] < 0.035
    told = judged(job, stepping(levels, seed=seed), checked=("A", "B"), steps=(Elevations(),))
    assert len(out(told)) == shots  # where control tells of the session, it is the work


def test_three_shots_at_the_end_are_the_work_s(job):
    done = judged(job, stepping([(45, 0.0), (3, 0.30)]), steps=(Elevations(),))
    assert out(done)["subject"].tolist() == ["L3"] * 3


IN_PLAN = (("curb-top", "offset", -0.10, 0.10),)


@pytest.mark.parametrize("seed", range(4))
def test_a_session_without_checks_that_lies_aside_is_one_question_and_no_defect(job, seed):
    made = stepping([(48, 0.0)], seed=seed, aside=0.11)
    made[EACH + 20]["offset"] += 0.20
    done = judged(job, made, steps=(Runs(), OnePlace(), Offsets()), limits=IN_PLAN)
    assert out(done)["shot"].tolist() == [done["shots"]["shot_key"].iloc[EACH + 20]]
    (one,) = done["loose_sessions"].to_dict("records")
    assert one["easting"] == pytest.approx(0.11, abs=0.02)  # right of a line to the north
    assert abs(one["northing"]) < 0.02
    waits = done["findings"][done["findings"]["why"] == "unchecked-session"]
    assert set(waits["hangs_on"]) == {"B"}
    assert waits["cause"].str.contains("right as read").all()
    (said,) = [line for line in note_lines(done["notes"], "ft") if "in plan" in line]
    assert said.startswith("Session B lies off the design in plan as a whole, easting +0.1")
    assert said.endswith("wait for that.")


def test_in_plan_a_line_that_is_built_aside_is_the_work_s_and_a_checked_session_is_judged_as_ever(job):
    made = stepping([(48, 0.0)])
    for row in made[2 * EACH : 3 * EACH]:
        row["offset"] += 0.25
    done = judged(job, made, steps=(Offsets(),), limits=IN_PLAN)
    assert done["loose_sessions"][["easting", "northing"]].isna().all(axis=None)
    assert set(out(done)["subject"]) == {"L2"}
    done = judged(job, stepping([(48, 0.0)], aside=0.16), steps=(Offsets(),), limits=IN_PLAN, checked=("A", "B"))
    assert len(out(done)) > 10


@pytest.mark.score
def test_no_session_without_checks_makes_defects_and_what_lies_far_beyond_is_found(job):
    false = sound = found = planted = 0
    for seed in range(14):
        for high in (0.0, 0.05, -0.08, 0.10, -0.12):
            lines = 1 + seed % 4
            defects = [(lines, 4, 0.40), (lines, 11, -0.40)]
            made = rows(high, lines=lines, seed=seed, defects=defects)
            done = judged(job, made, steps=(Elevations(),))
            verdict = done["findings"].query("check == 'elevation' and shot.notna()")["verdict"].to_numpy()
            work = np.abs([row["true"] for row in made])
            false += int(((verdict == "OUT") & (work <= 0.10)).sum())
            sound += int((work <= 0.10).sum())
            found += int((verdict[work > 0.10] == "OUT").sum())
            planted += len(defects)
    assert false <= 0.0003 * sound, (false, sound)
    assert found >= 0.97 * planted, (found, planted)
