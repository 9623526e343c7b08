"""What check shots say of the one shift that all shots of a session share, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, stdtr, stdtrit

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats

STATED = 8.0
"""Degrees of freedom that stated uncertainties are worth: known to 25 % (JCGM 100:2008, G.4.2)."""
LASTING = 20.0
"""Minutes in which what lasts of a shot's error falls to 1/e. Common practice, no source; neighbours a minute apart
then share 0.95 of it."""
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)
"""Shares of a shot's own variance that may last; equally likely before anything is measured."""
OUTLYING = 0.001
"""Chance of leaving out one good mark."""


@dataclass(frozen=True, kw_only=True, eq=False)
class SessionShifts:
    """Shifts along one axis, a value a session; arrays of shape (k,).

    Attributes
    ----------
    shift, u : float64
        Measured minus published, and 1 sigma; NaN for a session without a check shot.
    dof : float
        Degrees of freedom behind u, the same for all.
    share : float
        Expected share of a shot's own variance that lasts from shot to shot.
    evidence : (s,) float64
        Logarithm of how probable this axis makes each of `SHARES`.
    shots, marks : int64
        What each rests on.
    p : float64
        Two-sided chance of so large a shift where there is none; each by itself.
    kept : (n,) bool array
        Check shots that count; those of a mark that the others contradict do not.
    """

    shift: Floats
    u: Floats
    dof: float
    share: float
    evidence: Floats
    shots: np.ndarray
    marks: np.ndarray
    p: Floats
    kept: Booleans

    def half_width(self, level: float = 0.95) -> Floats:
        """What the shift may be off by, at that level."""
        return np.asarray(self.u * stdtrit(self.dof, 0.5 + level / 2))


def session_shifts(
    residual: ArrayLike,
    session: ArrayLike,
    mark: ArrayLike,
    minutes: ArrayLike,
    place: ArrayLike,
    *,
    u_random: ArrayLike,
    u_mark: ArrayLike,
    slope: float = 0.0,
    sessions: int | None = None,
    elsewhere: ArrayLike = 0.0,
) -> SessionShifts:
    """Estimate the shift of every session from its check shots, all sessions together.

    Parameters
    ----------
    residual : (n,) array
        Measured minus published along one axis; NaN where not measured.
    session, mark : (n,) int array
        Number of the session, and of the mark.
    minutes : (n,) array
        Time; NaN where unknown: such a shot shares its error with all of its session.
    place : (n, 2) array
        Easting and northing of the marks, in the unit of the residuals.
    u_random, u_mark : (n,) array
        1 sigma of each shot by itself, and of the published value of its mark.
    slope : float
        1 sigma of a tilt of the published surface along either axis, as a ratio: that of a geoid model.
    sessions : int, optional
        How many there are.
    elsewhere : (s,) array
        The same evidence of other axes, whose errors last alike.

    Returns
    -------
    SessionShifts

    Raises
    ------
    GeometryInputError
        An uncertainty of a shot is not more than 0.

    Notes
    -----
    Generalized least squares. Part of a shot's error lasts (`LASTING`); how large a part is not known, and `SHARES` are
    weighed by how probable they make the residuals. A mark's error is the same in all sessions, and a tilt moves all
    shots about the middle of the marks. The variance factor of what is left is joined with the stated uncertainties,
    which count as `STATED` degrees of freedom, and never taken below 1; the shift then has a t distribution. A mark
    that does not fit (Baarda's w-test, Bonferroni's factor for the number of marks) is left out, as long as three are
    there.

    Examples
    --------
    >>> found = session_shifts([0.05, 0.03, 0.04, 0.0], [0, 0, 0, 1], [0, 1, 2, 0], [0.0, 200.0, 400.0, 900.0],
    ...     [[0.0, 0.0], [90.0, 0.0], [0.0, 90.0], [0.0, 0.0]], u_random=[0.02] * 4, u_mark=[0.0] * 4)
    >>> found.shift.round(3).tolist(), found.u.round(4).tolist(), found.dof
    ([0.04, 0.0], [0.0115, 0.02], 10.0)
    """
    value = np.asarray(residual, dtype=np.float64)
    group, on = np.asarray(session), np.asarray(mark)
    at, time = np.asarray(place, dtype=np.float64), np.asarray(minutes, dtype=np.float64)
    own, known = np.asarray(u_random, dtype=np.float64), np.nan_to_num(np.asarray(u_mark, dtype=np.float64))
    count = int(group.max(initial=-1)) + 1 if sessions is None else sessions
    kept = np.isfinite(value) & np.isfinite(own)
    if (own[kept] <= 0).any():
        raise GeometryInputError("The uncertainty of a check shot must be more than 0.")
    while True:
        rows = np.flatnonzero(kept)
        by_share = _covariances(group[rows], on[rows], time[rows], at[rows], own[rows], known[rows], slope)
        fits = [_fitted(value[rows], group[rows], each, count) for each in by_share]
        evidence = np.array([fit.evidence for fit in fits])
        total = evidence + np.asarray(elsewhere, dtype=np.float64)
        likely = np.exp(total - total.max())
        likely /= likely.sum()
        worst = _outlying(fits[int(np.argmax(likely))], value[rows], on[rows])
        if worst is None:
            break
        kept = kept & (on != worst)
    shift = np.sum([weight * fit.shift for weight, fit in zip(likely, fits, strict=True)], axis=0)
    variance = np.sum(
        [weight * (fit.variance + (fit.shift - shift) ** 2) for weight, fit in zip(likely, fits, strict=True)], axis=0
    )
    u, dof = np.sqrt(variance), fits[0].dof
    shots = np.bincount(group[rows], minlength=count)
    marks = np.array([len(np.unique(on[rows][group[rows] == each])) for each in range(count)], dtype=np.int64)
    p = 2 * stdtr(dof, -np.abs(shift / u))
    share = float(likely @ np.array(SHARES))
    return SessionShifts(
        shift=shift, u=u, dof=dof, share=share, evidence=evidence, shots=shots, marks=marks, p=p, kept=kept
    )


def _covariances(
    group: np.ndarray, on: np.ndarray, time: np.ndarray, at: np.ndarray, own: Floats, known: Floats, slope: float
) -> list[Floats]:
    """Of the check shots, for each of `SHARES`."""
    apart = np.nan_to_num(np.abs(time[:, None] - time), nan=0.0)
    lasts = np.where(group[:, None] == group, np.exp(-apart / LASTING), 0.0)
    shared = np.where(on[:, None] == on, np.outer(known, known), 0.0)
    if slope and len(at):
        away = at - at.mean(axis=0)
        shared = shared + slope**2 * (away @ away.T)
    # the last digits keep two shots of one moment from being one and the same number
    alone = np.diag(own**2)
    return [share * np.outer(own, own) * lasts + (1 - share + 1e-9) * alone + shared for share in SHARES]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Fit:
    """Shifts and variances, degrees of freedom, log evidence, and what makes weighted residuals of observations."""

    shift: Floats
    variance: Floats
    dof: float
    evidence: float
    projector: Floats


def _fitted(value: Floats, group: np.ndarray, covariance: Floats, count: int) -> _Fit:
    shift, variance = np.full((2, count), np.nan)
    there = np.unique(group)
    if not len(there):
        return _Fit(shift=shift, variance=variance, dof=STATED, evidence=0.0, projector=np.zeros((0, 0)))
    design = (group[:, None] == there).astype(float)
    weight = np.linalg.inv(covariance)
    precision = design.T @ weight @ design
    normal = np.linalg.inv(precision)
    projector = weight - weight @ design @ normal @ design.T @ weight
    free = len(value) - len(there)
    chi2 = max(float(value @ projector @ value), 0.0) if free else 0.0
    # a scaled inverse chi-square prior on the variance factor, and flat ones on the shifts, leave this of the data
    evidence = -(np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(precision)[1]) / 2
    evidence -= (STATED + free) / 2 * np.log(STATED + chi2)
    shift[there] = normal @ design.T @ weight @ value
    variance[there] = np.diag(normal) * max(1.0, (STATED + chi2) / (STATED + free))
    return _Fit(shift=shift, variance=variance, dof=STATED + free, evidence=float(evidence), projector=projector)


def _outlying(fit: _Fit, value: Floats, on: np.ndarray) -> int | None:
    """The mark that fits worst, if it fits too badly and two others remain."""
    marks = np.unique(on)
    if len(marks) < 3:
        return None
    own, projector = (on[:, None] == marks).astype(float), fit.projector
    checked = np.einsum("im,ij,jm->m", own, projector, own)
    size = np.abs(own.T @ projector @ value) / np.sqrt(np.maximum(checked, 1e-12))
    size[checked < 1e-6 * np.diag(projector).max(initial=1.0)] = 0.0
    worst = int(np.argmax(size))
    chance = 2 * len(marks) * float(ndtr(-size[worst]))
    return int(marks[worst]) if chance < OUTLYING else None
