"""What a crew's own repeated shots say about its uncertainty: shared within a session, random, and short-lived."""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.precision.components import Contrasts, contrasts, exact_ratio, joined, two_spreads
from geoqa.kernels.precision.estimate import ONE_SIGMA, UNKNOWN, Estimate, spread_estimate
from geoqa.kernels.precision.hanging_together import apart


@dataclass(frozen=True, kw_only=True, eq=False)
class Pairs:
    """All pairs of shots on one point, earlier and later; arrays of shape (m,).

    Attributes
    ----------
    earlier, later : int64
        Rows of the two shots.
    gap : float64
        Time between them, not negative.
    easting, northing, elevation : float64
        Later minus earlier; NaN where one is missing.
    """

    earlier: Integers
    later: Integers
    gap: Floats
    easting: Floats
    northing: Floats
    elevation: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class GapTable:
    """Differences of repeated shots by the time between them; arrays of shape (k,), one row a class.

    Attributes
    ----------
    low, high : float64
        Gaps from `low` (included) to `high` (left out).
    count_h, count_v : int64
        Pairs with both plan components, and with an elevation. They are not independent of each other.
    u_h, u_v : float64
        Root mean square difference over sqrt(2): what one shot would have per axis and in elevation, if
        the two had nothing in common; NaN without pairs.
    """

    low: Floats
    high: Floats
    count_h: Integers
    count_v: Integers
    u_h: Floats
    u_v: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Visits:
    """Repeated shots sorted into visits of their point.

    Attributes
    ----------
    visit : (n,) int64
        Number of the visit; -1 for shots that count neither as independent nor as close ones.
    first : (n,) bool
        First shot of a visit, independent of the visit before.
    close : (n,) bool
        Further shot of a visit, same group, soon after its first.
    independent, too_close : int
        Numbers of first shots, and of all that came too soon after one to count as independent.
    """

    visit: Integers
    first: Booleans
    close: Booleans
    independent: int
    too_close: int


@dataclass(frozen=True, kw_only=True)
class Repeatability:
    """Uncertainty of one shot, per axis, from repeated ones.

    Attributes
    ----------
    random : Estimate
        Of this shot alone, within its group.
    common : Estimate
        Shared by all shots of a group. Unknown unless points were visited in two groups at least.
    absolute : Estimate
        Both together, for a shot taken alone.
    near : Estimate
        What shots soon after each other differ by: not an accuracy.
    rho : Estimate
        Share of the random variance that two shots of a point soon after each other have in common, 0 to 1.
    points, groups, visits, close_shots : int
        What this rests on: points visited at least twice, the groups and visits of these, and close shots.
    """

    random: Estimate
    common: Estimate
    absolute: Estimate
    near: Estimate
    rho: Estimate
    points: int
    groups: int
    visits: int
    close_shots: int


def pairs_of(point: ArrayLike, time: ArrayLike, easting: ArrayLike, northing: ArrayLike, elevation: ArrayLike) -> Pairs:
    """Pair every shot with every later one of the same point.

    Parameters
    ----------
    point : (n,) array
        Name or number of the point.
    time : (n,) array
        Time of the shot, any zero, any unit; a shot without time is in no pair.
    easting, northing, elevation : (n,) array
        Coordinates; NaN is missing.

    Returns
    -------
    Pairs
        Sorted by point, earlier and later shot.

    Raises
    ------
    GeometryInputError
        Arrays of different length.

    Examples
    --------
    >>> found = pairs_of(["A", "B", "A", "A"], [0, 1, 5, 9], [1, 2, 1.5, 1.1], [0, 0, 0, 0], [7, 8, 7.5, np.nan])
    >>> found.earlier.tolist(), found.later.tolist(), found.gap.tolist(), found.elevation.tolist()
    ([0, 0, 2], [2, 3, 3], [5.0, 9.0, 4.0], [0.5, nan, nan])
    """
    point, time, values = _table(point, time, easting, northing, elevation)
    label = np.unique(point, return_inverse=True)[1].ravel()
    order = np.lexsort((np.arange(point.size), time, label))
    order = order[np.isfinite(time[order])]
    first, second = [np.empty(0, dtype=np.int64)], [np.empty(0, dtype=np.int64)]
    for lag in range(1, order.size):
        same = label[order[lag:]] == label[order[:-lag]]
        if not same.any():
            break
        first.append(order[:-lag][same])
        second.append(order[lag:][same])
    earlier, later = np.concatenate(first), np.concatenate(second)
    rank = np.empty(point.size, dtype=np.int64)
    rank[order] = np.arange(order.size)
    sort = np.lexsort((rank[later], rank[earlier]))
    earlier, later = earlier[sort], later[sort]
    apart = values[later] - values[earlier]
    return Pairs(
        earlier=earlier,
        later=later,
        gap=time[later] - time[earlier],
        easting=apart[:, 0],
        northing=apart[:, 1],
        elevation=apart[:, 2],
    )


def by_gap(pairs: Pairs, edges: ArrayLike) -> GapTable:
    """Sum up differences of repeated shots by the time between them.

    Parameters
    ----------
    pairs : Pairs
        From `pairs_of`.
    edges : (k + 1,) array
        Rising gaps that part the classes, in the unit of the times.

    Returns
    -------
    GapTable
        If it rises with the gap, soon repeated shots flatter.

    Raises
    ------
    JobError
        Edges that do not rise.

    Examples
    --------
    >>> found = by_gap(pairs_of([1, 1], [0, 60], [5.0, 5.02], [0.0, 0.0], [1.0, 1.02]), [0, 600, 14400])
    >>> found.count_v.tolist(), found.u_v.round(4).tolist()
    ([1, 0], [0.0141, nan])
    """
    edges = np.asarray(edges, dtype=np.float64)
    if edges.ndim != 1 or edges.size < 2 or not np.all(np.diff(edges) > 0):
        raise JobError(f"Gap classes {edges.tolist()} do not rise; give at least two edges, each above the one before.")
    kind = np.searchsorted(edges, pairs.gap, side="right") - 1
    plan = (pairs.easting**2 + pairs.northing**2) / 2
    level = pairs.elevation**2
    count_h, u_h = _by_class(kind, plan, edges.size - 1)
    count_v, u_v = _by_class(kind, level, edges.size - 1)
    return GapTable(low=edges[:-1], high=edges[1:], count_h=count_h, count_v=count_v, u_h=u_h, u_v=u_v)


def visits_of(point: ArrayLike, time: ArrayLike, group: ArrayLike, *, close: float, independent_after: float) -> Visits:
    """Sort repeated shots into visits: independent of each other, soon after each other, or neither.

    Parameters
    ----------
    point : (n,) array
        Name or number of the point.
    time : (n,) array
        Time of the shot; one without time is in no visit.
    group : (n,) array
        What shares an error: session, or initialization.
    close : float
        Longest time after the first shot of a visit at which another still shares its short-lived
        errors, in the unit of the times.
    independent_after : float
        Shortest time after the first shot of a visit at which the next may begin.

    Returns
    -------
    Visits
        A shot in another group soon after, or between `close` and `independent_after`, belongs to
        no visit: it is counted as too close and left out.

    Raises
    ------
    JobError
        A `close` that is negative or not below `independent_after`.

    Notes
    -----
    Common practice: 4 hours and more between occupations count as independent, 20 minutes have some
    benefit (teaching material, seen); minutes have none.

    Examples
    --------
    >>> found = visits_of([1, 1, 1, 1], [0, 60, 3600, 14400], ["a", "a", "a", "b"], close=600, independent_after=14400)
    >>> found.visit.tolist(), found.independent, found.too_close
    ([0, 0, -1, 1], 2, 2)
    """
    if not 0 <= close < independent_after:
        raise JobError(f"close {close} must not be negative and must stay below independent_after {independent_after}.")
    point, group, time = np.asarray(point), np.asarray(group), np.asarray(time, dtype=np.float64)
    if not point.shape == group.shape == time.shape:
        raise GeometryInputError(f"point {point.shape}, group {group.shape} and time {time.shape} differ in length.")
    label = np.unique(point, return_inverse=True)[1].ravel()
    visit = np.full(point.shape, -1, dtype=np.int64)
    first, near = np.zeros(point.shape, dtype=bool), np.zeros(point.shape, dtype=bool)
    begun = -1
    for row in np.lexsort((np.arange(point.size), time, label)).tolist():
        if not np.isfinite(time[row]):
            continue
        if begun < 0 or label[row] != label[begun] or time[row] - time[begun] >= independent_after:
            begun = row
            first[row] = True
            visit[row] = int(first.sum()) - 1
        elif time[row] - time[begun] <= close and group[row] == group[begun]:
            near[row] = True
            visit[row] = visit[begun]
    independent = int(first.sum())
    return Visits(
        visit=visit,
        first=first,
        close=near,
        independent=independent,
        too_close=int(np.isfinite(time).sum()) - independent,
    )


def repeatability(
    values: ArrayLike, point: ArrayLike, group: ArrayLike, visits: Visits, *, confidence: float = 0.95
) -> Repeatability:
    """Learn the uncertainty of one shot from repeated ones.

    Parameters
    ----------
    values : (n,) or (n, k) array
        Elevation; or easting and northing, then the answer is per axis and both count. A row
        with a NaN is left out.
    point, group : (n,) array
        As given to `visits_of`.
    visits : Visits
        From `visits_of`.
    confidence : float
        Of every band.

    Returns
    -------
    Repeatability
        Unknown is what the shots cannot tell. Only first shots of visits enter random, common and absolute:
        those that came too close would flatter.

    Raises
    ------
    GeometryInputError
        Arrays of different length.

    Notes
    -----
    First shots: value = point + group error + shot error. Points are effects of no interest, groups are random:
    twelve points seen in two sessions tell the error of a session from two values, not from twelve. The sum of
    squares left after points and groups tells the random part (exact chi-square band); the sums of squares of
    the groups, freed of the points, the common part, by `two_spreads`. Close shots: shot error =
    short-lived error + noise; differences within visits tell the noise, the means of the visits freed of points
    and groups the rest, and rho has an exact band by F.

    Examples
    --------
    >>> point, group = [1, 1, 2, 2, 3, 3], ["a", "b"] * 3
    >>> visits = visits_of(point, [0, 1, 0, 1, 0, 1], group, close=0, independent_after=1)
    >>> found = repeatability([5.0, 5.2, 6.0, 6.3, 7.0, 7.1], point, group, visits)
    >>> round(found.random.value, 4), round(found.common.value, 4), found.visits
    (0.0707, 0.1354, 6)
    """
    values = np.asarray(values, dtype=np.float64)
    values = values[:, None] if values.ndim == 1 else values
    point, group = np.asarray(point), np.asarray(group)
    if not values.shape[:1] == point.shape == group.shape == visits.visit.shape:
        raise GeometryInputError(f"values {values.shape}, point {point.shape} and group {group.shape} do not fit.")
    whole = np.isfinite(values).all(axis=1)
    rows = np.flatnonzero(visits.first & whole)
    places, count = np.unique(point[rows], return_counts=True)
    rows = rows[np.isin(point[rows], places[count > 1])]
    found, left, dof = _group_contrasts(values[rows], point[rows], group[rows])
    both = two_spreads(found, sum_squares=left, dof=dof, confidence=confidence)
    near, rho, close_shots = _short_lived(values, point, group, visits, whole, confidence)
    return Repeatability(
        random=both.base,
        common=both.extra,
        absolute=both.together(confidence=confidence),
        near=near,
        rho=rho,
        points=int(np.unique(point[rows]).size),
        groups=int(np.unique(group[rows]).size),
        visits=int(rows.size),
        close_shots=close_shots,
    )


def _group_contrasts(values: Floats, point: np.ndarray, group: np.ndarray) -> tuple[Contrasts, float, int]:
    """Group effects freed of the points, what is left of the squares, and its degrees of freedom."""
    made, left, dof = [], 0.0, 0
    for rows in apart(point, group):
        found, squares, free = _of_one(values[rows], _numbered(point[rows]), _numbered(group[rows]))
        made.append(found)
        left, dof = left + squares, dof + free
    return joined(made), left, dof


def _of_one(values: Floats, point: Integers, group: Integers) -> tuple[Contrasts, float, int]:
    """As `_group_contrasts`, of rows that hang together."""
    points, groups, axes = point.max() + 1, group.max() + 1, values.shape[1]
    seen = np.zeros((points, groups))
    np.add.at(seen, (point, group), 1.0)
    share = seen / seen.sum(axis=1, keepdims=True)
    pattern = np.diag(seen.sum(axis=0)) - seen.T @ share
    freed = _freed(values, point)
    sums = np.zeros((groups, axes))
    np.add.at(sums, group, freed)
    size, turn = np.linalg.eigh(pattern)
    held = size > 1e-9 * max(float(size.max()), 1.0)
    z = (turn[:, held].T @ sums) / np.sqrt(size[held])[:, None]
    left = max(float(np.sum(freed**2) - np.sum(z**2)), 0.0)
    dof = axes * (values.shape[0] - int(points) - int(held.sum()))
    return Contrasts(value=z.ravel(), multiplier=np.repeat(size[held], axes)), left, dof


def _short_lived(
    values: Floats, point: np.ndarray, group: np.ndarray, visits: Visits, whole: Booleans, confidence: float
) -> tuple[Estimate, Estimate, int]:
    rows = np.flatnonzero((visits.first | visits.close) & whole)
    if rows.size == 0:
        return UNKNOWN, UNKNOWN, 0
    visit = _numbered(visits.visit[rows])
    shots = np.bincount(visit)
    axes = values.shape[1]
    freed = _freed(values[rows], visit)
    squares, dof = float(np.sum(freed**2)), axes * int((shots - 1).sum())
    near = spread_estimate(squares, dof, confidence=confidence)
    close_shots = int((shots - 1).sum())
    head = rows[np.unique(visit, return_index=True)[1]]  # any row of a visit knows its point and group
    places, count = np.unique(point[head], return_counts=True)
    use = np.isin(point[head], places[count > 1])
    if dof == 0 or use.sum() < 2:
        return near, UNKNOWN, close_shots
    mean = values[rows[0]] + _means(values[rows] - values[rows[0]], visit)
    of, by = point[head][use], group[head][use]
    pieces = apart(of, by)
    together = joined([_of_visits(mean[use][rows], of[rows], by[rows], shots[use][rows]) for rows in pieces])
    wide, narrow = (
        exact_ratio(together, sum_squares=squares, dof=dof, confidence=each) for each in (confidence, ONE_SIGMA)
    )
    value, low, high, near_low, near_high = (
        ratio / (1 + ratio) for ratio in (wide.value, wide.low, wide.high, narrow.low, narrow.high)
    )
    return near, Estimate(value=value, se=(near_high - near_low) / 2, low=low, high=high, dof=wide.dof), close_shots


def _of_visits(mean: Floats, point: np.ndarray, group: np.ndarray, shots: Integers) -> Contrasts:
    """Means of visits that hang together, freed of points and groups."""
    place, session = _numbered(point), _numbered(group)
    fixed = np.column_stack([np.eye(place.max() + 1)[place], np.eye(session.max() + 1)[session]])
    return contrasts(_freed(mean, place), fixed=fixed, base=np.diag(1.0 / shots), extra=np.eye(len(shots)))


def _by_class(kind: Integers, squares: Floats, classes: int) -> tuple[Integers, Floats]:
    used = np.isfinite(squares) & (kind >= 0) & (kind < classes)
    count = np.bincount(kind[used], minlength=classes)
    total = np.bincount(kind[used], weights=squares[used], minlength=classes)
    return count, np.where(count > 0, np.sqrt(total / np.maximum(count, 1) / 2), nan)


def _freed(values: Floats, label: Integers) -> Floats:
    """Values less the mean of their label, exact to the last digits of large coordinates."""
    values = values - values[0]
    return values - _means(values, label)[label]


def _means(values: Floats, label: Integers) -> Floats:
    sums = np.zeros((label.max() + 1, values.shape[1]))
    np.add.at(sums, label, values)
    return sums / np.bincount(label)[:, None]


def _numbered(labels: np.ndarray) -> Integers:
    return np.unique(labels, return_inverse=True)[1].ravel()


def _table(
    point: ArrayLike, time: ArrayLike, easting: ArrayLike, northing: ArrayLike, elevation: ArrayLike
) -> tuple[np.ndarray, Floats, Floats]:
    point, time = np.asarray(point), np.asarray(time, dtype=np.float64)
    columns = [np.asarray(each, dtype=np.float64) for each in (easting, northing, elevation)]
    if any(each.shape != point.shape for each in (time, *columns)):
        raise GeometryInputError("point, time, easting, northing and elevation differ in length.")
    return point, time, np.column_stack(columns)
