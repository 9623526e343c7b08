"""What one heading, tilt angle and rod leave of a tilt test: shifts that follow the lean otherwise, or not each day."""

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
    found = _better(values, effects, means, covariance, dof=dof, rare=rare)
    if found is None:
        return np.zeros(kinds)
    return (means.T @ (values - effects @ found[0])) / means.sum(axis=0)


def each_session(
    values: Floats, effect: Floats, covariance: Floats, session: Integers, *, dof: float, rare: float = RARE
) -> Floats:
    """Find one effect session by session, if the sessions differ by more than scatter.

    Parameters
    ----------
    values, covariance, dof, rare
        As in `left_by_class`.
    effect : (n,) array
        Coefficient of the effect.
    session : (n,) array of int
        From 0.

    Returns
    -------
    (k,) float64 array
        The effect in each session; empty where they may be one.

    Examples
    --------
    >>> lean, noise = np.tile([1.0, 2.0, 3.0], 4), np.tile([0.01, -0.01], 6)
    >>> day = np.repeat([0, 1], 6)
    >>> each_session(2 * lean + noise, lean, 1e-4 * np.eye(12), day, dof=11).size
    0
    >>> each_session((2 + day) * lean + noise, lean, 1e-4 * np.eye(12), day, dof=11).round(2).tolist()
    [2.0, 3.0]
    """
    own = (session[:, None] == np.arange(int(session.max(initial=-1)) + 1)) * effect[:, None]
    found = _better(values, effect[:, None], own[:, 1:], covariance, dof=dof, rare=rare)
    return np.empty(0) if found is None else found[1][0] + np.r_[0.0, found[1][1:]]


def _better(
    values: Floats, effects: Floats, more: Floats, covariance: Floats, *, dof: float, rare: float
) -> tuple[Floats, Floats] | None:
    """Effects fitted alone and with further columns; none where these explain no more than chance."""
    root = np.linalg.cholesky(covariance)
    white, plain, whole = (np.linalg.solve(root, each) for each in (values, effects, np.hstack([effects, more])))
    added = int(np.linalg.matrix_rank(whole)) - int(np.linalg.matrix_rank(plain))
    if added < 1 or not dof > 0:
        return None
    alone, all_of_them = (np.linalg.lstsq(each, white, rcond=None)[0] for each in (plain, whole))
    rest, better = white - plain @ alone, white - whole @ all_of_them
    ratio = (float(rest @ rest) - float(better @ better)) / added
    return None if fdtrc(added, min(dof, 1e9), max(ratio, 0.0)) >= rare else (alone, all_of_them)
