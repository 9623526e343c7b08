"""Several shots of one place as one value, weighed by what is independent in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtrc

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers

MEMORY = 80.0
"""Minutes in which what two shots share falls to 1/e of it: after 4 h a twentieth is left. Common practice holds
occupations 4 h apart for independent (teaching material, seen)."""

DIFFERENT = 0.01
"""Chi-square probability below which shots of one place differ by more than their uncertainties allow."""


@dataclass(frozen=True, kw_only=True, eq=False)
class OneValue:
    """The value of one place.

    Attributes
    ----------
    value : (k,) float64 array
        Weighted mean of each component.
    weight : (n,) float64 array
        Share of every shot; sums to 1.
    u_random, u_common : float
        The two parts of its standard uncertainty, per component, enlarged where the shots differ.
    enlarged : float
        By how many times; 1 where the shots agree.
    independent : float
        How many independent shots like the best of them would be as good; from 1 to n, and never raised by `enlarged`.
    odd : int
        Row of the one shot without which all others agree, those of two groups or more; -1 where the shots agree, or
        where no one shot explains that they do not.
    others : OneValue or None
        The value of the others.
    """

    value: Floats
    weight: Floats
    u_random: float
    u_common: float
    enlarged: float
    independent: float
    odd: int = -1
    others: OneValue | None = None


def places_along(line: ArrayLike, station: ArrayLike, *, reach: float) -> Integers:
    """Number the places along lines: shots within a reach of the first of them are of one place.

    Parameters
    ----------
    line : (n,) int array
        Line, or line and kind, that a shot belongs to; a place never leaves it.
    station : (n,) array
        Along the line; a shot without station is a place of its own.
    reach : float
        In the unit of the stations, not negative. A place is never longer: shots that follow each other closely do not
        hang together in a chain.

    Returns
    -------
    (n,) int64 array
        From 0, in the order of line and station.

    Raises
    ------
    GeometryInputError
        Arrays of different length, or a negative reach.

    Examples
    --------
    >>> places_along([0, 0, 0, 1, 0], [10.0, 10.2, 10.4, 10.0, np.nan], reach=0.3).tolist()
    [0, 0, 1, 3, 2]
    """
    line, station = np.asarray(line, dtype=np.int64), np.asarray(station, dtype=np.float64)
    if line.shape != station.shape or not reach >= 0:
        raise GeometryInputError(
            f"lines {line.shape} and stations {station.shape} differ, or the reach {reach} is < 0."
        )
    order = np.lexsort((station, line))
    lines, along = line[order], station[order]
    begins = np.ones(len(order), dtype=bool)
    begins[1:] = (lines[1:] != lines[:-1]) | ~(np.diff(along) <= reach)
    # only where shots follow each other closely is asked how far they lie from the first of them
    for first, last in _stretches(begins):
        begun = along[first]
        for at in range(first + 1, last):
            if along[at] - begun > reach:
                begins[at], begun = True, along[at]
    place = np.empty(line.shape, dtype=np.int64)
    place[order] = np.cumsum(begins) - 1
    return place


def _stretches(begins: np.ndarray) -> list[tuple[int, int]]:
    """First and behind the last of stretches of three and more."""
    edges = np.append(np.flatnonzero(begins), len(begins))
    long = np.flatnonzero(np.diff(edges) > 2)
    return list(zip(edges[long].tolist(), edges[long + 1].tolist(), strict=True))


def one_value(
    values: ArrayLike,
    u_random: ArrayLike,
    u_common: ArrayLike,
    *,
    group: ArrayLike,
    minutes: ArrayLike,
    shared: float = 1.0,
) -> OneValue:
    """Make one value of several shots of one place.

    Parameters
    ----------
    values : (n,) or (n, k) array
        What was measured: a signed deviation, or components of a place in plan.
    u_random, u_common : (n,) arrays
        Standard uncertainty of one component, the part of this shot and the part that its group shares.
    group : (n,) int array
        Shots of one group (session, or file) share their common error; groups share none.
    minutes : (n,) array
        Time of the shots. Shots of one group and moment are one measurement; where a time is unknown, those of one
        group are taken for one.
    shared : float
        Share of the random variance that two shots soon after each other have in common, 0 to 1.

    Returns
    -------
    OneValue

    Raises
    ------
    GeometryInputError
        Arrays that do not fit, or a share that is none.

    Notes
    -----
    Random errors of two shots dt minutes apart are correlated by ``shared * exp(-dt / MEMORY)``, whatever their
    session: sky and surroundings are the same. A shot counts with 1/u² over the sum of its correlations with all
    shots of the place, itself included: three shots of one moment count as one. Any weights give an unbiased mean; its
    uncertainty is that of these weights, by the law of propagation. Whether the shots agree is asked of the best
    fitting value, with random errors taken as independent, which lets close shots differ by more than they should
    rather than by less; where chi-square is too large by `DIFFERENT`, both parts grow by its root over the degrees of
    freedom (R. T. Birge, Physical Review 40, 1932, 207).

    Nothing is left out for lying apart. Where the shots differ, and all but the one that lies farthest off agree by the
    same chi-square, that one is named for a person to look at: others of one group alone may share what is wrong.

    Examples
    --------
    Three shots a minute apart are hardly more than one; a fourth on another day is a second one.

    >>> soon = one_value([0.0, 0.0, 0.0], [0.02] * 3, [0.0] * 3, group=[0, 0, 0], minutes=[0, 1, 2])
    >>> round(soon.u_random, 4), round(soon.independent, 2)
    (0.0199, 1.01)
    >>> more = one_value([0.0] * 4, [0.02] * 4, [0.0] * 4, group=[0, 0, 0, 1], minutes=[0, 1, 2, 1440])
    >>> more.weight.round(3).tolist(), round(more.u_random, 4), round(more.independent, 2)
    ([0.168, 0.167, 0.168, 0.497], 0.0141, 2.01)

    One of three sessions disagrees with two that agree.

    >>> slip = one_value([0.0, 0.12, 0.01], [0.02] * 3, [0.0] * 3, group=[0, 1, 2], minutes=[0, 1440, 2880])
    >>> round(slip.enlarged, 1), slip.odd, slip.others.value.round(3).tolist()
    (3.3, 1, [0.005])
    """
    values, u_random, u_common, group, minutes = _checked(values, u_random, u_common, group, minutes, shared)
    same = group[:, None] == group
    apart = np.abs(minutes[:, None] - minutes)
    apart = np.where(np.isnan(apart), np.where(same, 0.0, np.inf), apart)
    share = np.where(same & (apart == 0), 1.0, shared * np.exp(-apart / MEMORY))
    random, common = share * np.outer(u_random, u_random), same * np.outer(u_common, u_common)
    weight = _weights(random + common)
    freely = np.diag(u_random**2) + common
    enlarged = _enlarged(values, freely)
    odd = _odd_one(values, freely, group) if enlarged > 1 else -1
    rest = np.arange(len(group)) != odd
    u = np.sqrt([max(float(weight @ part @ weight), 0.0) for part in (random, common)])
    best = float(np.min(u_random**2 + u_common**2))
    whole = float(u @ u)
    return OneValue(
        value=values[0] + weight @ (values - values[0]),
        weight=weight,
        u_random=float(u[0]) * enlarged,
        u_common=float(u[1]) * enlarged,
        enlarged=enlarged,
        independent=float(np.clip(best / whole, 1.0, len(group))) if whole > 0 else 1.0,
        odd=odd,
        others=None if odd < 0 else one_value(
            values[rest], u_random[rest], u_common[rest], group=group[rest], minutes=minutes[rest], shared=shared
        ),
    )  # fmt: skip


def _checked(
    values: ArrayLike, u_random: ArrayLike, u_common: ArrayLike, group: ArrayLike, minutes: ArrayLike, shared: float
) -> tuple[Floats, Floats, Floats, np.ndarray, Floats]:
    table = np.asarray(values, dtype=np.float64)
    table = table[:, None] if table.ndim == 1 else table
    random, common, when = (np.asarray(each, dtype=np.float64) for each in (u_random, u_common, minutes))
    whose = np.asarray(group)
    if any(each.shape != table.shape[:1] for each in (random, common, when, whose)) or not len(table):
        raise GeometryInputError(f"{table.shape[0]} values of a place need an uncertainty, group and time each.")
    if not 0 <= shared <= 1:
        raise GeometryInputError(f"Shots cannot share {shared} of their variance; give a share from 0 to 1.")
    return table, random, common, whose, when


def _weights(covariance: Floats) -> Floats:
    """Shares by 1/u² over the sum of each shot's correlations; equal where a shot is exact."""
    variance = np.diag(covariance)
    if not (variance > 0).all():
        return np.full(len(variance), 1.0 / len(variance))
    spread = np.sqrt(variance)
    crowd = (covariance / np.outer(spread, spread)).sum(axis=1)
    weight = 1.0 / (variance * crowd)
    return np.asarray(weight / weight.sum())


def _enlarged(values: Floats, covariance: Floats) -> float:
    """How many times the uncertainties are too small for what the shots differ by; 1 where they may be right."""
    if len(values) < 2 or not (np.diag(covariance) > 0).all():
        return 1.0
    freed = values - values.mean(axis=0)
    inverse = np.linalg.pinv(covariance, hermitian=True)
    mean = (inverse.sum(axis=0) @ freed) / inverse.sum()
    left = freed - mean
    chi2 = float(np.einsum("ik,ij,jk->", left, inverse, left))
    dof = values.shape[1] * (len(values) - 1)
    return float(np.sqrt(chi2 / dof)) if chdtrc(dof, chi2) < DIFFERENT else 1.0


def _odd_one(values: Floats, covariance: Floats, group: np.ndarray) -> int:
    """The one shot without which the others agree, those of two groups or more; -1 where it is none or any of two."""
    if len(values) < 3:
        return -1
    off = np.hypot.reduce(values - np.median(values, axis=0), axis=1) / np.sqrt(np.diag(covariance))
    found = []
    for one in np.argsort(-off, kind="stable")[:2].tolist():
        rest = np.flatnonzero(np.arange(len(values)) != one)
        if len(np.unique(group[rest])) > 1 and _enlarged(values[rest], covariance[np.ix_(rest, rest)]) == 1.0:
            found.append(one)
    return found[0] if len(found) == 1 else -1
