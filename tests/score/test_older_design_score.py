"""An older revision used as design of one walk, over jobs of three zones: one matter, and no defect hidden by it."""

import pytest

from bench import make
from bench.older_design import of_another_file, shots_moved
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.simulate.site import scenario

SEEDS = (1, 2)
STEPS = (
    *("kinds", "uncertainty", "match-lines", "diagnosis", "usable-shots", "believed-parts", "older-design", "runs"),
    *("one-place", "offsets", "elevations", "items"),
)
OLDER = ({"left": 0.35, "low": 0.12}, {"left": 0.5, "low": 0.05}, {"left": 0.3}, {"left": -0.4, "low": -0.06})


def judged(simulated):
    return execute(simulated.layers(), [step for step in default_steps() if step.name in STEPS])


def out_of(layers):
    findings = layers["findings"]
    return findings[(findings["verdict"] == "OUT") & findings["run"].isna()]


def on_walk(shots, *names):
    mine = shots["code"].isin(["WKF", "WKB"]) & shots["line_id"].isin(names)
    return shots.index[mine]


JOBS = [(zone, seed) for zone in scenario.ZONES for seed in SEEDS]


@pytest.mark.score
@pytest.mark.parametrize(("zone", "seed"), JOBS)
def test_an_older_revision_is_one_matter_and_hides_no_defect(zone, seed):
    sound = make(seed=seed, zone=zone, plants=())
    moved = OLDER[(seed + len(zone) + int(zone[-2:])) % len(OLDER)]
    layers = judged(of_another_file(sound, **moved))
    (one,) = out_of(layers).to_dict("records")
    assert (one["check"], one["subject"]) == ("older-design", "walk")
    waits = layers["findings"].query("why == 'older-design'")
    assert waits["subject"].str.match(r"WK[FB]-R-").all()
    assert (waits["check"] == "offset").sum() == 160
    assert layers["items"].query("why == 'older-design'")["findings"].tolist() == [len(waits)]
    back = on_walk(sound.tables["shots"], "WKB2")[10:18]
    defect = of_another_file(shots_moved(sound, back, south=0.35), left=0.35)
    told = out_of(judged(defect)).query("check == 'offset'")
    assert told["subject"].tolist() == ["WKB-R-1"]
    assert told["why"].tolist() == ["out-both-ways"]
    assert told["deviation"].iloc[0] == pytest.approx(0.35, abs=0.06)


@pytest.mark.score
@pytest.mark.parametrize(("zone", "seed"), JOBS)
def test_nothing_waits_for_a_crew_day_that_is_off_or_on_a_sheet_in_force(zone, seed):
    sound = make(seed=seed, zone=zone, plants=())
    shots = sound.tables["shots"]
    one_day = of_another_file(shots_moved(sound, on_walk(shots, "WKF4", "WKB4"), south=0.35))
    day = of_another_file(shots_moved(sound, shots.index[shots["session"] == "C"], south=0.35))
    in_force = of_another_file(sound, left=0.35, low=0.12, stated="newer")
    for job in (one_day, day, in_force):
        layers = judged(job)
        assert not (layers["findings"]["why"] == "older-design").any()
        assert not (layers["findings"]["check"] == "older-design").any()
        assert len(out_of(layers))
