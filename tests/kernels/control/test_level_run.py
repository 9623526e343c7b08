"""Level runs against the page check, closed forms and a least-squares solution of their own."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.control.level_run import level_run

N = np.nan


def a_run(rng, *, setups=7, sides=2, sigma=0.0):
    """Notes of a run over random ground, with its true elevations."""
    back, side, fore, step, true = [], [], [], [], []
    ground = instrument = 1400.0
    for at in range(setups + 1):
        length = rng.uniform(80, 300)
        ground_next = ground + rng.uniform(-3, 3)
        back.append(N), side.append(N), fore.append(N), step.append(length if at else 0.0), true.append(ground)
        if at:
            error = sigma * np.sqrt(length) * rng.standard_normal()
            fore[-1] = instrument - ground + error
        if at < setups:
            instrument = ground + rng.uniform(3, 6)
            back[-1] = instrument - ground
            for _ in range(sides):
                height = ground + rng.uniform(-2, 2)
                error = sigma * np.sqrt(60) * rng.standard_normal()
                back.append(N), fore.append(N), step.append(60.0), true.append(height)
                side.append(instrument - height + error)
        ground = ground_next
    return tuple(np.array(each) for each in (back, side, fore, step, true))


def test_reduction_is_the_page_check():
    """Sum of backsights less sum of foresights is last less first: the page check of level notes.

    Common practice, no source.
    """
    back, side, fore, step, true = a_run(np.random.default_rng(1))
    known = np.full(len(back), N)
    known[0] = true[0]
    run = level_run(back, side, fore, distance=step, known=known, u_known=np.zeros(len(back)), sigma=1e-4)
    assert run.elevation == pytest.approx(true, abs=1e-9)
    assert run.elevation[-1] - run.elevation[0] == pytest.approx(np.nansum(back) - np.nansum(fore), abs=1e-9)
    assert not run.closed[1:].any()
    assert not len(run.misclosure)


def test_the_misclosure_is_spread_as_least_squares_would():
    """Against a weighted least-squares solution by numpy: observed differences, weight 1 / length, marks held."""
    rng = np.random.default_rng(2)
    back, side, fore, step, true = a_run(rng, sides=0, sigma=2e-4)
    known = np.full(len(back), N)
    known[[0, 4, len(back) - 1]] = true[[0, 4, -1]] + [0.0, 0.01, -0.02]
    run = level_run(back, side, fore, distance=step, known=known, u_known=np.zeros(len(back)), sigma=2e-4)
    rise = back[:-1] - fore[1:]
    free = np.flatnonzero(np.isnan(known))
    design = np.zeros((len(rise), len(back)))
    design[np.arange(len(rise)), np.arange(len(rise))], design[np.arange(len(rise)), np.arange(1, len(back))] = -1, 1
    root = 1 / np.sqrt(step[1:])
    left = design[:, free] * root[:, None]
    right = (rise - design @ np.nan_to_num(known)) * root
    solved, *_ = np.linalg.lstsq(left, right, rcond=None)
    assert run.elevation[free] == pytest.approx(solved, abs=1e-8)
    u = 2e-4 * np.sqrt(np.diag(np.linalg.inv(left.T @ left)))
    assert run.u_random[free] == pytest.approx(u, rel=1e-9)
    assert run.u_random[~np.isnan(known)] == pytest.approx(0)


def test_u_holds_the_truth():
    """Over 400 simulated runs 95 % of all points lie within 1.96 u."""
    held = []
    for seed in range(400):
        back, side, fore, step, true = a_run(np.random.default_rng(seed), sigma=3e-4)
        known = np.full(len(back), N)
        known[[0, -1]] = true[[0, -1]]
        run = level_run(back, side, fore, distance=step, known=known, u_known=np.zeros(len(back)), sigma=3e-4)
        free = np.isnan(known)
        held += list(np.abs(run.elevation - true)[free] <= 1.96 * run.u_random[free])
    assert np.mean(held) == pytest.approx(0.95, abs=0.012)


def test_a_loop_has_one_mark():
    run = level_run([4, 5, N], [N, N, N], [N, 5, 4.03], distance=[0, 300, 300], known=[10, N, 10],
                    u_known=[0.02, 0, 0.02], sigma=1e-3)  # fmt: skip
    assert run.misclosure == pytest.approx([-0.03])
    assert run.length == pytest.approx([600])
    assert run.elevation == pytest.approx([10, 9.015, 10])
    assert run.u_common == pytest.approx([0.02] * 3)


@pytest.mark.parametrize(
    ("notes", "says"),
    [
        (([N, 1], [N, N], [N, 1]), "Row 1: a level run begins"),
        (([1, N], [N, 2], [N, 1]), "Row 2: a point is read as intermediate or"),
        (([1, 2, N], [N, N, N], [N, N, 1]), "Row 2: a backsight on a point that has no foresight"),
        (([1, N, N], [N, N, 2], [N, 1, N]), "Row 3: nothing can be read after"),
    ],
)
def test_notes_that_do_not_hang_together(notes, says):
    count = len(notes[0])
    with pytest.raises(GeometryInputError, match=says):
        level_run(*notes, distance=np.ones(count), known=np.ones(count), u_known=np.zeros(count), sigma=1.0)
