"""Repeats as a step: what counts, what does not, and what the crew is told."""

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa.job.execute import execute
from geoqa.model.tables.columns import conform
from geoqa.steps.precision.repeats import Repeats
from geoqa.steps.shots.doubles import Doubles
from geoqa.steps.shots.doubtful_records import DoubtfulRecords
from geoqa.steps.shots.kinds import Kinds
from geoqa.steps.shots.usable_shots import UsableShots

START = pd.Timestamp("2026-03-14 12:00", tz="UTC")
DAY = 24 * 60


def shot(point, minutes, session="A", *, kind="walk-back", e=0.0, n=0.0, z=0.0, **more):
    where = {"offset": 50.0 * point + e, "station": n, "elevation": 100.0 + z}
    when = START + pd.Timedelta(minutes, "min")
    return {"line_id": f"P{point}", "time": when, "session": session, "kind": kind} | where | more


def repeats(job, rows, confidence="1 sigma", blank=None, **options):
    kinds = [row.pop("kind") for row in rows]
    use = [row.pop("use", True) for row in rows]
    flags = [row.pop("flags", "") for row in rows]
    shots = job.prepared(job.shots(rows), kind=kinds, use=use, flags=flags)
    if blank is not None:
        shots[blank] = pd.Series([None] * len(shots), dtype=shots[blank].dtype)
    sources = conform("sources", pd.DataFrame({"source": ["day1"], "role": ["shots"], "confidence": [confidence]}))
    return job.run(job.layers(shots=shots, sources=sources), Repeats(**options))


def said(layers, axis, part):
    rows = layers["crew_precision"]
    return rows[(rows["axis"] == axis) & (rows["part"] == part)].iloc[0]


def test_a_repeat_after_three_minutes_is_too_close_and_gives_no_accuracy(job):
    rows = [shot(point, 10 * point + late, e=0.004 * late) for point in range(12) for late in (0, 3)]
    layers = repeats(job, rows)
    sets = layers["repeat_sets"]
    assert (sets["independent"] == 1).all()
    assert (sets["too_close"] == 1).all()
    assert len(sets) == 12
    for axis in "hv":
        for part in ("random", "common", "absolute", "reported"):
            assert np.isnan(said(layers, axis, part)["value"])
    assert said(layers, "h", "near")["value"] > 0
    assert "NOT an accuracy" in said(layers, "h", "near")["words"]
    assert "cannot be told" in said(layers, "h", "random")["words"]


def test_random_and_common_parts_come_from_independent_visits(job):
    # one session 0.3 high: sums by hand. Elevations of two points in two sessions: 0, 0.28 and 0, 0.32
    rows = [shot(0, 0), shot(1, 5), shot(0, DAY, "B", z=0.28), shot(1, DAY + 5, "B", z=0.32)]
    layers = repeats(job, rows)
    # differences between sessions 0.28 and 0.32: their own spread is sqrt(2) random, 0.02828/sqrt(2) = 0.02
    assert said(layers, "v", "random")["value"] == pytest.approx(0.02, abs=1e-9)
    # half the square of the mean difference less what random shots leave: 0.3²/2 - 0.02²/2
    assert said(layers, "v", "common")["value"] == pytest.approx(np.sqrt(0.045 - 0.0002), rel=1e-6)
    assert 'vertical_random = "0.020 ft"' in said(layers, "v", "random")["words"]


def test_one_session_alone_tells_no_common_part(job):
    rows = [shot(point, when, z=0.01 * point * when / 300) for point in range(3) for when in (0, 300)]
    layers = repeats(job, rows)
    assert np.isnan(said(layers, "v", "common")["value"])
    assert said(layers, "v", "random")["value"] > 0


def test_differences_are_listed_by_the_time_between_them(job):
    gaps = repeats(job, [shot(0, 0), shot(0, 5, z=0.02), shot(0, 3 * DAY, "B", z=0.10)])["repeat_gaps"]
    assert gaps["pairs_v"].tolist() == [1, 0, 0, 0, 0, 2]
    assert gaps["u_v"].iloc[0] == pytest.approx(0.02 / np.sqrt(2))


def test_what_was_not_measured_twice_or_not_upright_or_rejected_is_left_out(job):
    rows = [
        shot(0, 0), shot(0, DAY, flags="row-twice"), shot(1, 0), shot(1, DAY, use=False),
        shot(2, 0), shot(2, DAY, tilt=15.0), shot(3, 0), shot(3, DAY, kind="walk-front"),
        shot(4, 0), shot(4, DAY, line_id="other"), shot(5, 0), shot(5, DAY, e=0.3),
    ]  # fmt: skip
    layers = repeats(job, rows)
    assert len(layers["repeat_sets"]) == len(layers["crew_precision"]) == 0


@pytest.mark.parametrize(("confidence", "ratio"), [("1 sigma", 1.0), ("95 %", 1.959963984540054)])
def test_the_reported_precision_is_rescaled_by_its_declared_confidence_and_by_evidence(job, confidence, ratio):
    draw = np.random.default_rng(5)
    # thirty points, three sessions: the true random part is twice what the log says at one sigma
    rows = [
        shot(point, DAY * visit + point, "ABC"[visit], z=float(draw.normal(0, 0.04)), reported_v=0.02)
        for point in range(30)
        for visit in range(3)
    ]
    found = said(repeats(job, rows, confidence), "v", "reported")
    assert found["value"] == pytest.approx(2.0 * ratio, rel=0.2)
    assert found["low"] > 1
    assert "is too good for the repeats" in found["words"]


@pytest.mark.parametrize("missing", ["time", "session", "line_id", "elevation", "reported_h"])
def test_a_missing_field_of_the_log_never_ends_in_an_error(job, missing):
    rows = [shot(point, DAY * visit, "AB"[visit]) for point in range(3) for visit in range(2)]
    layers = repeats(job, rows, blank=missing)
    # with the line ID gone, nearness alone still finds the points
    assert len(layers["repeat_sets"]) == (0 if missing == "time" else 3)


@pytest.mark.long
def test_known_uncertainties_of_the_demo_lie_inside_their_bands_and_close_repeats_do_not_count():
    held, runs = {"random": 0, "common": 0}, 12
    for seed in range(1, runs + 1):
        layers = execute(
            make(seed=seed, plants=("T11",)).layers(), [Kinds(), Doubles(), DoubtfulRecords(), UsableShots(), Repeats()]
        )
        sets = layers["repeat_sets"]
        again = sets[sets["kind"] == "walk-back"]
        assert len(again) == 12
        assert (again["independent"] == 1).all()
        for part, true in (("random", 0.02), ("common", 0.02)):
            band = said(layers, "v", part)
            held[part] += bool(band["low"] <= true <= band["high"])
    assert min(held.values()) >= 9, held  # of twelve bands of 95 %, fewer than nine hold once in 500
