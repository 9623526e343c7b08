"""A survey blunder hides no defect: what is out as read and out without it stays out; doubts withhold nothing."""

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa.frames.systems.resolve import resolve
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.model.tables.layer import Layers, placed
from geoqa.simulate.site import scenario

pytestmark = pytest.mark.long

JUDGING = {
    *("kinds", "uncertainty", "screening", "diagnosis", "usable-shots", "check-shots"),
    *("match-lines", "match-points", "offsets", "elevations", "positions"),
}
ZONES = ("EPSG:6547", "EPSG:6559", "EPSG:6405")


def judged(simulated, change):
    """Findings of a simulation whose shots were changed."""
    layers = simulated.layers()
    shots = pd.DataFrame(layers["shots"].drop(columns="geometry"))
    change(shots)
    layers = Layers({**layers, "shots": placed("shots", shots, layers.frame)}, frame=layers.frame)
    return execute(layers, [step for step in default_steps() if step.name in JUDGING])


def planted(simulated, plant):
    truth = simulated.truth.shots
    return truth.loc[truth["plant"].str.contains(plant), "shot_key"].tolist()


def finding(layers, key, check):
    found = layers["findings"]
    return found[(found["shot"] == key) & (found["check"] == check)].iloc[0]


@pytest.mark.parametrize(
    ("zone", "seed"),
    [(ZONES[1], 11), *(pytest.param(ZONES[at], seed, marks=pytest.mark.score) for at, seed in ((0, 3), (2, 26)))],
)
def test_a_manhole_three_feet_off_is_out_however_its_rod_leaned(zone, seed):
    simulated = make(seed=seed, plants=("D18",), frame=resolve(zone, scenario.VERTICAL))
    key = planted(simulated, "D18")[0]
    for lean, toward in ((12.0, 80.0), (19.0, 100.0), (24.0, 90.0), (22.0, 250.0)):

        def leant(shots, lean=lean, toward=toward, key=key):
            shots.loc[shots["shot_key"] == key, ["tilt", "tilt_azimuth"]] = lean, toward

        row = finding(judged(simulated, leant), key, "position")
        assert (row["verdict"], row["why"]) == ("OUT", "proven")
        assert row["p_conform"] < 0.001


def test_a_lean_that_explains_a_part_is_a_doubt_on_the_finding_and_on_the_shot():
    simulated = make(seed=8, plants=("D18",), frame=resolve("EPSG:6547", scenario.VERTICAL))
    key = planted(simulated, "D18")[0]

    def leant(shots):
        mine = shots["shot_key"] == key
        shots.loc[mine, ["tilt", "tilt_azimuth"]] = 22.0, 90.0
        shots.loc[mine, "elevation"] -= 6.562 * (1 - np.cos(np.radians(22)))

    layers = judged(simulated, leant)
    row = finding(layers, key, "position")
    assert row["verdict"] == "OUT"
    assert row["cause"].startswith("in doubt: tilt compensation off or unsettled would explain a part of it; +")
    flags = layers["flags"].query("flag == 'lean-in-doubt'")
    assert flags["shot_key"].tolist() == [key]
    assert not flags["reject"].any()
    assert not len(layers["findings"].query("check == 'diagnosis'"))
    # 3.02 ft less 6.562 ft x sin 22 degrees
    without = float(row["cause"].split("; ")[1].split(" as read, +")[1].split(" ft")[0])
    assert without == pytest.approx(abs(row["deviation"] - 6.562 * np.sin(np.radians(22))), abs=0.06)


def defects(layers, keys, check):
    found = layers["findings"]
    mine = found[found["shot"].isin(keys) & (found["check"] == check)]
    return dict(zip(mine["shot"], zip(mine["verdict"], mine["why"], strict=True), strict=True))


@pytest.mark.parametrize("zone", ZONES)
def test_a_wrong_rod_withholds_sound_elevations_and_no_defect(zone):
    simulated = make(seed=17, plants=("T06",), frame=resolve(zone, scenario.VERTICAL))
    under = planted(simulated, "T06")
    low = []

    def lowered(shots):
        mine = shots[shots["shot_key"].isin(under) & shots["code"].isin(["CTB", "WKF"])]
        low.extend(mine["shot_key"].iloc[[10, 60]])
        shots.loc[shots["shot_key"].isin(low), "elevation"] -= 1.5

    layers = judged(simulated, lowered)
    found = layers["findings"]
    mine = found[found["shot"].isin(under) & (found["check"] == "elevation") & found["lower"].notna()]
    out = mine[mine["verdict"] == "OUT"]
    assert set(out["shot"]) == set(low)
    assert set(out["why"]) == {"out-both-ways"}
    assert out["cause"].str.match(r"with and without rod .* -0\.\d+ ft as read, -1\.").all(), out["cause"].tolist()
    # the milder of both readings is what is said of it
    assert (out["excess"] < (out["deviation"].abs() + out["upper"]) / out["u"]).all()
    rest = mine[~mine["shot"].isin(low)]
    assert set(rest["verdict"]) == {"NO_DATA"}
    assert rest["p_conform"].isna().all()


def test_a_wrong_foot_withholds_sound_points_and_lines_on_slopes_and_no_defect():
    simulated = make(seed=5, plants=("T01", "D18"), frame=resolve("EPSG:6405", scenario.VERTICAL))
    key = planted(simulated, "D18")[0]
    layers = judged(simulated, lambda shots: None)
    assert layers["causes"]["cause"].iloc[0] == "foot"
    spoiled = set(layers["cause_shots"]["shot_key"])
    found = layers["findings"]
    work = found[found["check"].isin(["offset", "elevation", "position"]) & found["shot"].isin(spoiled)]
    out = work[work["verdict"] == "OUT"]
    assert set(out["shot"]) <= {key}
    if key in spoiled:
        assert finding(layers, key, "position")["why"] == "out-both-ways"
    waits = work[work["why"].isin(["open-blunder", "out-both-ways"])]
    assert waits["cause"].str.contains("; its place is told as read, and lies", regex=False).all()


def test_true_causes_still_withhold_what_they_explain():
    simulated = make(seed=9, plants=("T07", "T12"), frame=resolve("EPSG:6559", scenario.VERTICAL))
    layers = judged(simulated, lambda shots: None)
    assert {"initialization", "tilt-off"} <= set(layers["causes"].query("explanation == 1")["cause"])
    found = layers["findings"]
    work = found[found["check"].isin(["offset", "elevation", "position"])]
    assert not len(work[work["verdict"] == "OUT"])
    assert set(work.loc[work["shot"].isin(planted(simulated, "T12")), "verdict"]) == {"NO_DATA"}
