"""Fits without some rows are those that inverting the covariance of the kept rows gives."""

import numpy as np
import pytest

from geoqa.kernels.control.group_fits import factored, fitted, misfits


def world(seed, *, rows=40, groups=6, marks=9, lasts=0.5, slope=5e-6, at_once=False):
    """Values, groups, marks, and what makes their covariance anew for any of the rows."""
    rng = np.random.default_rng(seed)
    group, mark = np.sort(rng.integers(0, groups, rows)) * 2, rng.integers(0, marks, rows)
    place = rng.uniform(-2000, 2000, (marks, 2))[mark]
    time = np.zeros(rows) if at_once else rng.uniform(0, 300, rows)
    own, known = rng.uniform(0.01, 0.03, rows), rng.uniform(0.0, 0.02, marks)[mark]
    value = rng.normal(0, 0.03, rows) + np.where(mark == 2, 0.2, 0.0)
    alike = np.where(group[:, None] == group, np.exp(-np.abs(time[:, None] - time) / 20.0), 0.0)
    white = lasts * np.outer(own, own) * alike + (1 - lasts + 1e-9) * np.diag(own**2)
    fixed = white + np.where(mark[:, None] == mark, np.outer(known, known), 0.0)

    def of(kept):
        tilt = slope * (place[kept] - place[kept].mean(axis=0))
        return fixed[np.ix_(kept, kept)] + tilt @ tilt.T, tilt

    return value, group, mark, of


def by_inversion(value, group, mark, covariance):
    """Generalized least squares written out: constants, variances, sum of squares, logarithms, sizes of marks."""
    there = np.unique(group)
    design = (group[:, None] == there).astype(float)
    weight = np.linalg.inv(covariance)
    normal = np.linalg.inv(design.T @ weight @ design)
    projector = weight - weight @ design @ normal @ design.T @ weight
    logs = np.linalg.slogdet(covariance)[1] - np.linalg.slogdet(normal)[1]
    sizes = []
    for each in np.unique(mark):
        mine = (mark == each).astype(float)
        sizes.append(abs(mine @ projector @ value) / np.sqrt(max(mine @ projector @ mine, 1e-12)))
        if mine @ projector @ mine < 1e-6 * projector.diagonal().max():
            sizes[-1] = 0.0
    constants = normal @ design.T @ weight @ value
    return there, constants, normal.diagonal(), value @ projector @ value, logs, np.array(sizes)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("out_of", [(), (2,), (2, 5), (0, 1, 2, 3)])
@pytest.mark.parametrize("made", [{}, {"lasts": 0.0}, {"slope": 0.0}, {"slope": 2e-5, "rows": 15}, {"lasts": 1.0}])
def test_rows_left_out_are_as_if_they_had_never_been_there(seed, out_of, made):
    value, group, mark, of = world(seed, **made)
    out = np.isin(mark, out_of)
    everything = np.arange(len(value))
    rows = factored(value, group, *of(everything))
    kept = np.flatnonzero(~out)
    truth = by_inversion(value[kept], group[kept], mark[kept], of(kept)[0])
    there, constants, variances, chi2, logs, sizes = truth
    fit, left = fitted(rows, out), np.isin(rows.groups, there)
    # shots a few minutes apart that share all of their error make numbers of the inverse that cancel
    tell = 1e-9 if made.get("lasts") != 1.0 else 1e-7
    np.testing.assert_allclose(fit.constant[left], constants, rtol=0, atol=tell * 0.1)
    np.testing.assert_allclose(fit.variance[left], variances, rtol=tell)
    assert np.isnan(fit.constant[~left]).all()
    assert fit.free == len(kept) - len(there)
    assert fit.chi2 == pytest.approx(chi2 if fit.free else 0.0, rel=tell, abs=1e-9)
    assert fit.logs == pytest.approx(logs, abs=1e-7)
    member = (mark[:, None] == np.unique(mark[kept])).astype(float)
    np.testing.assert_allclose(misfits(rows, out, member), sizes, rtol=tell * 10, atol=1e-7)


def test_shots_of_one_moment_that_share_all_of_their_error_can_be_left_out():
    """All that tells them apart are the last digits; nothing becomes infinite, and shifts keep five digits."""
    value, group, mark, of = world(3, lasts=1.0, at_once=True)
    out = mark == 2
    kept = np.flatnonzero(~out)
    fit = fitted(factored(value, group, *of(np.arange(len(value)))), out)
    _, constants, variances, *_ = by_inversion(value[kept], group[kept], mark[kept], of(kept)[0])
    left = np.isfinite(fit.constant)
    np.testing.assert_allclose(fit.constant[left], constants, atol=1e-5)
    np.testing.assert_allclose(fit.variance[left], variances, rtol=1e-4)
