"""What keeps a deviation along a line from being judged, and what the findings of one shot have in common."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.words import flag_named
from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.runs import Runs

LINE = {"CTB-L": ("curb-top", 0.0, 0, 800)}
STEPS = (Runs(), Offsets(), Elevations())
LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.08, 0.08)]


def judged(job, rows, lines=LINE, limits=LIMITS, steps=STEPS, tables=None, **columns):
    shots = job.prepared(job.shots(rows), **columns)
    for name in columns:
        shots[name] = columns[name]
    layers = job.layers(shots=shots, limits=job.limits(*limits), **job.design(lines), **(tables or {}))
    return job.run(layers, MatchLines(), *steps)


def every(offsets, elevations=None, spacing=40.0):
    """Shots so far apart that no run forms unless wanted."""
    elevations = [100.0] * len(offsets) if elevations is None else elevations
    rows = zip(offsets, elevations, strict=True)
    return [{"offset": o, "elevation": z, "station": 20 + spacing * at} for at, (o, z) in enumerate(rows)]


def test_every_missing_thing_has_its_reason(job):
    lines = {"CTB-L": ("curb-top", 0.0, 0, 800, np.nan), "CTB-R": ("curb-top", 2.0, 0, 800, np.nan)}
    rows = [
        {"station": 40},
        {"station": 80},
        {"station": 120, "offset": 1.0},
        {"station": 802, "offset": 2.0},
        {"station": 160},
    ]
    made = judged(
        job, rows, lines, use=[True, False, True, True, False], flags=["", "pdop", "", "", "identical-to-design"]
    )
    assert job.told(made, "elevation") == {
        "-": ("NO_DATA", "no-design-elevation"),  # the line, once for all its shots
        "102": ("NO_DATA", "screened"),
        "103": ("NO_DATA", "ambiguous-match"),
        "104": ("NO_DATA", "past-end"),
        "105": ("NO_DATA", "identical-to-design"),
    }
    assert job.told(made, "offset")["101"] == ("IN", "proven")
    assert made["findings"].set_index("shot").loc["day1/103", "subject"].unique().tolist() == ["-"]
    assert made["findings"]["remedy"].notna().sum() >= 8


def test_what_nobody_set_a_tolerance_for_is_measured_and_not_judged(job):
    made = judged(job, every([0.0]), limits=[])
    assert len(made["line_matches"]) == 1
    assert not len(made["findings"].query("check in ('offset', 'elevation')"))


def test_without_uncertainty_nothing_is_judged(job):
    made = judged(job, every([0.0]), u_h_random=[np.nan])
    assert job.told(made, "offset") == {"101": ("NO_DATA", "no-uncertainty")}
    assert job.told(made, "elevation") == {"101": ("IN", "proven")}


def test_a_tolerance_that_cannot_be_proven_says_what_could(job):
    made = judged(job, every([0.0]), limits=[("curb-top", "elevation", -0.05, 0.05)])
    row = made["findings"].query("check == 'elevation'").iloc[0]
    assert [row["verdict"], row["why"]] == ["UNDECIDED", "u-too-large"]
    # 0.05 / 1.96 = 0.0255; one more makes u 0.02: IN up to 0.0171, OUT from 0.0829, and the mean is normal with sd 0.02
    assert row["remedy"] == (
        "needs u of 0.026 ft or better to prove it at all: 1 more independent shot, in another checked session 4 h or "
        "more later, decides 6 of 10 such numbers; a level reading with u of 0.010 ft: 8 of 10"
    )


@pytest.mark.parametrize(
    ("u_v", "told"),
    [
        ([0.01, None], "; a level reading with u of 0.014 ft: 8 of 10"),  # of the best mark, and of the level
        ([None, None], ""),  # 0.03 is assumed: no level from such a mark proves more than a shot does
    ],
)
def test_a_level_reading_feels_the_mark_that_it_starts_from(job, u_v, told):
    place = {"easting": job.origin[0], "northing": job.origin[1], "elevation": 100.0}
    marks = pd.DataFrame({"mark": ["CP-1", "CP-2"], "u_v": u_v, **place, "held": False, "independent": False})
    marks = conform("control", marks)
    made = judged(job, every([0.0]), limits=[("curb-top", "elevation", -0.05, 0.05)], tables={"control": marks})
    remedy = made["findings"].query("check == 'elevation'")["remedy"].iloc[0]
    assert remedy.endswith("decides 6 of 10 such numbers" + told)


@pytest.mark.long
def test_an_undecided_shot_says_how_many_more_would_do(job):
    row = judged(job, every([0.08])).get("findings").query("check == 'offset'").iloc[0]
    # two more make u 0.0115: IN up to 0.0810, OUT from 0.1190, and the mean is normal with sd 0.0163: 0.525 + 0.008
    assert row["remedy"] == (
        "2 more independent shots, in checked sessions of their own 4 h or more apart, decide 5 of 10 such numbers; "
        "a total station with u of 0.016 ft: 5 of 10"
    )
    row = judged(job, every([0.0999])).get("findings").query("check == 'offset'").iloc[0]
    assert row["remedy"].startswith("so near the limit that 3 more independent shots")
    assert "0.000 ft" not in row["remedy"]


@pytest.mark.parametrize(
    ("rule", "expected"), [("simple", ("IN", "as-measured")), ("guard 0.6", ("UNDECIDED", "near-limit"))]
)
def test_the_rule_of_the_limit_decides(job, rule, expected):
    made = judged(job, every([0.08]), limits=[("curb-top", "offset", -0.10, 0.10, rule)])
    assert job.told(made, "offset") == {"101": expected}


def test_two_rule_sets_are_two_findings(job):
    limits = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "offset", -0.01, 0.01, "guarded", "strict")]
    made = judged(job, every([0.05]), limits=limits)
    found = made["findings"].query("check == 'offset'").set_index("against")
    assert found["verdict"].to_dict() == {"job; design": "IN", "strict; design": "OUT"}


SAG = {"offsets": [0.0] * 8, "elevations": [100, 100, 99.68, 99.76, 99.82, 99.87, 100, 100], "spacing": 25.0}


def test_the_steps_work_without_runs(job):
    made = judged(job, every(**SAG), steps=(Offsets(), Elevations()))
    assert len(made["findings"]) == 16
    assert made["findings"]["run"].isna().all()


def test_findings_do_not_depend_on_the_order_of_rows(job):
    rows = every(**SAG)
    one, other = (
        judged(job, rows),
        judged(job, [dict(row, shot=str(101 + i)) for i, row in list(enumerate(rows))[::-1]]),
    )
    for layers in (one, other):
        assert layers["findings"]["finding"].is_unique
    columns = ["finding", "verdict", "deviation", "run"]
    first, second = (each["findings"].sort_values("finding")[columns].reset_index(drop=True) for each in (one, other))
    assert first["finding"].tolist() == second["finding"].tolist()
    assert first["verdict"].tolist() == second["verdict"].tolist()
    assert first["run"].fillna("").tolist() == second["run"].fillna("").tolist()


def test_no_shots_are_no_findings(job):
    assert len(judged(job, [])["findings"]) == 0


@pytest.mark.parametrize(("flag", "why"), [("spike", "strays"), ("weak-sky", "few satellites")])
def test_a_stray_or_shaded_shot_out_of_tolerance_is_to_be_shot_again_first(job, flag, why):
    """Common practice, no source: one shot that its neighbours contradict is measured again before anyone is blamed."""
    made = judged(job, every([0.02, 0.60, 0.0]), flags=["", flag, ""])
    found = made["findings"].query("check == 'offset'").set_index("shot")
    assert found["verdict"].to_dict() == {"day1/101": "IN", "day1/102": "OUT", "day1/103": "IN"}
    assert found.loc["day1/102", "remedy"].startswith("re-shoot it first")
    assert why in found.loc["day1/102", "remedy"]
    assert found["remedy"].isna().sum() == 2


def test_a_stray_shot_under_a_blunder_waits_for_that_before_it_is_shot_again(job):
    shots = job.prepared(job.shots(every([0.02, 0.60, 0.0]))).assign(flags=["", "spike", ""])
    acts = conform("cause_shots", pd.DataFrame({
        "shot_key": ["day1/102"], "cause": "initialization", "subject": "A-1", "holds": True, "sure": True,
        "shift_easting": 0.5,
        "shift_northing": 0.0, "shift_elevation": 0.0, "u_easting": 0.01, "u_northing": 0.01, "u_elevation": 0.01,
    }))  # fmt: skip
    layers = job.layers(shots=shots, cause_shots=acts, limits=job.limits(*LIMITS), **job.design(LINE))
    found = job.run(layers, MatchLines(), *STEPS)["findings"].query("check == 'offset'").set_index("shot")
    assert found.loc["day1/102", "remedy"].startswith("clear the blunder first")
    assert "strays from its line" in found.loc["day1/102", "remedy"]


@pytest.mark.parametrize("flag", ["code-slip", "swapped-pair"])
def test_a_code_in_question_asks_for_the_code_and_not_for_another_shot(job, flag):
    """What the day page asks of a shot and what its finding asks are one thing."""
    shots = job.prepared(job.shots([{"station": 20.0}, {"station": 40.0}, {"station": 60.0}, {"station": 80.0}]))
    shots = shots.assign(use=[False, False, True, False], flags=[flag, f"{flag};satellites", "", f"{flag};spike"])
    flags = pd.DataFrame(
        [
            ("101", flag, True),
            ("102", flag, True),
            ("102", "satellites", True),
            ("104", flag, True),
            ("104", "spike", False),
        ],
        columns=["shot_key", "flag", "reject"],
    )
    flags = conform("flags", flags.assign(step="x", shot_key="day1/" + flags["shot_key"]))
    layers = job.layers(
        shots=shots, flags=flags, limits=job.limits(("curb-top", "offset", -0.1, 0.1)),
        **job.design({"A": ("curb-top", 0.0, 0, 100)}),
    )  # fmt: skip
    found = job.run(layers, MatchLines(), Offsets())["findings"].set_index("shot")
    assert found["why"].to_dict() == {
        "day1/101": "own-code-question", "day1/102": "screened", "day1/103": "proven", "day1/104": "own-code-question"
    }  # fmt: skip
    for shot in ("day1/101", "day1/104"):
        assert (
            found.loc[shot, "remedy"] == "settle its code, correct it and run again; for that it need not be shot again"
        )
    assert flag_named(flag).do.startswith("correct the ")  # what the day page says
