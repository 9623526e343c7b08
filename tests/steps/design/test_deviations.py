"""Runs, offsets and elevations along lines; positions and elevations of points."""

import math

import numpy as np
import pytest

from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.positions import Positions
from geoqa.steps.design.runs import Runs

LINE = {"CTB-L": ("curb-top", 0.0, 0, 800)}
STEPS = (Runs(), Offsets(), Elevations())
LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.08, 0.08)]


def judged(job, rows, lines=LINE, limits=LIMITS, steps=STEPS, **columns):
    shots = job.known(job.shots(rows), **columns)
    for name in columns:
        shots[name] = columns[name]
    layers = job.layers(shots=shots, limits=job.limits(*limits), **job.design(lines))
    return job.run(layers, MatchLines(), *steps)


def every(offsets, elevations=None, spacing=40.0):
    """Shots so far apart that no run forms unless wanted."""
    elevations = [100.0] * len(offsets) if elevations is None else elevations
    rows = zip(offsets, elevations, strict=True)
    return [{"offset": o, "elevation": z, "station": 20 + spacing * at} for at, (o, z) in enumerate(rows)]


def test_offsets_are_judged_four_ways(job):
    made = judged(job, [*every([0.02, 0.30, 0.10]), {"easting": np.nan}])
    assert job.told(made, "offset") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-position"),
    }
    row = made["findings"].query("check == 'offset' and shot == 'day1/102'").iloc[0]
    assert row[["deviation", "station", "offset", "u"]].tolist() == pytest.approx([0.3, 60, 0.3, 0.02])
    assert row[["subject", "against", "reference", "edition", "rule"]].tolist() == [
        "CTB-L", "job; design", "Drawing C-101", "B", "guarded",
    ]  # fmt: skip
    assert row["excess"] == pytest.approx(10)


def test_elevations_are_judged_four_ways(job):
    made = judged(job, every([0.0] * 4, [100.01, 99.8, 100.08, np.nan]))
    assert job.told(made, "elevation") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-elevation"),
    }
    row = made["findings"].query("check == 'elevation' and shot == 'day1/102'").iloc[0]
    assert row["deviation"] == pytest.approx(-0.2)
    assert row["u"] == pytest.approx(math.hypot(0.02, 0.02))


def test_the_design_elevation_is_taken_at_the_station_of_the_shot(job):
    tables = job.design(LINE)
    tables["design_elements"]["end_elevation"] = 108.0  # 1 % over 800 ft
    layers = job.layers(
        shots=job.known(job.shots([{"station": 333.0, "elevation": 103.33}])), limits=job.limits(*LIMITS), **tables
    )
    made = job.run(layers, MatchLines(), Elevations())
    assert made["findings"]["design"].tolist() == pytest.approx([103.33])
    assert made["findings"]["deviation"].tolist() == pytest.approx([0.0], abs=1e-9)


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
        "101": ("NO_DATA", "no-design-elevation"),
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


def test_a_shot_just_past_the_end_is_still_judged_by_its_offset(job):
    made = judged(job, [{"station": 800.12, "offset": 0.02}, {"station": 800.2, "offset": 0.02}])
    assert job.told(made, "offset") == {"101": ("IN", "proven"), "102": ("NO_DATA", "past-end")}


def test_a_tolerance_that_cannot_be_proven_says_what_could(job):
    made = judged(job, every([0.0]), limits=[("curb-top", "elevation", -0.05, 0.05)])
    row = made["findings"].query("check == 'elevation'").iloc[0]
    assert [row["verdict"], row["why"]] == ["UNDECIDED", "u-too-large"]
    # 0.05 / 1.96 = 0.0255; (0.0283 / 0.0255)² = 1.23, so 2
    assert (
        row["remedy"]
        == "needs u of 0.026 ft or better to prove it at all: a level reading, or the mean of 2 independent shots"
    )


def test_an_undecided_shot_says_how_many_more_would_do(job):
    row = judged(job, every([0.08])).get("findings").query("check == 'offset'").iloc[0]
    # margin 0.02 over 1.645 is u 0.0122; (0.02 / 0.0122)² = 2.7, so 3 in all
    assert (
        row["remedy"]
        == "2 more independent shots if their mean stays at +0.080 ft, or a total station with u of 0.012 ft or better"
    )
    row = judged(job, every([0.0999])).get("findings").query("check == 'offset'").iloc[0]
    assert row["remedy"].startswith("so near the limit that a total station with u of 0.000 ft")


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


def test_neighbours_that_agree_are_one_run_judged_by_its_mean(job):
    made = judged(job, every(**SAG))
    (run,) = made["runs"].to_dict("records")
    assert [run["check"], run["line"], run["shots"]] == ["elevation", "CTB-L", 4]
    assert [run["mean"], run["u_random"], run["u_common"]] == pytest.approx([-0.2175, 0.01, 0.02])
    assert [run["station"], run["station_end"]] == pytest.approx([70, 145])
    assert run["geometry"].length == pytest.approx(75)
    own = made["findings"].set_index("finding").loc[run["run"]]
    assert [own["verdict"], own["why"], own["label"]] == ["OUT", "proven", "4 shots from 0+70.00 to 1+45.00"]
    assert own["u"] == pytest.approx(math.hypot(0.01, 0.02))
    members = made["findings"].query("run == @run['run']")
    assert sorted(members["shot"]) == ["day1/103", "day1/104", "day1/105", "day1/106"]
    assert (members["check"] == "elevation").all()
    assert made["run_members"]["weight"].tolist() == pytest.approx([0.25] * 4)
    assert made["evidence"]["key"].tolist() == sorted(members["shot"])


def test_a_run_may_well_be_in(job):
    made = judged(job, every([0.06] * 9, spacing=25.0))
    own = made["findings"][made["findings"]["shot"].isna()].iloc[0]
    assert [own["check"], own["verdict"], own["why"]] == ["offset", "IN", "proven"]
    assert own["u"] == pytest.approx(0.02 / 3)


def test_a_run_of_two_sessions_averages_their_common_parts(job):
    rows = every(**SAG)
    for row in rows[4:]:
        row["session"] = "B"
    (run,) = judged(job, rows)["runs"].to_dict("records")
    assert run["u_common"] == pytest.approx(0.02 / math.sqrt(2))


def test_an_undecided_run_asks_for_another_pass_not_for_a_shot(job):
    made = judged(job, every([0.0] * 5, [100.07] * 5, spacing=25.0))
    own = made["findings"][made["findings"]["shot"].isna()].iloc[0]
    assert own["verdict"] == "UNDECIDED"
    assert "level reading" in own["remedy"]
    assert "independent shot" not in own["remedy"]


def test_rejected_and_lost_shots_are_in_no_run(job):
    made = judged(job, every(**SAG), use=[True, True, False, False, True, True, True, True])
    assert len(made["runs"]) == 0
    assert made["findings"]["run"].isna().all()


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


POINTS = {"MH-1": ("rim", 0.0, 0.0, 100.0), "MH-2": ("rim", 0.0, 100.0, 100.0)}
POINT_LIMITS = [("rim", "position", -math.inf, 0.20), ("rim", "elevation", -0.10, 0.10)]


def at_points(job, rows, points=POINTS, limits=POINT_LIMITS, **columns):
    shots = job.known(job.shots(rows), **({"kind": "rim"} | columns))
    layers = job.layers(shots=shots, limits=job.limits(*limits), **job.design(points=points))
    return job.run(layers, MatchPoints(), Positions())


def test_positions_are_judged_by_radius(job):
    rows = [{"offset": 0.03, "station": 0.04}, {"offset": 0.5}, {"offset": 0.19}, {"easting": np.nan}]
    made = at_points(job, rows)
    assert job.told(made, "position") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-position"),
    }
    row = made["findings"].query("check == 'position' and shot == 'day1/101'").iloc[0]
    assert [row["subject"], row["deviation"], row["upper"]] == ["MH-1", pytest.approx(0.05), 0.20]


def test_elevations_of_points_are_judged_against_the_point(job):
    rows = [{"elevation": 100.01}, {"elevation": 100.3}, {"elevation": 100.1}, {"elevation": np.nan}]
    made = at_points(job, rows)
    assert [each[0] for each in job.told(made, "elevation").values()].count("IN") == 1
    assert job.told(made, "elevation") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-elevation"),
    }


def test_a_point_between_two_is_not_judged(job):
    made = at_points(job, [{"station": 1.0}], {"MH-1": ("rim", 0, 0, 100.0), "MH-2": ("rim", 0, 2.0, 100.0)})
    assert job.told(made, "position") == {"101": ("NO_DATA", "ambiguous-match")}
    assert job.told(made, "elevation") == {"101": ("NO_DATA", "ambiguous-match")}


def test_no_shots_are_no_findings(job):
    assert len(judged(job, [])["findings"]) == 0
    assert len(at_points(job, [])["findings"]) == 0


def test_a_stray_shot_makes_no_run_of_its_neighbours(job):
    rows = every([0.06, 0.06, 0.45, 0.06, 0.06], spacing=25.0)
    wanted, stray = [""] * 5, ["", "", "spike", "", ""]
    whole, less = (judged(job, rows, flags=flags) for flags in (wanted, stray))
    assert "day1/103" in set(whole["run_members"]["shot_key"])  # what it would do: the mean of all is carried beyond
    assert whole["runs"]["verdict"].tolist() == ["OUT"]
    assert "OUT" not in set(less["runs"]["verdict"])
    assert "day1/103" not in set(less["run_members"]["shot_key"])


@pytest.mark.parametrize(("flag", "why"), [("spike", "strays"), ("weak-sky", "few satellites")])
def test_a_stray_or_shaded_shot_out_of_tolerance_is_to_be_shot_again_first(job, flag, why):
    """Common practice, no source: one shot that its neighbours contradict is measured again before anyone is blamed."""
    made = judged(job, every([0.02, 0.60, 0.0]), flags=["", flag, ""])
    found = made["findings"].query("check == 'offset'").set_index("shot")
    assert found["verdict"].to_dict() == {"day1/101": "IN", "day1/102": "OUT", "day1/103": "IN"}
    assert found.loc["day1/102", "remedy"].startswith("re-shoot it first")
    assert why in found.loc["day1/102", "remedy"]
    assert found["remedy"].isna().sum() == 2
