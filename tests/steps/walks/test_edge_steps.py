"""A rod wrong under half of one edge is a question of the survey; work that steps by itself stays out."""

import numpy as np
import pandas as pd
import pytest

from bench.extent import extent
from bench.walk_shots import layers_of, walk_rows
from geoqa import testing
from geoqa.steps.walks.walks import Walks

CROSS = ("walk", "cross-slope", -1 / 48, 1 / 48)
RUNNING = ("walk", "running-slope", -1 / 20, 1 / 20)
U = 0.01
AT = np.arange(0.0, 241, 10)
HELD = "one-edge-steps"


def judged(rows, u=U):
    done = testing.run(layers_of(rows, CROSS, RUNNING, u_v_random=u, u_h_random=u), Walks())
    return done["findings"], done["evidence"]


def errors(seed, edge, rise, first, last=None, count=25, u=U):
    made = np.random.default_rng(seed).normal(0, u, (2, count))
    made[edge, first:last] += rise
    return tuple(made)


def zigzag(rows):
    """The same shots, taken across and across again by one crew."""
    start = pd.Timestamp("2026-03-14 14:00", tz="UTC")
    return [
        row | {"time": start + pd.Timedelta(minutes=2 * row["station"] / 10 + (row["code"] == "WKB"))} for row in rows
    ]


def cross(findings):
    return findings[findings["check"] == "cross-slope"]


@pytest.mark.parametrize(("edge", "rise"), [(0, -0.2), (1, 0.15)])
def test_a_wrong_rod_under_half_of_one_edge_is_held_as_one_question(edge, rise):
    findings, evidence = judged(walk_rows(AT, slope=0.0, errors=errors(8, edge, rise, 12)))
    assert not (findings["verdict"] == "OUT").any()
    held = findings[findings["why"] == HELD]
    assert set(held["verdict"]) == {"NO_DATA"}
    size = held["cause"].str.extract(r"one edge steps ([0-9.]+) ft")[0].astype(float)
    assert size.to_numpy() == pytest.approx([abs(rise)] * len(held), abs=0.02)
    # the front was walked up from 0, the back down to it: the sections behind the step were shot late, or early
    beside = "112 and 113" if edge == 0 else "139 and 138"
    assert held["cause"].str.contains(f"between shots {beside}").all()
    assert held["cause"].str.contains("from shot 113 on" if edge == 0 else "up to shot 138").all()
    assert held["remedy"].str.startswith(f"shoot {beside} again, one after the other with one rod").all()
    assert set(evidence.loc[evidence["role"] == "edge-step", "finding"]) == set(held["finding"])
    # what speaks for no other finding is one question, or two where the mean of all is parted by its length
    assert held["run"].isna().sum() <= 2


@pytest.mark.long
def test_a_high_rod_is_held_along_the_edge_too():
    findings, _ = judged(walk_rows(AT, slope=0.0, errors=errors(8, 0, 1.2, 12)))
    assert not (findings["verdict"] == "OUT").any()
    assert (findings.loc[findings["why"] == HELD, "check"] == "running-slope").sum() == 1


@pytest.mark.long
def test_work_that_comes_back_stays_out_unless_the_log_changes_at_both_ends():
    rows = walk_rows(AT, slope=0.0, errors=errors(8, 0, 0.2, 8, 14))
    findings, evidence = judged(rows)
    assert (cross(findings)["verdict"] == "OUT").any()
    assert not (findings["why"] == HELD).any()
    assert not (evidence["role"] == "edge-step").any()

    def other_rod(row):
        mine = row["code"] == "WKF" and 80 <= row["station"] < 140
        return row | {"rod_height": 6.0 if mine else 6.5}

    findings, _ = judged([other_rod(row) for row in rows])
    assert not (findings["verdict"] == "OUT").any()
    held = findings[findings["why"] == HELD]
    assert len(held)
    assert (
        held["cause"].str.contains("where the rod height in the log changes: a wrong rod from shot 109 on, until").all()
    )


@pytest.mark.long
def test_shots_across_with_the_same_rod_and_another_session_tell_that_it_is_the_work():
    rows = walk_rows(AT, slope=0.0, errors=errors(8, 0, 0.2, 12))
    again = [
        row | {"session": "B", "initialization": "B1"} if row["code"] == "WKF" and row["station"] >= 180 else row
        for row in rows
    ]
    for each in (zigzag(rows), again):
        findings, _ = judged(each)
        assert (cross(findings)["verdict"] == "OUT").any()
        assert not (findings["why"] == HELD).any()


@pytest.mark.long
def test_both_edges_that_tilt_and_an_edge_that_rises_over_several_shots_stay_out():
    tilted = np.random.default_rng(3).normal(0, U, (2, len(AT)))
    rising = tilted.copy()
    tilted[0, 12:] += 0.1
    tilted[1, 12:] -= 0.1
    rising[0] += 0.3 * np.clip((np.arange(len(AT)) - 10) / 5, 0, 1)
    for made in (tilted, rising):
        findings, _ = judged(walk_rows(AT, slope=0.0, errors=tuple(made)))
        assert (cross(findings)["verdict"] == "OUT").any()
        assert not (findings["why"] == HELD).any()


@pytest.mark.score
def test_many_rods_and_as_many_defects():
    """Of wrong rods none is called a defect more often than by chance, of as many defects all are."""
    count = extent(40, of_a_change=16)
    told = {"rod": 0, "bump": 0, "across": 0}
    for seed in range(count):
        draw = np.random.default_rng(seed)
        at = np.arange(int(draw.integers(14, 30))) * float(draw.choice([10.0, 25.0]))
        edge, sign, first = int(draw.integers(2)), draw.choice([-1, 1]), int(draw.integers(4, len(at) - 4))
        size, grade = sign * draw.uniform(0.2, 0.4), draw.uniform(-0.03, 0.03)
        for kind, last in (
            ("rod", None),
            ("bump", min(first + int(draw.integers(2, 6)), len(at) - 2)),
            ("across", None),
        ):
            made = errors(seed, edge, size, first, last, count=len(at), u=0.02)
            rows = walk_rows(at, slope=0.005, grade=grade, errors=made)
            findings, _ = judged(zigzag(rows) if kind == "across" else rows, u=0.02)
            told[kind] += bool((cross(findings)["verdict"] == "OUT").any())
    print(told)
    assert told["rod"] <= count // 13
    assert told["bump"] == told["across"] == count
