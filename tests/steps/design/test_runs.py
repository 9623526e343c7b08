"""Neighbours that agree are one run, judged by its mean; the random part falls with their number."""

import math

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.runs import Runs

LINE = {"CTB-L": ("curb-top", 0.0, 0, 800)}
LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.08, 0.08)]


def judged(job, rows, **columns):
    shots = job.prepared(job.shots(rows))
    for name, values in columns.items():
        shots[name] = values
    layers = job.layers(shots=shots, limits=job.limits(*LIMITS), **job.design(LINE))
    return job.run(layers, MatchLines(), Runs(), Offsets(), Elevations())


def every(offsets, elevations=None, spacing=25.0):
    """Shots of one line, from station 20 on."""
    elevations = [100.0] * len(offsets) if elevations is None else elevations
    rows = zip(offsets, elevations, strict=True)
    return [{"offset": o, "elevation": z, "station": 20 + spacing * at} for at, (o, z) in enumerate(rows)]


def of_runs(layers):
    return layers["findings"][layers["findings"]["shot"].isna()]


def on_days(rows):
    """Each on a day of its own: no error lasts from one to the next."""
    return [row | {"time": pd.Timestamp("2026-03-14", tz="UTC") + pd.Timedelta(days=n)} for n, row in enumerate(rows)]


@pytest.mark.parametrize(("mean", "verdict"), [(0.06, "IN"), (0.12, "OUT"), (0.095, "UNDECIDED"), (-0.12, "OUT")])
def test_the_mean_is_judged_with_the_uncertainty_of_nine(job, mean, verdict):
    made = judged(job, on_days(every([mean] * 9)))
    (own,) = of_runs(made).to_dict("records")
    assert [own["check"], own["verdict"], own["subject"]] == ["offset", verdict, "CTB-L"]
    assert [own["deviation"], own["u"]] == pytest.approx([mean, 0.02 / 3])
    assert [own["lower"], own["upper"]] == [-0.10, 0.10]
    assert own["p_conform"] == pytest.approx(job.chance(mean, 0.02 / 3, -0.10, 0.10), abs=1e-6)
    assert made["runs"]["verdict"].tolist() == [verdict]


def test_nine_of_one_moment_that_differ_by_nothing_share_what_they_are_off_by(job):
    made = judged(job, every([0.12] * 9))
    (own,) = of_runs(made).to_dict("records")
    (run,) = made["runs"].to_dict("records")
    # eight differences say that all of it lasts, and half with the weight of ten is taken before
    assert run["lasting"] == pytest.approx((8 + 10 * 0.5) / 18)
    assert own["u"] == pytest.approx(0.02 * math.sqrt(13 / 18 + (5 / 18) / 9))
    assert own["verdict"] == "UNDECIDED"


def test_neighbours_that_differ_as_their_uncertainty_says_wear_it_down(job):
    """Sound shots that scatter by 0.02 ft tell of five others that what they are off by does not last."""
    rng = np.random.default_rng(7)
    offsets = rng.normal(0, 0.02, 30)
    offsets[12:17] += 0.16
    (run,) = judged(job, every(offsets.tolist()))["runs"].to_dict("records")
    assert run["shots"] == 5
    assert run["lasting"] < 0.5
    assert run["u_random"] == pytest.approx(0.02 * math.sqrt((1 - run["lasting"]) / 5 + run["lasting"]))
    assert run["verdict"] == "OUT"


def test_the_extreme_stands_beside_the_mean(job):
    made = judged(job, every(**SAG))
    (run,) = made["runs"].to_dict("records")
    assert [run["extreme"], run["extreme_shot"]] == [pytest.approx(-0.32), "day1/103"]
    (own,) = of_runs(made).to_dict("records")
    assert own["label"].endswith("(farthest 0.32 low)")


def test_one_good_neighbour_does_not_wear_down_five_bad_ones(job):
    low = [100.0, 99.88, 99.87, 99.89, 99.88, 99.88, 99.958, 100.0]
    (run,) = judged(job, every([0.0] * 8, low))["runs"].to_dict("records")
    assert [run["shots"], run["mean"]] == [5, pytest.approx(-0.12)]


def test_a_run_that_luck_explains_reaches_back_to_the_design(job):
    """Where u is nearly the limit, three of thirty shots to one side are no news: 0 lies within 2 u of their mean."""
    offsets = 0.06 * (-1.0) ** np.arange(30)
    offsets[4:7] = [0.15, 0.14, 0.16]
    (run,) = judged(job, every(offsets.tolist()), u_h_random=0.08)["runs"].to_dict("records")
    assert run["u_choice"] > 0
    assert abs(run["mean"]) - 2 * run["u_random"] < 0.0


def test_four_deep_shots_are_a_run_also_where_u_is_large(job):
    elevations = [100.0] * 4 + [99.5, 99.4, 99.4, 99.5] + [100.0] * 4
    (run,) = judged(job, every([0.0] * 12, elevations), u_v_random=0.06)["runs"].to_dict("records")
    assert [run["shots"], run["mean"]] == [4, pytest.approx(-0.55)]
    assert run["verdict"] == "OUT"


@pytest.mark.parametrize("seed", range(3))
def test_a_run_is_never_weaker_than_its_members(job, seed):
    """One shot of five lies deep: it is proven, their mean is not."""
    rng = np.random.default_rng(seed)
    sag = np.pad([-0.085, -0.085, -0.165, -0.085, -0.085], 14)
    low = (100.0 + sag + rng.normal(0, 0.005, 33)).tolist()
    made = judged(job, every([0.0] * 33, low), u_v_random=0.012, u_v_common=0.025)
    runs, single = of_runs(made), made["findings"][made["findings"]["shot"].notna()]
    alone = single[(single["verdict"] == "OUT") & single["run"].isna()]
    for own in runs.to_dict("records"):
        members = made["run_members"].loc[made["run_members"]["run"] == own["finding"], "shot_key"]
        if alone["shot"].isin(members).any():
            assert own["verdict"] != "OUT"
            assert alone["shot"].isin(members).sum() < 2 or -own["deviation"] - 0.08 < own["u"]
            assert own["why"] != "u-too-large"
            for name in alone.loc[alone["shot"].isin(members), "shot"].str.rpartition("/")[2]:
                assert f"shot {name}" in own["label"]
    assert "members-out" in set(runs["why"])


def test_a_run_whose_common_part_is_unknown_is_not_judged(job):
    (own,) = of_runs(judged(job, every([0.12] * 9), u_h_common=np.nan)).to_dict("records")
    assert [own["verdict"], own["why"]] == ["NO_DATA", "no-uncertainty"]


@pytest.mark.parametrize(
    "offsets", [[0.0] * 9, [0.12, -0.12] * 4, [0.12] * 2 + [0.0] * 7], ids=["on line", "to both sides", "two alone"]
)
def test_neighbours_that_do_not_agree_are_no_run(job, offsets):
    made = judged(job, every(offsets))
    assert len(of_runs(made)) == len(made["runs"]) == len(made["run_members"]) == 0


@pytest.mark.parametrize(("spacing", "shots"), [(49.0, [6]), (51.0, [])])
def test_a_longer_distance_between_neighbours_ends_a_run(job, spacing, shots):
    assert judged(job, every([0.12] * 6, spacing=spacing))["runs"]["shots"].tolist() == shots


SAG = {"offsets": [0.0] * 8, "elevations": [100, 100, 99.68, 99.76, 99.82, 99.87, 100, 100], "spacing": 25.0}


def test_neighbours_that_agree_are_one_run_judged_by_its_mean(job):
    made = judged(job, every(**SAG))
    (run,) = made["runs"].to_dict("records")
    assert [run["check"], run["line"], run["shots"]] == ["elevation", "CTB-L", 4]
    # seven differences, of steps alone, say that nothing lasts; half with the weight of ten is taken before
    u_random = 0.02 * math.sqrt(5 / 17 + (12 / 17) / 4)
    assert [run["mean"], run["u_random"], run["u_common"]] == pytest.approx([-0.2175, u_random, 0.02])
    assert [run["station"], run["station_end"]] == pytest.approx([70, 145])
    assert run["geometry"].length == pytest.approx(75)
    own = made["findings"].set_index("finding").loc[run["run"]]
    assert [own["verdict"], own["why"], own["label"]] == [
        "OUT",
        "proven",
        "mean of 4 shots from 0+70.00 to 1+45.00 (farthest 0.32 low)",
    ]
    assert own["u"] == pytest.approx(math.hypot(u_random, 0.02))
    members = made["findings"].query("run == @run['run']")
    assert sorted(members["shot"]) == ["day1/103", "day1/104", "day1/105", "day1/106"]
    assert (members["check"] == "elevation").all()
    assert made["run_members"]["weight"].tolist() == pytest.approx([0.25] * 4)
    assert made["evidence"]["key"].tolist() == sorted(members["shot"])


def test_a_run_of_two_sessions_averages_their_common_parts(job):
    rows = every(**SAG)
    for row in rows[4:]:
        row["session"] = "B"
    (run,) = judged(job, rows)["runs"].to_dict("records")
    assert run["u_common"] == pytest.approx(0.02 / math.sqrt(2))


def test_an_undecided_run_asks_for_another_pass_not_for_a_shot(job):
    made = judged(job, every([0.0] * 5, [100.07] * 5))
    own = made["findings"][made["findings"]["shot"].isna()].iloc[0]
    assert own["verdict"] == "UNDECIDED"
    assert "level reading" in own["remedy"]
    assert "independent shot" not in own["remedy"]


def test_rejected_and_lost_shots_are_in_no_run(job):
    made = judged(job, every(**SAG), use=[True, True, False, False, True, True, True, True])
    assert len(made["runs"]) == 0
    assert made["findings"]["run"].isna().all()


def test_a_stray_shot_makes_no_run_of_its_neighbours(job):
    rows = every([0.06, 0.06, 0.45, 0.06, 0.06])
    wanted, stray = [""] * 5, ["", "", "spike", "", ""]
    whole, less = (judged(job, rows, flags=flags) for flags in (wanted, stray))
    assert "day1/103" in set(whole["run_members"]["shot_key"])  # what it would do: the mean of all is carried beyond
    assert whole["runs"]["verdict"].tolist() == ["OUT"]
    assert "OUT" not in set(less["runs"]["verdict"])
    assert "day1/103" not in set(less["run_members"]["shot_key"])


def test_no_shots_are_no_runs(job):
    made = judged(job, [])
    assert len(made["runs"]) == len(made["findings"]) == 0


def moved(job, rows, shift, check="elevation", sure=True):
    """Runs of shots of which a named cause is known to have moved every one by a shift, 1 sigma 0.004 ft."""
    shots = job.prepared(job.shots(rows))
    axes = ("easting", "northing", "elevation")
    acts = pd.DataFrame(
        {"cause": "rod", "subject": "session A", "shot_key": shots["shot_key"], "sure": sure, "holds": True}
    )
    for axis, by in zip(axes, shift, strict=True):
        acts[f"shift_{axis}"], acts[f"u_{axis}"] = by, 0.004 if by else 0.0
    layers = job.layers(shots=shots, limits=job.limits(*LIMITS), cause_shots=acts, **job.design(LINE))
    return of_runs(job.run(layers, MatchLines(), Runs())).query("check == @check")


SUNK = [100.0] * 6 + [99.7] * 5 + [100.0] * 6


def test_under_a_blunder_runs_are_made_of_numbers_without_it(job):
    read = every([0.0] * 17, [level + 0.5 for level in SUNK])
    (own,) = moved(job, on_days(read), (0.0, 0.0, 0.5)).to_dict("records")
    assert (own["verdict"], own["why"]) == ("OUT", "out-both-ways")
    assert own["deviation"] == pytest.approx(-0.3)
    (plain,) = of_runs(judged(job, on_days(every([0.0] * 17, SUNK)))).query("check == 'elevation'").to_dict("records")
    assert (plain["deviation"], plain["verdict"]) == (pytest.approx(own["deviation"]), "OUT")
    assert own["u"] == pytest.approx(np.hypot(plain["u"], 0.004))
    assert "mean +0.200 ft as read, -0.300 ft without it, which is the number told" in own["cause"]
    assert "of 5 shots" in own["label"]


@pytest.mark.parametrize(("lift", "told"), [(0.5, 0), (-0.5, 1)])
def test_what_a_cause_may_have_made_in_part_is_out_to_one_side_of_the_design_or_waits(job, lift, told):
    read = every([0.0] * 17, [level + lift for level in SUNK])
    runs = moved(job, on_days(read), (0.0, 0.0, lift), sure=False)
    assert (runs["why"] == "out-both-ways").sum() == len(runs) == told


@pytest.mark.parametrize("lift", [0.3, 0.25])
def test_a_run_that_is_sound_as_read_waits_as_its_shots_do(job, lift):
    assert not len(moved(job, on_days(every([0.0] * 17, [level + lift for level in SUNK])), (0.0, 0.0, lift)))
