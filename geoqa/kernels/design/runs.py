"""Runs of neighbours that agree, found before any verdict, and their means.

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

DISTINCT = 8.0
"""How far, in standard uncertainties of the difference, the part of a run beyond the limit must stand apart from the
rest of it to be a run of its own."""

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


@dataclass(frozen=True, kw_only=True, eq=False)
class Means:
    """Means of runs; arrays of shape (k,), weights of shape (m,).

    Attributes
    ----------
    shots : int64
        Members.
    mean, u_random, u_common : float64
        Weighted mean of the deviations, and the two parts of its standard uncertainty.
    weight : (m,) float64
        Share of every member in its mean; sums to 1 in each run.
    """

    shots: Integers
    mean: Floats
    u_random: Floats
    u_common: Floats
    weight: Floats


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
    drawing sound neighbours into a run. A shot that speaks for the other side ends a run. All
    maximal scoring segments are found, in linear time: those that cannot be made better by adding
    or leaving out shots at their ends, and that lie in no other such.

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
    sides = {1: (deviation, upper[order]), -1: (-deviation, -lower[order])}
    scores = {side: _scores(toward, limit, u, agreement) for side, (toward, limit) in sides.items()}

    new = np.ones(len(order), dtype=bool)
    new[1:] = (line[1:] != line[:-1]) | (np.diff(station) > reach_between)
    found = []
    for side, score in scores.items():
        barrier = scores[-side] > 0
        begins = new | barrier
        begins[1:] |= barrier[:-1]
        first, last = _maximal_segments(score, begins)[:2]
        toward, limit = sides[side]
        core_first, core_last, core_total = _maximal_segments(_scores(toward, limit, u, 1.0), begins)
        core = (core_last - core_first + 1 >= shortest) & (core_total > threshold)
        first, last = _parted(first, last, core_first[core], core_last[core], toward, u)
        total = _totals(score, first, last)
        keep = (last - first + 1 >= shortest) & (total > threshold)
        found += [(first[keep], last[keep], np.full(int(keep.sum()), side, dtype=np.int8), total[keep])]
    first, last, sign, total = (np.concatenate(parts) for parts in zip(*found, strict=True))
    ranked = np.argsort(first, kind="stable")
    first, last, sign, total = first[ranked], last[ranked], sign[ranked], total[ranked]
    count = last - first + 1
    run = np.repeat(np.arange(len(count)), count)
    place = np.arange(len(run)) + (first - (np.cumsum(count) - count))[run]
    return Runs(row=order[place], run=run, side=sign, score=total)


def means_of_runs(
    run: ArrayLike, deviation: ArrayLike, u_random: ArrayLike, u_common: ArrayLike, group: ArrayLike
) -> Means:
    """Mean deviation of every run, with the uncertainty of the mean.

    Parameters
    ----------
    run : (m,) int array
        Number of the run of each member, from 0; does not decrease.
    deviation, u_random, u_common : (m,) arrays
        Of the members; one unit.
    group : (m,) int array
        Members of one group share one common error (session, set-up).

    Returns
    -------
    Means
        Weights go with 1 / u_random², equal where one of a run is 0. The random part falls with the
        number of members; the common part only with the number of groups.

    Raises
    ------
    GeometryInputError
        If the arrays do not fit each other.

    Notes
    -----
    With weights w: u_random² = sum(w² u_random²), u_common² = sum over groups of (sum of w u_common)²,
    by the law of propagation of uncertainty, errors of one group fully correlated.

    Examples
    --------
    >>> found = means_of_runs([0] * 4, [-0.32, -0.24, -0.18, -0.13], [0.02] * 4, [0.02] * 4, [7] * 4)
    >>> found.mean.round(4).tolist(), np.hypot(found.u_random, found.u_common).round(4).tolist()
    ([-0.2175], [0.0224])
    """
    run, group = np.asarray(run, dtype=np.int64), np.asarray(group, dtype=np.int64)
    deviation, u_random, u_common = (np.asarray(each, dtype=np.float64) for each in (deviation, u_random, u_common))
    if not run.shape == group.shape == deviation.shape == u_random.shape == u_common.shape or np.any(np.diff(run) < 0):
        raise GeometryInputError("Runs, deviations, uncertainties and groups need one row a member, sorted by run.")
    shots = np.bincount(run)
    count = len(shots)

    def total(values: np.ndarray) -> np.ndarray:
        return np.bincount(run, values, count)

    exact = total(~(u_random > 0))[run] > 0
    weight = np.where(exact, 1.0, 1 / np.where(exact, 1.0, u_random) ** 2)
    weight = weight / total(weight)[run]
    pair, member = np.unique(np.column_stack([run, group]), axis=0, return_inverse=True)
    common = np.bincount(member.ravel(), weight * u_common, len(pair))
    return Means(
        shots=shots,
        mean=total(weight * deviation),
        u_random=np.sqrt(total((weight * u_random) ** 2)),
        u_common=np.sqrt(np.bincount(pair[:, 0], common**2, count)),
        weight=weight,
    )


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


def _scores(toward: Floats, limit: Floats, u: Floats, agreement: float) -> Floats:
    """How much each shot speaks for a run on this side, in u."""
    sought = np.isfinite(limit) & (limit > 0)
    limit = np.where(sought, limit, 1.0)
    half = agreement * limit
    u = np.maximum(u, _FINEST * limit)
    k = half / u
    # the lower cap changes no segment, and keeps the digits of long sums
    return np.where(sought, np.clip((toward - half) / u, -100 * k, k), -1.0)


def _parted(
    first: Integers,
    last: Integers,
    core_first: Integers,
    core_last: Integers,
    toward: Floats,
    u: Floats,
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
        weight = 1 / np.maximum(u[mine], np.finfo(float).tiny) ** 2
        means = [np.average(toward[mine][part], weights=weight[part]) for part in (inside, ~inside)]
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
