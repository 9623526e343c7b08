"""What check shots say of the one shift that all shots of a session share, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, stdtr, stdtrit

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.control.group_fits import Factored, Fit, factored, fitted, misfits

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
    options: dict[str, Any] = {"u_random": u_random, "u_mark": u_mark, "slope": slope, "sessions": sessions}
    return shifts_of(prepared(residual, session, mark, minutes, place, **options), elsewhere=elsewhere)


@dataclass(frozen=True, kw_only=True, eq=False)
class Prepared:
    """Check shots of one axis, their covariances inverted once; n shots, of which r have a number.

    Attributes
    ----------
    sessions : int
        How many there are.
    mark : (n,) int64
        Number of the mark of each shot.
    rows : (r,) int64
        Places of the shots that have a number.
    by_share : tuple of Factored
        One for each of `SHARES`.
    """

    sessions: int
    mark: Integers
    rows: Integers
    by_share: tuple[Factored, ...]


def prepared(
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
) -> Prepared:
    """Invert the covariances of check shots once, for shifts of all of them and without some of their marks.

    Parameters
    ----------
    residual, session, mark, minutes, place, u_random, u_mark, slope, sessions
        As in `session_shifts`.

    Returns
    -------
    Prepared

    Raises
    ------
    GeometryInputError
        An uncertainty of a shot is not more than 0.
    """
    value = np.asarray(residual, dtype=np.float64)
    group, on = np.asarray(session), np.asarray(mark)
    at, time = np.asarray(place, dtype=np.float64), np.asarray(minutes, dtype=np.float64)
    own, known = np.asarray(u_random, dtype=np.float64), np.nan_to_num(np.asarray(u_mark, dtype=np.float64))
    rows = np.flatnonzero(np.isfinite(value) & np.isfinite(own))
    if (own[rows] <= 0).any():
        raise GeometryInputError("The uncertainty of a check shot must be more than 0.")
    tilt = slope * (at[rows] - at[rows].mean(axis=0)) if slope and len(rows) else np.zeros((len(rows), 0))
    matrices = _covariances(group[rows], on[rows], time[rows], own[rows], known[rows], tilt) if len(rows) else []
    return Prepared(
        sessions=int(group.max(initial=-1)) + 1 if sessions is None else sessions,
        mark=on,
        rows=rows,
        by_share=tuple(factored(value[rows], group[rows], each, tilt) for each in matrices),
    )


def shifts_of(given: Prepared, *, elsewhere: ArrayLike = 0.0, without: ArrayLike = ()) -> SessionShifts:
    """Estimate the shift of every session from prepared check shots.

    Parameters
    ----------
    given : Prepared
    elsewhere : (s,) array
        As in `session_shifts`.
    without : (m,) int array
        Numbers of marks that are left out from the beginning.

    Returns
    -------
    SessionShifts
    """
    on = given.mark[given.rows]
    out = np.isin(on, without)
    while True:
        fits = [fitted(each, out) for each in given.by_share] if not out.all() else []
        evidence = np.array([_evidence(fit) for fit in fits]) if fits else np.zeros(len(SHARES))
        total = evidence + np.asarray(elsewhere, dtype=np.float64)
        likely = np.exp(total - total.max())
        likely /= likely.sum()
        worst = _outlying(given.by_share[int(np.argmax(likely))], on, out) if fits else None
        if worst is None:
            break
        out = out | (on == worst)
    kept = np.zeros(len(given.mark), dtype=bool)
    kept[given.rows[~out]] = True
    return _weighed(given, fits, likely, evidence, kept)


def _weighed(given: Prepared, fits: list[Fit], likely: Floats, evidence: Floats, kept: Booleans) -> SessionShifts:
    """Shifts over all `SHARES`, each as it is probable."""
    shift, variance = np.full((2, given.sessions), np.nan)
    shots, marks = np.zeros((2, given.sessions), dtype=np.int64)
    if fits:
        there, number = given.by_share[0].groups, given.by_share[0].number
        each = np.array([fit.constant for fit in fits])
        shift[there] = likely @ each
        own = np.array([fit.variance * _factor(fit) for fit in fits])
        variance[there] = likely @ (own + (each - shift[there]) ** 2)
        mine = kept[given.rows]
        shots[there] = np.bincount(number[mine], minlength=len(there))
        pairs = np.unique(np.column_stack([number[mine], given.mark[given.rows][mine]]), axis=0)
        marks[there] = np.bincount(pairs[:, 0], minlength=len(there))
    u, dof = np.sqrt(variance), STATED + (fits[0].free if fits else 0)
    return SessionShifts(
        shift=shift, u=u, dof=dof, share=float(likely @ np.array(SHARES)), evidence=evidence, shots=shots, marks=marks,
        p=2 * stdtr(dof, -np.abs(shift / u)), kept=kept,
    )  # fmt: skip


def _evidence(fit: Fit) -> float:
    """What a scaled inverse chi-square prior on the variance factor, and flat ones on the shifts, leave of the data."""
    return float(-fit.logs / 2 - (STATED + fit.free) / 2 * np.log(STATED + fit.chi2))


def _factor(fit: Fit) -> float:
    return max(1.0, (STATED + fit.chi2) / (STATED + fit.free))


def _covariances(
    group: np.ndarray, on: np.ndarray, time: np.ndarray, own: Floats, known: Floats, tilt: Floats
) -> list[Floats]:
    """Of the check shots, for each of `SHARES`."""
    apart = np.nan_to_num(np.abs(time[:, None] - time), nan=0.0)
    lasts = np.where(group[:, None] == group, np.exp(-apart / LASTING), 0.0) * np.outer(own, own)
    shared = np.where(on[:, None] == on, np.outer(known, known), 0.0) + tilt @ tilt.T
    # the last digits keep two shots of one moment from being one and the same number
    alone = np.diag(own**2)
    return [share * lasts + (1 - share + 1e-9) * alone + shared for share in SHARES]


def _outlying(rows: Factored, on: np.ndarray, out: Booleans) -> int | None:
    """The mark that fits worst, if it fits too badly and two others remain."""
    marks = np.unique(on[~out])
    if len(marks) < 3:
        return None
    size = misfits(rows, out, (on[:, None] == marks).astype(float))
    worst = int(np.argmax(size))
    chance = 2 * len(marks) * float(ndtr(-size[worst]))
    return int(marks[worst]) if chance < OUTLYING else None
