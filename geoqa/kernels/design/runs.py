"""Runs of neighbours that agree, found before any verdict.

One shot of a settled curb may not prove the settlement, four in a row do. A run is found by its
shape alone: neighbours that all lie to the same side by more than half the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

SHORTEST = 3
"""Fewest members of a run."""

THRESHOLD = 3.0
"""Total score a run must exceed, in units of u."""

AGREEMENT = 0.5
"""Share of the limit beyond which a shot speaks for a run."""

DISTINCT = 5.0
"""How far, in standard uncertainties of the difference, the part of a run beyond the limit must stand apart from the
rest of it to be a run of its own. A run of 40 has 780 parts; by chance one stands so far apart once in 4,000."""

_ENOUGH = 1.05  # so much of its share of the threshold a shot may score: the fewest deep shots are a run at any u
_ROUNDS = 5
_FINEST = 0.1  # a u below this share of the limit counts as this share: a finer instrument finds no more runs


@dataclass(frozen=True, kw_only=True, eq=False)
class Runs:
    """Members of runs, sorted by run and station, and one row a run.

    Attributes
    ----------
    row, run : (m,) int64
        Row of the member in the input, and number of its run.
    side : (k,) int8
        +1 deviations above the design, -1 below.
    score : (k,) float64
        Total score, dimensionless.
    """

    row: Integers
    run: Integers
    side: np.ndarray
    score: Floats


def find_runs(
    line: ArrayLike,
    station: ArrayLike,
    deviation: ArrayLike,
    u: ArrayLike,
    *,
    lower: ArrayLike,
    upper: ArrayLike,
    reach_between: float,
    shortest: int = SHORTEST,
    threshold: float = THRESHOLD,
    agreement: float = AGREEMENT,
) -> Runs:
    """Find runs of neighbours whose deviations agree.

    Parameters
    ----------
    line : (n,) int array
        Line, or line and group, that a shot belongs to; a run never leaves it.
    station : (n,) array
        Along the line.
    deviation, u : (n,) arrays
        Signed deviation, and the random part of its standard uncertainty (1 sigma), in one unit.
    lower, upper : float or (n,) array
        Limits on the deviation. No run is sought on a side whose limit is missing, infinite, or on
        the other side of the design.
    reach_between : float
        A longer distance between neighbours ends a run, in the unit of the stations.
    shortest : int
        Fewest members.
    threshold : float
        Total score to be exceeded.
    agreement : float
        Share of the limit where the score of a shot turns positive.

    Returns
    -------
    Runs
        Shots with a missing number are passed over. No shot is in two runs.

    Raises
    ------
    GeometryInputError
        If the arrays do not fit each other, or an option is not positive.

    Notes
    -----
    On one side of the design, a shot scores ``side * deviation / u - k`` with ``k = agreement *
    limit / u``, at most ``k``: times 2k this is how much more likely the shot is if the true deviation is
    at twice ``agreement`` of the limit than if it is 0, for normal errors. The cap keeps a single gross error from
    drawing sound neighbours into a run; it is never so low that the fewest members could not exceed the threshold
    however deep they lie, which it would be where u is large. A shot that speaks for the other side ends a run. All
    maximal scoring segments are found, in linear time: those that cannot be made better by adding
    or leaving out shots at their ends, and that lie in no other such.

    The edges are then those of the data: with the mean of the run as its level, a neighbour nearer to the design than
    to that level is no member, as long as it keeps the limit and enough is left. So one good shot does not wear down
    the mean of bad ones; as many good ones as would make a run part it; and a stretch far beyond the limit is no part
    of a long small miss (`DISTINCT`).

    Examples
    --------
    >>> sag = [0, 0, -0.32, -0.24, -0.18, -0.13, 0, 0]
    >>> found = find_runs([0] * 8, range(0, 200, 25), sag, [0.02] * 8, lower=-0.08, upper=0.08, reach_between=50)
    >>> found.row.tolist(), found.run.tolist(), found.side.tolist()
    ([2, 3, 4, 5], [0, 0, 0, 0], [-1])
    """
    line, station, deviation, u, lower, upper = _checked(line, station, deviation, u, lower, upper)
    if not (reach_between > 0 and shortest >= 1 and threshold >= 0 and agreement > 0):
        raise GeometryInputError(
            f"Runs cannot be found with reach_between {reach_between}, shortest {shortest}, threshold {threshold} "
            f"and agreement {agreement}; give positive numbers."
        )
    usable = np.flatnonzero(np.isfinite(station) & np.isfinite(deviation) & np.isfinite(u))
    # deviations last, so that shots of one station stand in an order that is not the order of rows
    order = usable[np.lexsort((deviation[usable], station[usable], line[usable]))]
    line, station, deviation, u = line[order], station[order], deviation[order], u[order]
    rule = _Rule(shortest, threshold, agreement)
    sides = {1: _Side(deviation, upper[order], u, rule), -1: _Side(-deviation, -lower[order], u, rule)}
    scores = {sign: side.scores(agreement * side.limit) for sign, side in sides.items()}

    new = np.ones(len(order), dtype=bool)
    new[1:] = (line[1:] != line[:-1]) | (np.diff(station) > reach_between)
    found = []
    for one, score in scores.items():
        side, barrier = sides[one], scores[-one] > 0
        begins = new | barrier
        begins[1:] |= barrier[:-1]
        first, last = _maximal_segments(score, begins)[:2]
        core_first, core_last, core_total = _maximal_segments(side.scores(side.limit), begins)
        core = rule.met(core_first, core_last, core_total)
        first, last = _parted(first, last, core_first[core], core_last[core], side)
        keep = rule.met(first, last, _totals(score, first, last))
        first, last = _at_their_level(first[keep], last[keep], side, score)
        found.append((first, last, np.full(len(first), one, dtype=np.int8), _totals(score, first, last)))
    first, last, sign, total = (np.concatenate(parts) for parts in zip(*found, strict=True))
    ranked = np.argsort(first, kind="stable")
    first, last, sign, total = first[ranked], last[ranked], sign[ranked], total[ranked]
    count = last - first + 1
    run = np.repeat(np.arange(len(count)), count)
    place = np.arange(len(run)) + (first - (np.cumsum(count) - count))[run]
    return Runs(row=order[place], run=run, side=sign, score=total)


def _checked(*given: ArrayLike) -> tuple[np.ndarray, ...]:
    line = np.asarray(given[0], dtype=np.int64)
    rest = [np.asarray(each, dtype=np.float64) for each in given[1:]]
    try:
        rest = [np.broadcast_to(each, line.shape) for each in rest]
    except ValueError:
        shapes = ", ".join(str(each.shape) for each in rest)
        raise GeometryInputError(
            f"{line.shape} line numbers have stations, deviations, uncertainties and limits of shapes {shapes}; "
            "give one for each shot."
        ) from None
    if line.ndim != 1:
        raise GeometryInputError(f"Line numbers have shape {line.shape}; give one for each shot.")
    return line, *rest


@dataclass(frozen=True)
class _Rule:
    """What makes neighbours a run."""

    shortest: int
    threshold: float
    agreement: float

    @property
    def cap(self) -> float:
        """Most that a shot may score by its depth where u is large."""
        return _ENOUGH * self.threshold / self.shortest

    def met(self, first: Integers, last: Integers, total: Floats) -> Booleans:
        return np.asarray((last - first + 1 >= self.shortest) & (total > self.threshold))


@dataclass(frozen=True, eq=False)
class _Side:
    """Deviations toward one side of the design, and the limit there."""

    toward: Floats
    limit: Floats
    u: Floats
    rule: _Rule

    def scores(self, bar: Floats, *, good: bool = False) -> Floats:
        """How much each shot speaks for a run, in u: by how far it lies beyond its bar; or, `good`, within it."""
        sought = np.isfinite(self.limit) & (self.limit > 0)
        u = np.where(sought, np.maximum(self.u, _FINEST * np.where(sought, self.limit, 1.0)), 1.0)
        k = np.where(sought, bar / u, 1.0)
        beyond = (k - self.toward / u) if good else (self.toward / u - k)
        # the lower cap changes no segment, and keeps the digits of long sums
        return np.where(sought, np.clip(beyond, -100 * k, np.maximum(k, self.rule.cap)), -1.0)

    def at(self, place: Integers) -> _Side:
        return _Side(self.toward[place], self.limit[place], self.u[place], self.rule)


def _at_their_level(first: Integers, last: Integers, side: _Side, score: Floats) -> tuple[Integers, Integers]:
    """Segments cut anew where neighbours lie nearer to the design than to the level of the segment.

    A shot beyond the limit is never cut off, one below the usual bar never taken in. Where nothing long enough is
    left, the segment stays. The level is that of what is left, so it is asked again.
    """
    for _ in range(_ROUNDS):
        if not len(first):
            break
        ranked = np.argsort(first)
        first, last = first[ranked], last[ranked]
        count = last - first + 1
        number = np.repeat(np.arange(len(first)), count)
        place = np.arange(len(number)) + (first - (np.cumsum(count) - count))[number]
        mine = side.at(place)
        weight = 1 / np.maximum(mine.u, _FINEST * mine.limit) ** 2
        level = np.bincount(number, weight * mine.toward) / np.bincount(number, weight)
        bar = np.clip(level[number] / 2, min(side.rule.agreement, 1.0) * mine.limit, mine.limit)
        a, b = _beyond(mine, bar, np.append(True, np.diff(number) > 0))
        holder, a, b = number[a], place[a], place[b]
        keep = side.rule.met(a, b, _totals(score, a, b))
        bare = np.setdiff1d(np.arange(len(first)), holder[keep])
        cut = np.append(a[keep], first[bare]), np.append(b[keep], last[bare])
        if len(cut[0]) == len(first) and cut[1].sum() - cut[0].sum() == last.sum() - first.sum():
            break
        first, last = cut
    return first, last


def _beyond(side: _Side, bar: Floats, begins: Booleans) -> tuple[Integers, Integers]:
    """Maximal segments beyond a bar; as many good shots in a row as would make a run if they were bad part them."""
    good_first, good_last, total = _maximal_segments(side.scores(bar, good=True), begins)
    parting = side.rule.met(good_first, good_last, total)
    steps = np.zeros(len(bar) + 1, dtype=np.int64)
    steps[good_first[parting]] += 1
    steps[good_last[parting] + 1] -= 1
    apart = np.cumsum(steps[:-1]) > 0
    begins = begins | apart
    begins[1:] |= apart[:-1]
    return _maximal_segments(np.where(apart, -1.0, side.scores(bar)), begins)[:2]


def _parted(
    first: Integers,
    last: Integers,
    core_first: Integers,
    core_last: Integers,
    side: _Side,
) -> tuple[Integers, Integers]:
    """Segments, with those parted whose members beyond the limit stand clearly apart from the rest.

    Only segments that hold a core are looped over.
    """
    holder = np.searchsorted(first, core_first, side="right") - 1
    parts: list[tuple[int, int]] = []
    whole = np.ones(len(first), dtype=bool)
    for segment in np.unique(holder[holder >= 0]).tolist():
        cores = np.flatnonzero((holder == segment) & (core_last <= last[segment]))
        inside = np.zeros(last[segment] - first[segment] + 1, dtype=bool)
        for core in cores.tolist():
            inside[core_first[core] - first[segment] : core_last[core] - first[segment] + 1] = True
        if not inside.any() or inside.all():
            continue
        mine = slice(first[segment], last[segment] + 1)
        weight = 1 / np.maximum(side.u[mine], np.finfo(float).tiny) ** 2
        means = [np.average(side.toward[mine][part], weights=weight[part]) for part in (inside, ~inside)]
        spread = np.sqrt(1 / weight[inside].sum() + 1 / weight[~inside].sum())
        if means[0] - means[1] <= DISTINCT * spread:
            continue
        whole[segment] = False
        cuts = np.flatnonzero(np.diff(inside.astype(np.int8))) + 1
        edges = [0, *cuts.tolist(), len(inside)]
        parts += [(first[segment] + a, first[segment] + b - 1) for a, b in pairwise(edges)]
    if not parts:
        return first, last
    more = np.array(parts)
    return np.append(first[whole], more[:, 0]), np.append(last[whole], more[:, 1])


def _totals(score: Floats, first: Integers, last: Integers) -> Floats:
    """Sum of scores from first to last place of each segment."""
    total = np.append(0.0, np.cumsum(score))
    return total[last + 1] - total[first]


def _maximal_segments(score: Floats, begins: Booleans) -> tuple[Integers, Integers, Floats]:
    """First and last place and total score of all maximal scoring segments.

    A maximal segment holds a stretch of positive scores whole or not at all, so only stretches are looped over.
    """
    positive = score > 0
    if not positive.any():
        nothing = np.zeros(0, dtype=np.int64)
        return nothing, nothing, np.zeros(0)
    starts = positive & begins
    starts[1:] |= positive[1:] & ~positive[:-1]
    ends = positive.copy()
    ends[:-1] &= begins[1:] | ~positive[1:]
    first, last = np.flatnonzero(starts), np.flatnonzero(ends)
    total = np.cumsum(score)
    before, after = total[first] - score[first], total[last]
    part = np.cumsum(begins)[first]
    kept_first, kept_last = _joined(before.tolist(), after.tolist(), part.tolist())
    left, right = np.array(kept_first), np.array(kept_last)
    return first[left], last[right], after[right] - before[left]


def _joined(before: list[float], after: list[float], part: list[int]) -> tuple[list[int], list[int]]:
    """Join stretches into maximal segments; sums before and after each, and the part it must stay in.

    Segments found so far wait on a stack. A new one looks back for the nearest with a smaller sum
    before it; if that one ends lower than the new one, everything from there on becomes one segment,
    which looks back again. `back` remembers where each search ended, so that no place is passed twice.
    """
    first: list[int] = []
    last: list[int] = []
    low: list[float] = []
    high: list[float] = []
    back: list[int] = []
    floor, here = 0, None
    for stretch, (lowest, highest, of) in enumerate(zip(before, after, part, strict=True)):
        if of != here:
            floor, here = len(first), of
        begin, look = stretch, len(first) - 1
        while True:
            while look >= floor and low[look] >= lowest:
                look = back[look]
            if look < floor or high[look] >= highest:
                break
            begin, lowest, further = first[look], low[look], back[look]
            for column in (first, last, low, high, back):
                del column[look:]
            look = further
        first.append(begin)
        last.append(stretch)
        low.append(lowest)
        high.append(highest)
        back.append(look)
    return first, last
