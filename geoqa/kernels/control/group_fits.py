"""A constant for each group of rows that err together, from all rows and without some of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve
from scipy.linalg.lapack import dpotri

from geoqa.kernels.arrays import Booleans, Floats, Integers


@dataclass(frozen=True, kw_only=True, eq=False)
class Factored:
    """Rows whose covariance was inverted once; n rows, k groups that have any.

    Attributes
    ----------
    value : (n,) float64
        What was measured.
    groups : (k,) int64
        Numbers of the groups.
    number : (n,) int64
        Place of a row's group in `groups`.
    tilt : (n, t) float64
        Effects that all rows share, of 1 sigma each, about the middle of all rows; the covariance holds them.
    estimator : (k, n) float64
        What turns values into constants.
    normal : (k, k) float64
        Covariance of the constants.
    projector : (n, n) float64
        What turns values into weighted residuals: inverse covariance of the rows, constants taken out of it.
    logs : float
        Logarithms of the determinants of the covariance and of the inverse of `normal`, added.
    """

    value: Floats
    groups: Integers
    number: Integers
    tilt: Floats
    estimator: Floats
    normal: Floats
    projector: Floats
    logs: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """Constants and what is left, of the rows that were kept.

    Attributes
    ----------
    constant, variance : (k,) float64
        NaN for a group without a row that is kept.
    free : int
        Degrees of freedom.
    chi2 : float
        Weighed sum of squares of the residuals.
    logs : float
        As in `Factored`, of the kept rows.
    """

    constant: Floats
    variance: Floats
    free: int
    chi2: float
    logs: float


def factored(value: Floats, group: Integers, covariance: Floats, tilt: Floats) -> Factored:
    """Invert a covariance once, for all that `fitted` and `misfits` ask.

    Parameters
    ----------
    value : (n,) array
        What was measured; no NaN.
    group : (n,) int array
        Number of the group whose constant a row has.
    covariance : (n, n) array
        Of the values.
    tilt : (n, t) array
        Shared effects that it holds, as their columns; t may be 0.

    Returns
    -------
    Factored

    Examples
    --------
    >>> rows = factored(np.array([1.0, 3.0, 5.0]), np.array([4, 4, 7]), np.eye(3), np.zeros((3, 0)))
    >>> rows.groups.tolist(), rows.normal.diagonal().round(9).tolist()
    ([4, 7], [0.5, 1.0])
    """
    groups, number = np.unique(group, return_inverse=True)
    root, lower = cho_factor(covariance, lower=True)
    weight = np.tril(dpotri(root, lower=lower)[0])
    weight = weight + np.tril(weight, -1).T
    design = (number[:, None] == np.arange(len(groups))).astype(float)
    weighed = weight @ design
    precision = design.T @ weighed
    inner = cho_factor(precision)
    estimator = cho_solve(inner, weighed.T)
    logs = 2 * (np.log(np.diag(root)).sum() + np.log(np.diag(inner[0])).sum())
    return Factored(
        value=value,
        groups=groups,
        number=number,
        tilt=tilt,
        estimator=estimator,
        normal=cho_solve(inner, np.eye(len(groups))),
        projector=weight - weighed @ estimator,
        logs=float(logs),
    )


def fitted(rows: Factored, out: Booleans) -> Fit:
    """Fit the constants without some rows, without inverting anything anew but what those rows say of each other.

    Parameters
    ----------
    rows : Factored
    out : (n,) bool array
        Rows that are left out.

    Returns
    -------
    Fit

    Notes
    -----
    A row is left out by giving it a constant of its own, which takes up all that it says (mean-shift model; Cook and
    Weisberg 1982, 2.2). Where a group loses all rows, its constant is that of the first of them. Effects shared by all
    lie about the middle of the kept rows: that moves the constants by what the rows say of the effects.

    Examples
    --------
    >>> rows = factored(np.array([1.0, 3.0, 5.0]), np.array([0, 0, 1]), np.eye(3), np.zeros((3, 0)))
    >>> fit = fitted(rows, np.array([True, False, False]))
    >>> fit.constant.round(9).tolist(), fit.free
    ([3.0, 5.0], 0)
    """
    left = _left(rows, out)
    own, inverse, logs = _own_constants(rows, out, left)
    value, tilt, projector = rows.value, rows.tilt, rows.projector
    given = np.column_stack([value, tilt])
    reduced = projector @ given
    # what the rows left out would have said, taken off again
    said = inverse @ reduced[own]
    constants = rows.estimator @ given - rows.estimator[:, own] @ said
    squares = given.T @ reduced - reduced[own].T @ said
    lost = rows.estimator[:, own]
    variance = np.diag(rows.normal) + np.einsum("kr,rs,ks->k", lost, inverse, lost)
    aside = tilt[~out].mean(axis=0) if tilt.size and left.any() else np.zeros(tilt.shape[1])
    constant = constants[:, 0] + squares[0, 1:] @ aside
    known = np.eye(len(aside)) - squares[1:, 1:]
    variance = variance - 2 * constants[:, 1:] @ aside + aside @ known @ aside
    free = int((~out).sum()) - int(left.sum())
    return Fit(
        constant=np.where(left, constant, np.nan),
        variance=np.where(left, variance, np.nan),
        free=free,
        chi2=max(float(squares[0, 0]), 0.0) if free else 0.0,
        logs=rows.logs + logs,
    )


def misfits(rows: Factored, out: Booleans, member: Floats) -> Floats:
    """How badly sets of rows fit the kept others, each as if all its rows were off by one number.

    Parameters
    ----------
    rows : Factored
    out : (n,) bool array
        Rows that are left out.
    member : (n, m) array
        1 where a row belongs to a set, else 0.

    Returns
    -------
    (m,) float64
        In 1 sigma (Baarda's w-test); 0 where nothing of the others tells.

    Examples
    --------
    >>> rows = factored(np.array([0.0, 0.0, 3.0]), np.array([0, 0, 0]), np.eye(3), np.zeros((3, 0)))
    >>> misfits(rows, np.zeros(3, bool), np.eye(3)).round(3).tolist()
    [1.225, 1.225, 2.449]
    """
    own, inverse, _ = _own_constants(rows, out, _left(rows, out))
    kept = member * ~out[:, None]
    seen = rows.projector @ kept
    checked = np.einsum("nm,nm->m", kept, seen) - np.einsum("rm,rs,sm->m", seen[own], inverse, seen[own])
    across = rows.projector[own]
    told = rows.value @ seen - (across @ rows.value) @ inverse @ seen[own]
    most = np.diag(rows.projector) - np.einsum("rn,rs,sn->n", across, inverse, across)
    size = np.abs(told) / np.sqrt(np.maximum(checked, 1e-12))
    return np.where(checked < 1e-6 * most[~out].max(initial=1.0), 0.0, size)


def _left(rows: Factored, out: Booleans) -> Booleans:
    """Groups of which a row is kept."""
    return np.asarray(np.bincount(rows.number[~out], minlength=len(rows.groups)) > 0)


def _own_constants(rows: Factored, out: Booleans, left: Booleans) -> tuple[Integers, Floats, float]:
    """Rows with a constant of their own, the inverse of what they say of each other, and its log determinant."""
    own = out.copy()
    lost = np.flatnonzero(~left[rows.number])
    # the constant of a group without rows takes up the first of them
    own[lost[np.unique(rows.number[lost], return_index=True)[1]]] = False
    places = np.flatnonzero(own)
    if not len(places):
        return places, np.zeros((0, 0)), 0.0
    root = cho_factor(rows.projector[np.ix_(places, places)])
    return places, cho_solve(root, np.eye(len(places))), float(2 * np.log(np.diag(root[0])).sum())
