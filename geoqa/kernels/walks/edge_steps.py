"""Steps of one edge of a walk: the other keeps its grade, as with a wrong rod from one shot on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats
from geoqa.kernels.walks.stretches import CHANGE, stretches

BESIDE = 5
"""Shots of an edge on either side of a step that tell its grade there."""
LEAST = 2
"""Fewest shots on either side of a step: one that is off by itself is no step."""
SURE = 4.0
"""Standard uncertainties of its size that a step takes at least."""
REACH = 0.25
"""How far past its ends an edge is carried on, as a share of its last leg."""
FITS = 11.8
"""Chi-square of both edges, 2 degrees of freedom, that a step of one of them may have: 0.27 % of steps have more."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Edge:
    """Shots of an edge by station.

    Attributes
    ----------
    station, level, u : (n,) float64
        Along the first edge, growing; elevation, and its 1 sigma for the shot itself.
    """

    station: Floats
    level: Floats
    u: Floats


@dataclass(frozen=True, kw_only=True)
class Step:
    """A step of one edge between two of its shots.

    Attributes
    ----------
    before : int
        Place of the last shot before it.
    back : int
        Place of the last shot before it steps back by as much; -1 where it stays to the end.
    rise : float
        Beyond the grade, in the direction of the stations.
    """

    before: int
    back: int
    rise: float


def step_of(own: Edge, other: Edge) -> Step | None:
    """The step of one edge, where it has one that the other edge does not have.

    Parameters
    ----------
    own, other : Edge
        Of one walk, with stations along the same line.

    Returns
    -------
    Step or None
        None where the difference of both edges does not change, changes more than once and not back, or changes in a
        way that a step of this edge alone between two of its shots does not explain best.

    Notes
    -----
    The difference of both edges is parted where its level changes (`stretches`); a shot that is off by itself is left
    out. At each change both edges are fitted by one grade and a step, over `BESIDE` shots to either side: that of this
    edge is the change, that of the other is 0, and no other sharing of the change fits better.

    Examples
    --------
    >>> at = np.arange(0, 200, 20.0)
    >>> front = Edge(station=at, level=0.01 * at + 0.2 * (at > 90), u=np.full(10, 0.02))
    >>> back = Edge(station=at, level=0.01 * at, u=np.full(10, 0.02))
    >>> step_of(front, back), step_of(back, front)
    (Step(before=4, back=-1, rise=0.2), None)
    """
    above, u = _above(own, other)
    for change in (CHANGE, 2 * CHANGE):
        # chance may part a level once more: then only what saves more parts it
        found = _step_of(own, other, above, u, _levels(own.station, above, u, change))
        if found is not None:
            return found
    return None


def _step_of(own: Edge, other: Edge, above: Floats, u: Floats, parts: list[np.ndarray]) -> Step | None:
    """The step between levels that are parted."""
    if len(parts) not in (2, 3):
        return None
    mean = [_mean(above[part], u[part]) for part in parts]
    rise = mean[1][0] - mean[0][0]
    if len(parts) == 3 and abs(mean[2][0] - mean[0][0]) > max(abs(rise) / 4, SURE * np.hypot(mean[0][1], mean[2][1])):
        return None
    changes = list(zip(parts[:-1], parts[1:], mean[:-1], mean[1:], strict=True))
    for one, two, low, high in changes:
        size, sigma = high[0] - low[0], float(np.hypot(low[1], high[1]))
        middle = float(own.station[[one[-1], two[0]]].mean())
        if abs(size) < SURE * sigma or not _of_one_edge(own, other, middle, size, sigma):
            return None
    back = int(parts[1][-1]) if len(parts) == 3 else -1
    return Step(before=int(parts[0][-1]), back=back, rise=round(float(rise), 9))


def _above(own: Edge, other: Edge) -> tuple[Floats, Floats]:
    """How far this edge lies above the other at its own shots, with 1 sigma; NaN where that one is not beside."""
    if len(other.station) < 2:
        return np.full(len(own.station), np.nan), np.full(len(own.station), np.nan)
    run = np.diff(other.station)
    leg = np.clip(np.searchsorted(other.station, own.station) - 1, 0, len(run) - 1)
    share = np.divide(own.station - other.station[leg], run[leg], out=np.zeros(len(leg)), where=run[leg] > 0)
    beside = (share >= -REACH) & (share <= 1 + REACH)
    level = (1 - share) * other.level[leg] + share * other.level[leg + 1]
    u = np.hypot((1 - share) * other.u[leg], share * other.u[leg + 1])
    return np.where(beside, own.level - level, np.nan), np.hypot(own.u, u)


def _levels(station: Floats, above: Floats, u: Floats, change: float) -> list[np.ndarray]:
    """Places of the shots of each level, in order; shots off by themselves are in none."""
    kept = np.flatnonzero(np.isfinite(above))
    while len(kept) >= 2 * LEAST:
        span = 2 * float(np.ptp(station[kept])) + 1.0
        number = stretches(station[kept], above[kept], u[kept], between=span, longest=span, change=change)
        count = np.bincount(number)
        if (count >= LEAST).all():
            return [kept[number == each] for each in range(len(count))]
        kept = kept[(count >= LEAST)[number]]
    return []


def _mean(value: Floats, u: Floats) -> tuple[float, float]:
    weight = u**-2.0
    return float(weight @ value / weight.sum()), float(weight.sum() ** -0.5)


def _of_one_edge(own: Edge, other: Edge, middle: float, size: float, sigma: float) -> bool:
    """Whether a change of the difference is best explained by a step of `own` alone."""
    mine, beside = _step_at(own, middle), _step_at(other, middle)
    if not (np.isfinite(mine).all() and np.isfinite(beside).all()):
        return False

    def misfit(share: float) -> float:
        return float((mine[0] - share * size) ** 2 / (mine[1] ** 2 + sigma**2)
                     + (beside[0] + (1 - share) * size) ** 2 / beside[1] ** 2)  # fmt: skip

    return misfit(1.0) <= min(FITS, misfit(0.5), misfit(0.0))


def _step_at(edge: Edge, middle: float) -> tuple[float, float]:
    """Rise of an edge at a station beyond its grade, and 1 sigma; NaN where too few shots tell it."""
    after = int(np.searchsorted(edge.station, middle))
    near = np.arange(max(after - BESIDE, 0), min(after + BESIDE, len(edge.station)))
    behind = edge.station[near] > middle
    if min(behind.sum(), (~behind).sum()) < LEAST or len(near) < 2 * LEAST + 1:
        return np.nan, np.nan
    design = np.column_stack([np.ones(len(near)), edge.station[near] - middle, behind]) / edge.u[near, None]
    covariance = np.linalg.pinv(design.T @ design)
    found = covariance @ design.T @ (edge.level[near] / edge.u[near])
    return float(found[2]), float(np.sqrt(covariance[2, 2]))


def edge_of(station: ArrayLike, level: ArrayLike, u: ArrayLike) -> tuple[Edge, np.ndarray]:
    """An edge of the shots that are known, and which of them each is.

    Examples
    --------
    >>> edge, rows = edge_of([20.0, 0.0, 10.0], [1.2, 1.0, np.nan], [0.02, 0.02, 0.02])
    >>> edge.station.tolist(), rows.tolist()
    ([0.0, 20.0], [1, 0])
    """
    station, level, u = (np.asarray(each, dtype=np.float64) for each in (station, level, u))
    known = np.flatnonzero(np.isfinite(station) & np.isfinite(level) & (u > 0))
    rows = known[np.argsort(station[known], kind="stable")]
    return Edge(station=station[rows], level=level[rows], u=u[rows]), rows
