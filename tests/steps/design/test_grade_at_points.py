"""Point features off in plan on a slope: the design has another elevation where they were built."""

import math

import numpy as np
import pytest

from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.positions import Positions

SLOPE = {"TOE": ("toe", -15.0, 0, 100, 100.0), "TOP": ("top", 15.0, 0, 100, 110.0)}  # 1:3
LIMITS = [("rim", "position", -math.inf, 0.50), ("rim", "elevation", -0.05, 0.05)]
U = {"u_h_random": 0.01, "u_h_common": 0.0, "u_v_random": 0.01, "u_v_common": 0.0}


def points(count=6, kind="rim"):
    return {f"P{each}": (kind, 0.0, 10.0 + 15.0 * each, 105.0) for each in range(count)}


def made_of(job, rows, lines=SLOPE, spots=None, kind="rim", **columns):
    shots = job.prepared(job.shots(rows), **({"kind": kind} | U | columns))
    limits = [(kind, *each[1:]) for each in LIMITS]
    layers = job.layers(shots=shots, limits=job.limits(*limits), **job.design(lines, spots or points(kind=kind)))
    return job.run(layers, MatchPoints(), Positions())


@pytest.mark.parametrize(("kind", "seed"), [("rim", 1), ("valve", 2), ("hydrant", 3), ("rim", 4)])
def test_sound_points_up_and_down_a_slope_are_not_out(job, kind, seed):
    rng = np.random.default_rng(seed)
    aside = rng.choice([-0.3, 0.3], 6)
    rows = [
        {"offset": each, "station": 10.0 + 15.0 * n, "elevation": 105.0 + each / 3 + rng.normal(0, 0.005)}
        for n, each in enumerate(aside)
    ]
    made = made_of(job, rows, kind=kind)
    assert {verdict for verdict, _ in job.told(made, "elevation").values()} <= {"IN", "UNDECIDED"}
    found = made["findings"].query("check == 'elevation'")
    assert (found["deviation"].abs() < 0.02).all()
    assert found["cause"].str.contains("compared at the as-built place; at the design point it would be").all()
    assert (found["verdict"] == "IN").sum() >= 4


def test_a_point_that_is_high_by_both_is_out_and_one_that_is_so_by_one_is_undecided(job):
    rows = [
        {"offset": 0.3, "station": 10.0, "elevation": 105.30},  # 0.20 above the slope, 0.30 above its number
        {"offset": 0.3, "station": 25.0, "elevation": 104.97},  # 0.13 below the slope, 0.03 below its number
        {"offset": 0.0, "station": 40.0, "elevation": 105.20},
    ]
    made = made_of(job, rows)
    assert job.told(made, "elevation") == {
        "101": ("OUT", "proven"),
        "102": ("UNDECIDED", "place-or-node"),
        "103": ("OUT", "proven"),
    }
    found = made["findings"].query("check == 'elevation'").set_index("label")
    assert found.loc["shot 101", ["design", "deviation"]].tolist() == pytest.approx([105.1, 0.2])
    assert found.loc["shot 101", "excess"] < 0.15 / 0.0141  # the milder of both
    assert found.loc["shot 102", "remedy"].startswith("decide which of the two")


def test_the_points_of_the_kind_give_the_grade_where_no_lines_do(job):
    spots = {f"P{n}": ("rim", east, north, 100.0 + east / 3) for n, (east, north) in
             enumerate([(0, 0), (20, 0), (0, 20), (20, 20), (10, 10)])}  # fmt: skip
    rows = [{"offset": 10.3, "station": 10.0, "elevation": 100.0 + 10.3 / 3}]
    made = made_of(job, rows, {}, spots)
    assert job.told(made, "elevation") == {"101": ("IN", "proven")}


def test_what_a_slope_could_make_is_not_called_out_where_no_grade_is_known(job):
    rows = [
        {"offset": 0.3, "station": 10.0, "elevation": 105.1},
        {"offset": 0.3, "station": 25.0, "elevation": 105.4},  # no slope of 1:3 makes 0.4 of 0.3
        {"offset": 0.01, "station": 40.0, "elevation": 105.1},  # in its place
        {"offset": 0.3, "station": 55.0, "elevation": 105.0},
    ]
    made = made_of(job, rows, {})
    assert job.told(made, "elevation") == {
        "101": ("UNDECIDED", "no-grade"),
        "102": ("OUT", "proven"),
        "103": ("OUT", "proven"),
        "104": ("IN", "proven"),
    }
    found = made["findings"].query("check == 'elevation'").set_index("label")
    assert "cannot be known" in found.loc["shot 101", "cause"]
    assert found.loc["shot 101", "remedy"].startswith("add to the design")
    assert found["cause"].notna().sum() == 1


def test_a_remedy_promises_nothing_that_the_slope_keeps_it_from_deciding(job):
    rows = [
        {"offset": 0.3, "station": 10.0, "elevation": 105.08},  # no shot proves it out: a slope may make it
        {"offset": 0.3, "station": 25.0, "elevation": 105.03},
        {"offset": 0.0, "station": 40.0, "elevation": 105.08},
    ]
    found = made_of(job, rows, {}, u_v_random=0.03)["findings"].query("check == 'elevation'").set_index("label")
    assert set(found["verdict"]) == {"UNDECIDED"}
    beyond, within, placed = found["remedy"].sort_index().tolist()
    assert "a level reading with u of 0.010 ft: 8 of 10" in placed
    assert beyond.startswith("add to the design")
    assert beyond.endswith(f"; then {placed}")
    # within it may still be proven, in all cases but those that a level finds beyond
    assert "add to the design" not in within
    assert "a level reading with u of 0.010 ft decides 6 of 10" in within


def test_inverts_and_level_ground_are_compared_as_ever(job):
    rows = [{"offset": 0.3, "station": 10.0, "elevation": 105.1}]
    assert job.told(made_of(job, rows, kind="invert"), "elevation") == {"101": ("OUT", "proven")}
    level = {"A": ("toe", -15.0, 0, 100, 105.0), "B": ("top", 15.0, 0, 100, 105.0)}
    made = made_of(job, rows, level)
    assert job.told(made, "elevation") == {"101": ("OUT", "proven")}
    assert made["findings"]["cause"].isna().all()


def test_beside_a_curb_the_grade_is_not_known(job):
    curb = {f"C{n}": (f"curb-{n}", east, 0, 100, level) for n, (east, level) in
            enumerate([(-9.0, 105.0), (0.1, 105.0), (0.6, 105.5), (9.0, 105.5)])}  # fmt: skip
    rows = [{"offset": 0.2, "station": 10.0, "elevation": 105.0}, {"offset": 0.2, "station": 25.0, "elevation": 105.1}]
    assert job.told(made_of(job, rows, curb), "elevation") == {
        "101": ("IN", "proven"),
        "102": ("UNDECIDED", "no-grade"),
    }


def test_a_point_far_above_the_lines_round_it_does_not_follow_them(job):
    deep = {"A": ("toe", -15.0, 0, 100, 80.0), "B": ("top", 15.0, 0, 100, 90.0)}
    made = made_of(job, [{"offset": 0.3, "station": 10.0, "elevation": 105.1}], deep)
    assert job.told(made, "elevation") == {"101": ("UNDECIDED", "no-grade")}
