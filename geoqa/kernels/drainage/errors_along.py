"""What the errors of shots on one line have in common: by session, and while it lasts from shot to shot."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.run_means import LASTING

_CHUNK = 2_000_000
"""Pairs of shots that are looked at in one piece."""
_MEDIAN = 0.454936423119572  # of chi-square with one degree of freedom
_OF_MEDIAN = 2.3328  # relative 1 sigma of the median of n of them, times sqrt(n): by the density there
_ONE_SIDED = 1.6448536269514722


def error_covariance(
    random: ArrayLike, common: ArrayLike, group: ArrayLike, *, minutes: ArrayLike | None = None, lasting: float = 0.0
) -> Floats:
    """Covariance of the errors of shots.

    Parameters
    ----------
    random, common : (n,) arrays
        1 sigma that each shot has for itself, and shares with its group.
    group : (n,) int array
        -1 for a shot that shares nothing with another one.
    minutes : (n,) array, optional
        When each was taken; NaN is not known.
    lasting : float
        Share of the own variance that lasts from shot to shot of one group, 1/e in `LASTING` minutes.

    Returns
    -------
    (n, n) float64

    Examples
    --------
    >>> error_covariance([0.02, 0.02], [0.05, 0.05], [0, 0]).round(4).tolist()
    [[0.0029, 0.0025], [0.0025, 0.0029]]
    """
    own, shared = np.asarray(random, dtype=np.float64), np.asarray(common, dtype=np.float64)
    group = np.asarray(group)
    if not own.shape == shared.shape == group.shape or own.ndim != 1:
        raise GeometryInputError(f"random {own.shape}, common {shared.shape} and group {group.shape} differ.")
    alike = (group[:, None] == group) & (group >= 0)
    made = np.where(alike, np.outer(shared, shared), 0.0)
    if lasting > 0 and minutes is not None:
        time = np.asarray(minutes, dtype=np.float64)
        held = np.exp(-np.abs(time[:, None] - time) / LASTING)
        made += np.where(alike & np.isfinite(held), lasting * held * np.outer(own, own), 0.0)
    np.fill_diagonal(made, own**2 + shared**2)
    return np.asarray(made)


@dataclass(frozen=True, eq=False)
class ErrorsAlong:
    """Errors of the elevations of places along a line, each the weighted mean of its shots.

    What sessions share and what lasts from shot to shot is told by a few numbers a shot, so that a line of many
    thousand shots needs no table of all its pairs.

    Attributes
    ----------
    start : (n + 1,) int64
        The shots of place k are those from `start[k]` up to `start[k + 1]`, one at least.
    weight, own, shared : (k,) float64
        Share of each shot in its place; 1 sigma for itself, and of what its group shares.
    group : (k,) int64
        -1 for a shot that shares nothing with another one.
    minutes : (k,) float64
        NaN is not known.
    lasting : float
        As `error_covariance` takes it.

    Examples
    --------
    >>> errors = ErrorsAlong.of_shots([0.02, 0.02], [0.05, 0.05], [0, 0])
    >>> errors.variance().round(4).tolist(), errors.between([0], [1]).round(4).tolist()
    ([0.0029, 0.0029], [0.0025])
    """

    start: Integers
    weight: Floats
    own: Floats
    shared: Floats
    group: Integers
    minutes: Floats
    lasting: float = 0.0

    @classmethod
    def of_shots(
        cls,
        own: ArrayLike,
        shared: ArrayLike,
        group: ArrayLike,
        *,
        minutes: ArrayLike | None = None,
        lasting: float = 0.0,
        start: ArrayLike | None = None,
        weight: ArrayLike | None = None,
    ) -> ErrorsAlong:
        """Of shots, each a place of its own unless `start` and `weight` tell otherwise."""
        own = np.asarray(own, dtype=np.float64)
        count = len(own)
        return cls(
            np.asarray(np.arange(count + 1) if start is None else start, dtype=np.int64),
            np.asarray(np.ones(count) if weight is None else weight, dtype=np.float64),
            own,
            np.asarray(shared, dtype=np.float64),
            np.asarray(group, dtype=np.int64),
            np.asarray(np.full(count, np.nan) if minutes is None else minutes, dtype=np.float64),
            lasting,
        )

    def __len__(self) -> int:
        return len(self.start) - 1

    def plain(self) -> ErrorsAlong:
        """The same without what lasts from shot to shot."""
        return replace(self, lasting=0.0)

    def part(self, first: int, last: int) -> ErrorsAlong:
        """Of the places from `first` up to `last`, without it."""
        one, other = int(self.start[first]), int(self.start[last])
        cut = {name: getattr(self, name)[one:other] for name in ("weight", "own", "shared", "group", "minutes")}
        return replace(self, start=self.start[first : last + 1] - one, **cut)

    def shots(self, places: ArrayLike) -> Integers:
        """Numbers of the shots of some places, place by place."""
        return self._members(np.asarray(places, dtype=np.int64))[1]

    def variance(self) -> Floats:
        """Of every place, (n,)."""
        every = np.arange(len(self))
        return self.between(every, every)

    def between(self, one: ArrayLike, other: ArrayLike) -> Floats:
        """Covariance of the errors of pairs of places, (q,) each."""
        one, other = np.asarray(one, dtype=np.int64), np.asarray(other, dtype=np.int64)
        if len(self.weight) == len(self):
            return self.weight[one] * self.weight[other] * self._of_shots(one, other)
        count = np.diff(self.start)
        pairs = count[one] * count[other]
        made = np.zeros(len(one))
        cuts = np.searchsorted(np.cumsum(pairs), np.arange(_CHUNK, pairs.sum() + _CHUNK, _CHUNK), side="right")
        for mine in np.split(np.arange(len(one)), np.unique(cuts)):
            which = np.repeat(np.arange(len(mine)), pairs[mine])
            nth = np.arange(len(which)) - np.repeat(np.cumsum(pairs[mine]) - pairs[mine], pairs[mine])
            wide = count[other[mine]][which]
            a = self.start[one[mine]][which] + nth // np.maximum(wide, 1)
            b = self.start[other[mine]][which] + nth % np.maximum(wide, 1)
            part = self.weight[a] * self.weight[b] * self._of_shots(a, b)
            made[mine] = np.bincount(which, part, minlength=len(mine))
        return made

    def of_sum(self, places: ArrayLike, share: ArrayLike) -> float:
        """Variance of the sum of the elevations of some places times a share each."""
        place, shots = self._members(np.asarray(places, dtype=np.int64))
        share = np.asarray(share, dtype=np.float64)[place] * self.weight[shots]
        rows = max(_CHUNK // max(len(shots), 1), 1)
        total = 0.0
        for first in range(0, len(shots), rows):
            mine = slice(first, first + rows)
            total += float(share[mine] @ self._of_shots(shots[mine, None], shots[None, :]) @ share)
        return total

    def _members(self, places: Integers) -> tuple[Integers, Integers]:
        """For every shot of some places which of these it belongs to, and its number."""
        count = self.start[places + 1] - self.start[places]
        which = np.repeat(np.arange(len(places)), count)
        return which, self.start[places][which] + np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)

    def _of_shots(self, a: Integers, b: Integers) -> Floats:
        alike = (self.group[a] == self.group[b]) & (self.group[a] >= 0)
        made = np.where(alike, self.shared[a] * self.shared[b], 0.0)
        if self.lasting > 0:
            held = np.nan_to_num(np.exp(-np.abs(self.minutes[a] - self.minutes[b]) / LASTING))
            made += np.where(alike, self.lasting * held * self.own[a] * self.own[b], 0.0)
        return np.where(a == b, self.own[a] ** 2 + self.shared[a] ** 2, made)


def level_pairs(errors: ErrorsAlong, elevation: ArrayLike, width: float) -> int:
    """Ordered pairs of places, the first of them no end, whose elevations differ by no more than `width` sigma.

    Parameters
    ----------
    errors : ErrorsAlong
        Of n places.
    elevation : (n,) array
    width : float
        In 1 sigma of their difference; pairs of a place with itself count.

    Notes
    -----
    For each place only those are looked at one by one whose difference lies between the least and the largest that the
    bounds of the covariance leave; what lies below is counted as it is.

    Examples
    --------
    >>> level_pairs(ErrorsAlong.of_shots([0.02] * 4, [0.0] * 4, [0] * 4), [10.0, 10.01, 10.02, 11.0], 2.0)
    6
    """
    z, variance = np.asarray(elevation, dtype=np.float64), errors.variance()
    known = np.isfinite(z) & np.isfinite(variance)
    kind, common, lasts = _bounded(errors)
    left = variance - common**2
    inner = known & (np.arange(len(z)) > 0) & (np.arange(len(z)) < len(z) - 1)
    names = np.unique(kind[known])
    total = 0
    for one in names.tolist():
        mine = np.flatnonzero(inner & (kind == one))
        for other in names.tolist() if len(mine) else []:
            theirs = np.flatnonzero(known & (kind == other))
            theirs = theirs[np.argsort(z[theirs], kind="stable")]
            if one == other and one >= 0:
                most = left[mine] + left[theirs].max() + np.maximum(
                    np.abs(common[mine] - common[theirs].min()), np.abs(common[mine] - common[theirs].max())
                ) ** 2  # fmt: skip
                least = left[mine] + left[theirs].min() - 2 * errors.lasting * lasts[mine] * lasts[theirs].max()
            else:
                most = variance[mine] + variance[theirs].max()
                free = -2 not in (one, other)
                least = variance[mine] + variance[theirs].min() if free else np.zeros(len(mine))
            reach = [width * np.sqrt(np.maximum(each, 0.0)) for each in (least * (1 - _ROUND), most * (1 + _ROUND))]
            total += _pairs_within(errors, z, variance, width, mine, theirs, *reach)
    return total


_ROUND = 1e-9


def _bounded(errors: ErrorsAlong) -> tuple[Integers, Floats, Floats]:
    """Of every place: the group of its shots, -1 for none and -2 for several; what it shares; the sum of own sigmas."""
    first = errors.start[:-1]
    low, high = (each.reduceat(errors.group, first) for each in (np.minimum, np.maximum))
    shared, own = (np.add.reduceat(errors.weight * each, first) for each in (errors.shared, errors.own))
    return np.where(low == high, low, -2), shared, own


def _pairs_within(
    errors: ErrorsAlong, z: Floats, variance: Floats, width: float, mine: Integers, theirs: Integers, sure: Floats,
    reach: Floats,
) -> int:  # fmt: skip
    """Pairs of `mine` and `theirs`, these by elevation, whose difference is within `width` sigma of it."""
    level = z[theirs]
    edges: list[tuple[Floats, Literal["left", "right"]]]
    edges = [(-reach, "left"), (-sure, "left"), (sure, "right"), (reach, "right")]
    ends = [np.searchsorted(level, z[mine] + edge, side) for edge, side in edges]
    total = int((ends[2] - ends[1]).sum())
    for low, high in ((ends[0], ends[1]), (ends[2], ends[3])):
        count = high - low
        cuts = np.searchsorted(np.cumsum(count), np.arange(_CHUNK, count.sum() + _CHUNK, _CHUNK), side="right")
        for part in np.split(np.arange(len(mine)), np.unique(cuts)):
            which = np.repeat(part, count[part])
            nth = np.arange(len(which)) - np.repeat(np.cumsum(count[part]) - count[part], count[part])
            a, b = mine[which], theirs[low[which] + nth]
            spread = np.sqrt(np.maximum(variance[a] + variance[b] - 2 * errors.between(a, b), 0.0))
            total += int((np.abs(z[a] - z[b]) <= width * spread).sum())
    return total


def lasting_at_least(
    line: ArrayLike, station: ArrayLike, deviation: ArrayLike, u: ArrayLike, group: ArrayLike, minutes: ArrayLike
) -> float:
    """Share of the own variance of shots that lasts to the next one, with 95 % no less.

    Parameters
    ----------
    line, group : (n,) int array
        Line of each shot, and what shares errors with it.
    station, deviation, u : (n,) arrays
        Along the line; elevation less that of the design; 1 sigma of the shot for itself.
    minutes : (n,) array
        Time of each shot.

    Returns
    -------
    float
        0 to 1; 0 where nothing proves more. Only neighbours with known times, less than `LASTING` apart, tell.

    Notes
    -----
    Neighbours differ by what does not last: 2 u² (1 - s exp(-t / `LASTING`)). The median of the squared
    differences stands for it, so that steps of the work matter little; rough work makes the share smaller.
    A difference of two shots gains by what lasts, so that the lower bound of it is the safe one here.

    Examples
    --------
    >>> wave = 0.03 * np.sin(np.arange(200) / 20)
    >>> at, same = np.arange(200), np.zeros(200, dtype=int)
    >>> round(lasting_at_least(same, at, wave, np.full(200, 0.02), same, at / 60), 2)
    1.0
    """
    line, group = np.asarray(line), np.asarray(group)
    at, value, own, time = (np.asarray(each, dtype=np.float64) for each in (station, deviation, u, minutes))
    usable = np.flatnonzero(np.isfinite(at) & np.isfinite(value) & (own > 0) & np.isfinite(time))
    order = usable[np.lexsort((value[usable], at[usable], line[usable]))]
    line, group, value, own, time = (each[order] for each in (line, group, value, own, time))
    apart = np.abs(np.diff(time))
    near = (line[1:] == line[:-1]) & (group[1:] == group[:-1]) & (apart < LASTING)
    squares = (np.diff(value) ** 2 / (own[1:] ** 2 + own[:-1] ** 2))[near]
    if len(squares) < 2:
        return 0.0
    most = float(np.median(squares)) / _MEDIAN * (1 + _ONE_SIDED * _OF_MEDIAN / np.sqrt(len(squares)))
    return float(np.clip((1 - most) / np.exp(-apart[near] / LASTING).mean(), 0.0, 1.0))
