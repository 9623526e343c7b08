"""The shift of a session: held against a generator whose errors it does not know, and against arithmetic by hand."""

import math

import numpy as np
import pytest
from scipy import stats

from geoqa.errors import GeometryInputError
from geoqa.kernels.control.session_shift import session_shifts

SESSIONS = 3


def world(rng, *, shots, marks, lasts=False, gap=45.0, off=0.0, told=1.0, df=None, bias=0.03):
    """True shifts, and what is made of check shots; errors and places are drawn anew."""
    places, published = rng.uniform(-1000, 1000, (marks, 2)), rng.normal(0, 0.01, marks)
    published[0] += off
    true, tilt = rng.normal(0, bias, SESSIONS), rng.normal(0, 3e-6, 2)
    rows = []
    for session in range(SESSIONS):
        time = np.cumsum(rng.uniform(1, 2 * gap, shots))
        alike = np.exp(-np.abs(time[:, None] - time) / 20.0) if lasts else np.eye(shots)
        white = rng.standard_normal(shots) if df is None else rng.standard_t(df, shots) / math.sqrt(df / (df - 2))
        error = 0.02 * np.linalg.cholesky(alike) @ white
        on = rng.permutation(max(marks, shots))[:shots] % marks
        value = true[session] + error + published[on] + places[on] @ tilt
        rows += zip(value, [session] * shots, on, time + 1000 * session, strict=True)
    value, session, on, time = (np.array(each) for each in zip(*rows, strict=True))
    found = session_shifts(
        value, session, on, time, places[on], u_random=np.full(len(value), 0.02 / told),
        u_mark=np.full(len(value), 0.01), slope=5e-6,
    )  # fmt: skip
    return true, found


@pytest.mark.parametrize(
    ("world_of", "least"),
    [
        ({"shots": 1, "marks": 4}, 0.93),
        ({"shots": 2, "marks": 4}, 0.93),
        ({"shots": 3, "marks": 4}, 0.93),
        ({"shots": 8, "marks": 6}, 0.93),
        ({"shots": 8, "marks": 6, "lasts": True, "gap": 8.0}, 0.92),
        ({"shots": 3, "marks": 4, "lasts": True, "gap": 5.0}, 0.92),
        ({"shots": 8, "marks": 6, "off": 0.15}, 0.93),
        ({"shots": 8, "marks": 6, "told": 2.0}, 0.92),
        ({"shots": 8, "marks": 6, "df": 3}, 0.93),
        # a mark that is off by five times its u and shows in nothing else leaves what nobody can know
        ({"shots": 8, "marks": 6, "off": 0.05}, 0.86),
        ({"shots": 2, "marks": 4, "off": 0.05}, 0.88),
    ],
)
@pytest.mark.long
def test_the_band_holds_the_true_shift(world_of, least):
    rng, inside, count = np.random.default_rng(41), 0, 0
    for _ in range(250):
        true, found = world(rng, **world_of)
        inside += int((np.abs(found.shift - true) <= found.half_width()).sum())
        count += SESSIONS
    assert inside / count >= least
    assert inside / count <= 0.995


@pytest.mark.long
def test_without_a_shift_hardly_any_is_proven():
    rng, proven = np.random.default_rng(5), 0
    for _ in range(300):
        _, found = world(rng, shots=6, marks=5, bias=0.0, lasts=bool(rng.integers(2)), gap=6.0)
        proven += bool((found.p * SESSIONS < 0.05).any())
    # 5 % of 300 is 15; the 99.9 % point of the binomial
    assert proven <= stats.binom.ppf(0.999, 300, 0.05)


def test_one_shot_is_worth_itself_and_its_mark():
    found = session_shifts([0.05], [0], [0], [0.0], [[0.0, 0.0]], u_random=[0.03], u_mark=[0.04])
    assert found.shift[0] == pytest.approx(0.05)
    assert found.u[0] == pytest.approx(0.05)
    assert found.dof == 8
    assert found.half_width()[0] == pytest.approx(0.05 * stats.t.ppf(0.975, 8))


def test_shots_of_one_mark_do_not_wear_its_uncertainty_down():
    minutes = np.arange(100) * 600.0
    found = session_shifts(
        np.zeros(100), np.zeros(100, int), np.zeros(100, int), minutes, np.zeros((100, 2)),
        u_random=np.full(100, 0.02), u_mark=np.full(100, 0.03),
    )  # fmt: skip
    assert found.u[0] == pytest.approx(math.hypot(0.002, 0.03), rel=0.01)
    assert (found.shots[0], found.marks[0]) == (100, 1)


def test_a_mark_that_the_others_contradict_is_left_out():
    rng = np.random.default_rng(2)
    on, session = np.tile(np.arange(6), 4), np.repeat([0, 1], 12)
    value = rng.normal(0, 0.02, 24) + np.where(on == 2, 0.25, 0.0)
    found = session_shifts(
        value, session, on, np.arange(24) * 60.0, rng.uniform(0, 500, (24, 2)), u_random=np.full(24, 0.02),
        u_mark=np.full(24, 0.005),
    )  # fmt: skip
    assert set(on[~found.kept]) == {2}
    assert found.marks.tolist() == [5, 5]


def test_a_missing_number_counts_nothing_and_no_uncertainty_is_refused():
    found = session_shifts([np.nan, 0.02], [0, 1], [0, 0], [0.0, 9.0], np.zeros((2, 2)), u_random=[0.02] * 2,
                           u_mark=[0.0] * 2)  # fmt: skip
    assert np.isnan(found.shift[0])
    assert found.shots.tolist() == [0, 1]
    with pytest.raises(GeometryInputError, match="more than 0"):
        session_shifts([0.0], [0], [0], [0.0], np.zeros((1, 2)), u_random=[0.0], u_mark=[0.0])
