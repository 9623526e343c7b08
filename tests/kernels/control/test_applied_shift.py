"""Shifts that were taken off because they are proven: 95 of 100 hold the true one, choice and marks counted."""

import numpy as np
import pytest

from geoqa.kernels.control.applied_shift import applied_u, change_by_mark, chosen_u
from geoqa.kernels.control.session_shift import prepared, session_shifts

SESSIONS = 3
LEVEL = 0.05 / (3 * SESSIONS)
OWN = 0.02


def world(rng, *, shots, marks, bias, off=0.0, lasts=False, gap=45.0, foot=1.0):
    """True shifts of sessions, estimates, and what each is worth once it is taken off; lengths in `foot` of a foot."""
    places, published = rng.uniform(-1000, 1000, (marks, 2)), rng.normal(0, 0.01, marks)
    published[0] += off
    true, tilt, rows = rng.normal(0, bias, SESSIONS), rng.normal(0, 3e-6, 2), []
    for session in range(SESSIONS):
        time = np.cumsum(rng.uniform(1, 2 * gap, shots))
        alike = np.exp(-np.abs(time[:, None] - time) / 20.0) if lasts else np.eye(shots)
        error = OWN * np.linalg.cholesky(alike) @ rng.standard_normal(shots)
        on = rng.permutation(max(marks, shots))[:shots] % marks
        value = true[session] + error + published[on] + places[on] @ tilt
        rows += zip(value * foot, [session] * shots, on, time + 1000 * session, strict=True)
    value, session, on, time = (np.array(each) for each in zip(*rows, strict=True))
    given = (value, session, on, time, places[on] * foot)
    options = {"u_random": np.full(len(value), OWN * foot), "u_mark": np.full(len(value), 0.01 * foot), "slope": 5e-6}
    found = session_shifts(*given, **options)
    change = change_by_mark(prepared(*given, **options))
    worth = applied_u(found.shift, found.u, found.dof, found.marks, change, LEVEL)
    return true, found.shift / foot, worth / foot, found.marks


@pytest.mark.score
@pytest.mark.parametrize("foot", [1.0, 0.3048, 0.999998])
@pytest.mark.parametrize(
    "crew",
    [
        {"shots": 1, "marks": 4},
        {"shots": 2, "marks": 4},
        {"shots": 3, "marks": 4},
        {"shots": 2, "marks": 4, "off": 0.15},
        {"shots": 3, "marks": 4, "off": 0.05},
        {"shots": 8, "marks": 6, "off": 0.05},
        {"shots": 8, "marks": 6, "lasts": True, "gap": 8.0},
    ],
)
def test_what_is_taken_off_holds_the_truth_in_95_of_100(crew, foot):
    """Of the shifts that were taken, and of the numbers less them; a single mark never lets one be taken."""
    rng, shift, number = np.random.default_rng(int(foot * 1000)), [], []
    for bias in (0.03, 0.06, 0.12):
        for _ in range(35):
            true, found, worth, marks = world(rng, bias=bias, foot=foot, **crew)
            taken = np.isfinite(worth)
            assert (marks[taken] > 1).all()
            error = found - true
            shift += (np.abs(error) < 1.96 * worth)[taken].tolist()
            single = np.abs(rng.normal(0, OWN, SESSIONS) - error) < 1.96 * np.hypot(worth, OWN)
            number += single[taken].tolist()
    if crew["shots"] == 1:
        assert len(shift) < 5
        return
    least = 0.95 - 2.6 * np.sqrt(0.95 * 0.05 / len(shift))
    assert np.mean(shift) >= least
    assert np.mean(number) >= least


@pytest.mark.parametrize("true", [0.0, 0.01, 0.03, 0.045, 0.2])
def test_the_choice_is_accounted_for_however_large_the_true_shift_is(true):
    rng = np.random.default_rng(3)
    seen = true + rng.normal(0, 0.01, 200_000)
    seen = seen[np.abs(seen) > 0.0258][:2_000]  # as good as all that are proven, 0.02576
    worth = chosen_u(seen, 0.01, 1e9, 0.01)
    taken = np.isfinite(worth)
    inside = np.abs(seen - true)[taken] < 1.96 * worth[taken]
    assert inside.mean() > 0.95 - 3 * np.sqrt(0.95 * 0.05 / taken.sum())


def test_a_mark_that_is_off_makes_the_shift_of_two_marks_worth_little():
    """0.20 ft on one mark and 0 on the other: 0.10, and no better than that."""
    given = ([0.2, 0.0] * 4, [0] * 8, [0, 1] * 4, np.arange(8) * 600.0, np.zeros((8, 2)))
    options = {"u_random": [0.02] * 8, "u_mark": [0.0] * 8}
    assert change_by_mark(prepared(*given, **options))[0] == pytest.approx(0.1)
