"""Means of runs with honest bounds: errors that last from shot to shot, and the choice of the run.

A run stands where shots lie to one side, and errors lie to one side too: now and then a run of sound work is found
because its errors agree. Its mean is then farther off than the law of propagation says. And shots seconds apart share
a part of their errors, which their number does not wear down.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import expit, ndtr

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats, Integers
from geoqa.kernels.design.runs import Runs

LASTING = 20.0
"""Minutes in which what lasts of a shot's error falls to 1/e. Common practice, no source."""

BEFORE = 10
"""Differences of neighbours that weigh as much as what is taken before any is known: half of the variance lasts."""

LEAST_WANDER = 1 / 16
"""Least wander of sound work, 1 sigma in limits, and the one taken while none is proven. Common practice, no source."""

DEEPEST = 4.0
"""Limits on either side of the design within which a defect is as likely anywhere. Common practice, no source."""

_QUARTILE = 1.3233036969314664  # upper quartile of chi-square with one degree of freedom: a quarter may be steps
_HALF = 0.5
_WITHIN_2 = float(ndtr(2.0) - ndtr(-2.0))
_HALVINGS = 50
_OF_SPREAD = 2.33  # scatter of a variance by the median absolute deviation, for one normal shot, over that variance
_ONE_SIDED_95 = 1.6448536269514722


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
    extreme : int64
        Place of the member farthest to the side of the mean.
    u_choice : float64
        Part of u_random that comes of the choice of the run; 0 where it was not asked for.
    lasting : float
        Share of the members' own variance taken to last from shot to shot.
    """

    shots: Integers
    mean: Floats
    u_random: Floats
    u_common: Floats
    weight: Floats
    extreme: Integers
    u_choice: Floats
    lasting: float


def means_of_runs(
    run: ArrayLike,
    deviation: ArrayLike,
    u_random: ArrayLike,
    u_common: ArrayLike,
    group: ArrayLike,
    *,
    minutes: ArrayLike | None = None,
    lasting: float = 0.0,
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
    minutes : (m,) array, optional
        Time of each; a group of a run with an unknown time counts as one moment, as all do without times.
    lasting : float
        Share of the random variance that lasts (`lasting_share`), 0 to 1.

    Returns
    -------
    Means
        Weights go with 1 / u_random², equal where one of a run is 0. The random part falls with the
        number of members but for what lasts; the common part only with the number of groups.

    Raises
    ------
    GeometryInputError
        If the arrays do not fit each other, or the share is none.

    Notes
    -----
    By the law of propagation of uncertainty with weights w (JCGM 100:2008, 5.2): u_common² = sum over groups of (sum of
    w u_common)², errors of one group fully correlated. u_random² = (1 - s) sum(w² u_random²) + s times the sum over
    pairs of one group of w u_random of either, times exp(-|time between| / `LASTING`), with s the share that lasts.

    Examples
    --------
    >>> four = [0] * 4, [-0.32, -0.24, -0.18, -0.13], [0.02] * 4, [0.02] * 4, [7] * 4
    >>> found = means_of_runs(*four)
    >>> found.mean.round(4).tolist(), np.hypot(found.u_random, found.u_common).round(4).tolist()
    ([-0.2175], [0.0224])

    Seconds apart, with errors that last in full, four are no better than one.

    >>> means_of_runs(*four, minutes=[0.0, 0.5, 1.0, 1.5], lasting=1.0).u_random.round(4).tolist()
    [0.0197]
    """
    run, group = np.asarray(run, dtype=np.int64), np.asarray(group, dtype=np.int64)
    deviation, u_random, u_common = (np.asarray(each, dtype=np.float64) for each in (deviation, u_random, u_common))
    time = np.zeros(run.shape) if minutes is None else np.asarray(minutes, dtype=np.float64)
    shapes = {each.shape for each in (run, group, deviation, u_random, u_common, time)}
    if len(shapes) > 1 or np.any(np.diff(run) < 0):
        raise GeometryInputError("Runs, deviations, uncertainties and groups need one row a member, sorted by run.")
    if not 0 <= lasting <= 1:
        raise GeometryInputError(f"A share of {lasting} of the variance cannot last; give one from 0 to 1.")
    shots = np.bincount(run)
    count = len(shots)

    def total(values: np.ndarray) -> np.ndarray:
        return np.bincount(run, values, count)

    exact = total(~(u_random > 0))[run] > 0
    weight = np.where(exact, 1.0, 1 / np.where(exact, 1.0, u_random) ** 2)
    weight = weight / total(weight)[run]
    pair, member = np.unique(np.column_stack([run, group]), axis=0, return_inverse=True)
    member = member.ravel()
    common = np.bincount(member, weight * u_common, len(pair))
    alone = total((weight * u_random) ** 2)
    shared = np.bincount(pair[:, 0], _lasting_variance(member, weight * u_random, time, len(pair)), count)
    mean = total(weight * deviation)
    toward = deviation * np.where(mean < 0, -1.0, 1.0)[run]
    ranked = np.lexsort((np.arange(len(run)), -toward, run))
    return Means(
        shots=shots,
        mean=mean,
        u_random=np.sqrt((1 - lasting) * alone + lasting * shared),
        u_common=np.sqrt(np.bincount(pair[:, 0], common**2, count)),
        weight=weight,
        extreme=ranked[np.cumsum(shots) - shots],
        u_choice=np.zeros(count),
        lasting=lasting,
    )


def bounded_means(
    found: Runs,
    *,
    line: ArrayLike,
    station: ArrayLike,
    deviation: ArrayLike,
    u_random: ArrayLike,
    u_common: ArrayLike,
    group: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    minutes: ArrayLike | None = None,
    lasting: float | None = None,
) -> Means:
    """Means of runs with bounds that know what lasts from shot to shot, and that the runs were chosen.

    Parameters
    ----------
    found : Runs
        Of `find_runs`, from these arrays.
    line, group : (n,) int array
        Line of all shots that runs were sought among, and what shares errors (session, set-up).
    station, deviation, u_random, u_common : (n,) arrays
        Along the line; deviation; random and common part of its standard uncertainty (1 sigma); one unit.
    lower, upper : float or (n,) array
        Limits on the deviation.
    minutes : (n,) array, optional
        Time of each.
    lasting : float, optional
        Share of the random variance that lasts; learned from neighbours (`lasting_share`) if not given.

    Returns
    -------
    Means
        `u_random` holds the choice: with `u_common` it makes the u of `chosen_u`.

    Raises
    ------
    GeometryInputError
        If the share is none.

    Examples
    --------
    >>> from geoqa.kernels.design.runs import find_runs
    >>> low = [0.01, -0.01, -0.12, -0.10, -0.13, -0.11, 0.02, 0.0]
    >>> shots = dict(line=[0] * 8, station=range(0, 200, 25), deviation=low)
    >>> limits, u = dict(lower=-0.08, upper=0.08), dict(u_random=[0.02] * 8, u_common=[0.0] * 8)
    >>> found = find_runs(*shots.values(), [0.02] * 8, **limits, reach_between=50)
    >>> told = bounded_means(found, **shots, **limits, **u, group=[0] * 8, lasting=0.0)
    >>> told.mean.round(3).tolist(), told.u_random.round(3).tolist(), low[found.row[told.extreme[0]]]
    ([-0.115], [0.01], -0.13)
    """
    where = np.asarray(line)
    value, own, common = (np.asarray(each, dtype=np.float64) for each in (deviation, u_random, u_common))
    low, high = (np.broadcast_to(np.asarray(each, dtype=np.float64), value.shape) for each in (lower, upper))
    shares, row = np.asarray(group), found.row
    time = None if minutes is None else np.asarray(minutes, dtype=np.float64)
    if lasting is None:
        lasting = lasting_share(where, station, value, own, shares, minutes=time)
    means = means_of_runs(
        found.run, value[row], own[row], common[row], shares[row],
        minutes=None if time is None else time[row], lasting=lasting,
    )  # fmt: skip
    first = row[np.cumsum(means.shots) - means.shots]
    limit = np.where(found.side > 0, high[first], -low[first])
    either = np.fmin(np.where(high > 0, high, np.nan), np.where(low < 0, -low, np.nan))
    u = np.hypot(means.u_random, means.u_common)
    searched = np.full(len(u), np.count_nonzero(np.isfinite(value) & np.isfinite(own)))
    wander = limit * usual_wander(value, own, shares, either)
    whole = chosen_u(means.mean, u, means.shots, limit=limit, searched=searched, wander=wander)
    choice = np.sqrt(np.maximum(whole**2 - u**2, 0.0))
    return replace(means, u_random=np.hypot(means.u_random, choice), u_choice=choice)


def _lasting_variance(group: Integers, part: Floats, minutes: Floats, count: int) -> Floats:
    """Variance of the sum of parts of each group if all of it lasts.

    In the order of time, what all earlier ones share with the next falls by one factor from one to the next.
    """
    unknown = np.bincount(group, ~np.isfinite(minutes), count) > 0
    minutes = np.where(unknown[group], 0.0, minutes)
    order = np.lexsort((minutes, group))
    group, part, minutes = group[order], part[order], minutes[order]
    falls = np.zeros(len(group))
    falls[1:] = np.where(np.diff(group) == 0, np.exp(-np.maximum(np.diff(minutes), 0.0) / LASTING), 0.0)
    carried, held = np.empty(len(group)), 0.0
    previous = 0.0
    for place, (fall, own) in enumerate(zip(falls.tolist(), part.tolist(), strict=True)):
        held = fall * (previous + held)
        carried[place] = held
        previous = own
    return np.asarray(np.bincount(group, part * (part + 2 * carried), count), dtype=np.float64)


def lasting_share(
    line: ArrayLike,
    station: ArrayLike,
    deviation: ArrayLike,
    u_random: ArrayLike,
    group: ArrayLike,
    *,
    minutes: ArrayLike | None = None,
) -> float:
    """Share of the shots' own variance that lasts from shot to shot, as neighbours along lines tell it.

    Parameters
    ----------
    line, group : (n,) int array
        Line a shot belongs to, and what shares errors with it (session, set-up).
    station, deviation, u_random : (n,) arrays
        Along the line; deviation from the design; stated random part (1 sigma).
    minutes : (n,) array, optional
        Time of each; neighbours whose time is unknown count as of one moment.

    Returns
    -------
    float
        From 0 to 1.

    Notes
    -----
    Neighbours differ by what does not last: the variance of a difference is 2 u² (1 - s exp(-t / `LASTING`)). The upper
    quartile of the squared differences stands for it, so that a quarter of them may be steps of the work. Work that is
    rough makes the share come out too small; a stated u that is too large makes it too large, and the bounds too wide.
    Before anything is measured it is one half, with the weight of `BEFORE` differences.

    Examples
    --------
    Neighbours that differ by far less than their uncertainty share what they are off by.

    >>> wave = 0.03 * np.sin(np.arange(200) / 20)
    >>> round(lasting_share([0] * 200, range(200), wave, [0.02] * 200, [0] * 200), 2)
    0.97
    >>> white = np.random.default_rng(1).normal(0, 0.02, 2000)
    >>> round(lasting_share([0] * 2000, range(2000), white, [0.02] * 2000, [0] * 2000), 1)
    0.0
    """
    line, group = np.asarray(line), np.asarray(group)
    along, value, own = (np.asarray(each, dtype=np.float64) for each in (station, deviation, u_random))
    time = np.zeros(line.shape) if minutes is None else np.asarray(minutes, dtype=np.float64)
    usable = np.flatnonzero(np.isfinite(along) & np.isfinite(value) & (own > 0))
    order = usable[np.lexsort((value[usable], along[usable], line[usable]))]
    line, group, value, own, time = (each[order] for each in (line, group, value, own, time))
    apart = np.nan_to_num(np.abs(np.diff(time)))
    near = (line[1:] == line[:-1]) & (group[1:] == group[:-1]) & (apart < LASTING)
    squares = (np.diff(value) ** 2 / (own[1:] ** 2 + own[:-1] ** 2))[near]
    if not len(squares):
        return _HALF
    kept = float(np.exp(-apart[near] / LASTING).mean())
    seen = float(np.clip((1 - float(np.quantile(squares, 0.75)) / _QUARTILE) / kept, 0.0, 1.0))
    return (len(squares) * seen + BEFORE * _HALF) / (len(squares) + BEFORE)


def usual_wander(deviation: ArrayLike, u_random: ArrayLike, group: ArrayLike, limit: ArrayLike) -> float:
    """Wander of sound work about its design, 1 sigma, in shares of the limit.

    Parameters
    ----------
    deviation, u_random, limit : (n,) arrays
        Deviations, stated random part (1 sigma), and half the distance of the limits.
    group : (n,) int array
        What shares errors (session, set-up): its median falls out.

    Returns
    -------
    float
        `LEAST_WANDER` to a quarter: what is no defect lies within half the limit.

    Notes
    -----
    Robust variance (median absolute deviation) of each group, less that of the shots themselves and less what chance
    may add to it (95 %): too large a wander would let a run by luck look like a place that was really off a little.

    Examples
    --------
    >>> built = 0.01 * np.sin(np.arange(400) / 9) + np.random.default_rng(1).normal(0.05, 0.02, 400)
    >>> round(usual_wander(built, [0.02] * 400, [0] * 400, [0.08] * 400), 2)
    0.06
    """
    value, own, most = (np.asarray(each, dtype=np.float64) for each in (deviation, u_random, limit))
    group = np.asarray(group)
    usable = np.flatnonzero(np.isfinite(value) & np.isfinite(own) & np.isfinite(most) & (most > 0))
    seen, doubt, shots = 0.0, 0.0, 0
    for each in np.unique(group[usable]):
        mine = usable[group[usable] == each]
        share = value[mine] / most[mine]
        spread = (1.482602218505602 * np.median(np.abs(share - np.median(share)))) ** 2
        seen += len(mine) * (spread - np.median((own[mine] / most[mine]) ** 2))
        doubt += len(mine) * (_OF_SPREAD * float(spread)) ** 2
        shots += len(mine)
    proven = (seen - _ONE_SIDED_95 * np.sqrt(doubt)) / shots if shots else 0.0
    return float(np.sqrt(np.clip(proven, LEAST_WANDER**2, (_HALF / 2) ** 2)))


def chosen_u(
    mean: ArrayLike,
    u: ArrayLike,
    shots: ArrayLike,
    *,
    limit: ArrayLike,
    searched: ArrayLike,
    wander: ArrayLike,
) -> Floats:
    """Standard uncertainty of the mean of a run that was chosen among all stretches searched.

    Parameters
    ----------
    mean, u : (k,) arrays
        Mean of the run, and its standard uncertainty by propagation.
    shots : (k,) int array
        Members.
    limit : (k,) array
        Limit on the side of the run, positive.
    searched : (k,) int array
        Shots that runs were sought among.
    wander : (k,) array
        1 sigma of sound work about its design.

    Returns
    -------
    (k,) array
        Half of what holds the true mean to either side with the chance of 2 sigma; never less than u.

    Notes
    -----
    Two explanations of a run are weighed. Sound work: the true mean scatters by `wander` about the design, and there
    were ``searched / shots`` stretches that could have come out so. A defect: one in a job, as likely anywhere within
    `DEEPEST` limits. The chance of the first is Efron's local false discovery rate (Large-Scale Inference, 2010,
    chapter 5). Under it the truth is expected nearer to the design; the bounds are those of both, so weighed. They
    are given about the mean as measured, which is reported as it is.

    Examples
    --------
    Five shots 0.12 ft low stand by themselves; at 0.06 ft, among 600 shots, they may be luck, and the bounds reach
    back to the design.

    >>> told = dict(limit=[0.08] * 2, searched=[600] * 2, wander=[0.005] * 2)
    >>> chosen_u([-0.12, -0.06], [0.02, 0.02], [5, 5], **told).round(3).tolist()
    [0.02, 0.032]
    """
    size, u = np.abs(np.asarray(mean, dtype=np.float64)), np.asarray(u, dtype=np.float64)
    limit, wander = np.asarray(limit, dtype=np.float64), np.asarray(wander, dtype=np.float64)
    stretches = np.maximum(np.asarray(searched, dtype=np.float64) / np.asarray(shots), 1.0)
    known = np.isfinite(u) & (u > 0) & np.isfinite(limit) & (limit > 0)
    spread = np.where(known, np.hypot(u, wander), 1.0)
    by_luck = np.log(stretches) - (size / spread) ** 2 / 2 - np.log(spread * np.sqrt(2 * np.pi))
    luck = expit(by_luck + np.log(2 * DEEPEST * np.where(known, limit, 1.0)))
    nearer = size * (u / spread) ** 2
    left = np.maximum(u * wander / spread, 1e-9 * spread)
    low, high = np.where(known, 2 * u, 0.0), np.where(known, 2 * u + nearer + 10 * left, 0.0)
    width = np.where(known, u, 1.0)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        sound = ndtr((middle - nearer) / left) - ndtr((-middle - nearer) / left)
        held = luck * sound + (1 - luck) * (2 * ndtr(middle / width) - 1)
        low, high = np.where(held < _WITHIN_2, middle, low), np.where(held < _WITHIN_2, high, middle)
    return np.asarray(np.where(known, np.maximum(high / 2, u), u))
