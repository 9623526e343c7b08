"""What heading, tilt angle and rod leave unexplained of a tilt test: shifts that do not follow the lean as theirs."""

from __future__ import annotations

import numpy as np
from scipy.special import fdtrc

from geoqa.kernels.arrays import Floats, Integers

RARE = 0.01
"""Chance below which what is left is no scatter."""


def left_by_class(
    values: Floats, effects: Floats, covariance: Floats, group: Integers, *, dof: float, rare: float = RARE
) -> Floats:
    """Find the mean that fitted effects leave in every group of values, if it is more than scatter.

    Parameters
    ----------
    values : (n,) array
        What was measured.
    effects : (n, p) array
        Coefficients of the effects that are fitted.
    covariance : (n, n) array
        Of the values.
    group : (n,) array of int
        From 0; classes of tilt, of one component.
    dof : float
        Degrees of freedom that the covariance rests on.
    rare : float
        Chance below which what is left counts.

    Returns
    -------
    (k,) float64 array
        Mean left in each group, unit of the values; all 0 where groups and effects explain the values alike, or the
        difference may be scatter.

    Notes
    -----
    Lack of fit by F: what the weighted sum of squares falls by where every group has a mean of its own, over the
    number of those means that the effects do not reach; any textbook of regression.

    Examples
    --------
    >>> lean = np.repeat([1.0, 2.0, 3.0], 4)
    >>> noise = np.tile([0.01, -0.01], 6)
    >>> kinds = np.repeat([0, 1, 2], 4)
    >>> left_by_class(2 * lean + noise, lean[:, None], 1e-4 * np.eye(12), kinds, dof=11).tolist()
    [0.0, 0.0, 0.0]
    >>> left_by_class(2 + noise, lean[:, None], 1e-4 * np.eye(12), kinds, dof=11).round(2).tolist()
    [1.14, 0.29, -0.57]
    """
    kinds = int(group.max(initial=-1)) + 1
    means = (group[:, None] == np.arange(kinds)).astype(np.float64)
    none = np.zeros(kinds)
    root = np.linalg.cholesky(covariance)
    white, plain, whole = (np.linalg.solve(root, each) for each in (values, effects, np.hstack([effects, means])))
    more = int(np.linalg.matrix_rank(whole)) - int(np.linalg.matrix_rank(plain))
    if more < 1 or not dof > 0:
        return none
    fitted = np.linalg.lstsq(plain, white, rcond=None)[0]
    rest = white - plain @ fitted
    better = rest - whole @ np.linalg.lstsq(whole, rest, rcond=None)[0]
    ratio = (float(rest @ rest) - float(better @ better)) / more
    if fdtrc(more, min(dof, 1e9), max(ratio, 0.0)) >= rare:
        return none
    return (means.T @ (values - effects @ fitted)) / means.sum(axis=0)
