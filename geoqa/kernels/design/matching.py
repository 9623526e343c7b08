"""Which design line or point a shot belongs to, and how sure that is.

A cost is like a chi-square: a candidate is ``exp(-cost / 2)`` as likely as one that costs nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

SURE = 0.95
"""Probability from which a candidate is chosen without a question."""

_MANY = 40  # a cluster with more shots is told apart shot by shot, not by all rival assignments


@dataclass(frozen=True, kw_only=True, eq=False)
class Choice:
    """One row a candidate.

    Attributes
    ----------
    odds : float64
        Probability of this candidate among those of its shot; they sum to 1.
    chosen : bool
        The candidate to be judged; at most one a shot.
    ambiguous : bool
        No candidate of this shot is likely enough to be chosen without asking.
    """

    odds: Floats
    chosen: Booleans
    ambiguous: Booleans


def choose(point: ArrayLike, cost: ArrayLike, *, values: ArrayLike | None = None, alike: float = 0.0) -> Choice:
    """Weigh the candidates of every shot.

    Parameters
    ----------
    point : (c,) int array
        Shot of each candidate; does not decrease.
    cost : (c,) array
        Dimensionless, not NaN.
    values : (c, k) array, optional
        The numbers that will be judged with each candidate. A rival that gives the same numbers
        is no rival: where two lines meet end to end the choice between them changes nothing.
    alike : float
        Largest difference between numbers that count as the same, in their unit.

    Returns
    -------
    Choice

    Raises
    ------
    GeometryInputError
        If the arrays do not fit each other.

    Examples
    --------
    A shot near one line, and one midway between two.

    >>> found = choose([0, 0, 1, 1], [0.1, 14.0, 4.0, 4.0])
    >>> found.odds.round(3).tolist(), found.chosen.tolist(), found.ambiguous.tolist()
    ([0.999, 0.001, 0.5, 0.5], [True, False, False, False], [False, False, True, True])
    """
    point, cost = np.asarray(point, dtype=np.int64), np.asarray(cost, dtype=np.float64)
    if point.shape != cost.shape or point.ndim != 1 or np.any(np.diff(point) < 0) or np.isnan(cost).any():
        raise GeometryInputError("Candidates need a shot and a cost in each row, sorted by shot, and no cost missing.")
    if not len(point):
        return Choice(odds=np.zeros(0), chosen=np.zeros(0, bool), ambiguous=np.zeros(0, bool))
    first = np.flatnonzero(np.append(True, np.diff(point) > 0))
    of = np.cumsum(np.append(False, np.diff(point) > 0))
    least = np.minimum.reduceat(cost, first)
    odds = np.exp((least[of] - cost) / 2)
    odds /= np.add.reduceat(odds, first)[of]

    # the first of the cheapest stands for its shot
    row = np.arange(len(point))
    best = np.minimum.reduceat(np.where(cost == least[of], row, len(row)), first)
    same = row == best[of]
    if values is not None:
        values = np.asarray(values, dtype=np.float64).reshape(len(point), -1)
        difference = np.abs(values - values[best[of]])
        both_missing = np.isnan(values) & np.isnan(values[best[of]])
        same |= ((difference <= alike) | both_missing).all(axis=1)
    sure = np.add.reduceat(np.where(same, odds, 0.0), first) >= SURE
    return Choice(odds=odds, chosen=(row == best[of]) & sure[of], ambiguous=~sure[of])


def string_penalty(
    point: ArrayLike, line: ArrayLike, cost: ArrayLike, string: ArrayLike, *, most: float = 6.0, cap: float = 25.0
) -> Floats:
    """Extra cost of lines that the other shots of the same string do not prefer.

    Parameters
    ----------
    point, line, cost : (c,) arrays
        Candidates: shot, line and own cost.
    string : (c,) int array
        String of the candidate's shot; -1 for a shot that belongs to none.
    most : float
        Largest penalty. It tips an even choice, and never overrules a clear one.
    cap : float
        Cost above which one shot's distance from a line says no more; also the cost of a line
        that is out of reach of that shot.

    Returns
    -------
    (c,) float64 array
        0 for the line that the others like best; a single neighbour counts half.

    Raises
    ------
    GeometryInputError
        If the arrays do not fit each other.

    Examples
    --------
    The third shot lies midway; its neighbours lie on line 0.

    >>> string_penalty([0, 0, 1, 1, 2, 2], [0, 1] * 3, [0, 16, 0, 16, 4, 4], [5] * 6).round(1).tolist()
    [0.0, 6.0, 0.0, 6.0, 0.0, 6.0]
    """
    point, line, string = (np.asarray(each, dtype=np.int64) for each in (point, line, string))
    cost = np.asarray(cost, dtype=np.float64)
    if not point.shape == line.shape == string.shape == cost.shape or point.ndim != 1:
        raise GeometryInputError("Candidates need a shot, a line, a cost and a string in each row.")
    penalty = np.zeros(len(point))
    rows = np.flatnonzero(string >= 0)
    if not len(rows):
        return penalty
    point, line, string, cost = point[rows], line[rows], string[rows], np.minimum(cost[rows], cap)
    _, string = np.unique(string, return_inverse=True)
    shots = np.bincount(np.unique(np.column_stack([string, point]), axis=0)[:, 0])
    key = string * (line.max() + 1) + line
    _, pair = np.unique(key, return_inverse=True)
    # a shot out of reach of the line adds the cap; the shot itself has no say
    others = shots[string] - 1
    total = np.bincount(pair, cost)[pair] + cap * (shots[string] - np.bincount(pair)[pair]) - cost
    mean = np.divide(total, others, out=np.zeros(len(rows)), where=others > 0)
    order = np.argsort(point, kind="stable")
    first = np.flatnonzero(np.append(True, np.diff(point[order]) > 0))
    of = np.empty(len(rows), dtype=np.int64)
    of[order] = np.cumsum(np.append(False, np.diff(point[order]) > 0))
    least = np.minimum.reduceat(mean[order], first)[of]
    penalty[rows] = np.minimum((mean - least) * np.minimum(others / 2, 1.0), most)
    return penalty


def assign(
    shot: ArrayLike, place: ArrayLike, cost: ArrayLike, *, repeat: float, closed: ArrayLike = False
) -> tuple[Booleans, Floats]:
    """Match every shot to a place, one to one where that is cheaper than calling a shot a repeat.

    Parameters
    ----------
    shot, place : (c,) int arrays
        Candidate pairs, each at most once.
    cost : (c,) array
        Of the pair.
    repeat : float
        Added cost of a shot that shares its place with another.
    closed : bool or (c,) bool array
        The place is taken already: the shot can only be a repeat there.

    Returns
    -------
    taken : (c,) bool array
        One pair for every shot; together they cost least.
    odds : (c,) float64 array
        For a taken pair, how likely it is against the best matching that puts its shot at
        another place; else NaN.

    Raises
    ------
    GeometryInputError
        If the arrays do not fit each other.

    Notes
    -----
    Shots and places that share no candidates are matched apart. In a cluster of more than 40
    shots the odds weigh each pair against the other candidates of its shot only.

    Examples
    --------
    Shot 1 lies nearest to place 0 too; with shot 0 there, it fits place 1.

    >>> taken, odds = assign([0, 0, 1, 1], [0, 1, 0, 1], [0.5, 30.0, 9.0, 2.0], repeat=6.0)
    >>> taken.tolist(), odds.round(3).tolist()
    ([True, False, False, True], [1.0, nan, nan, 0.998])
    """
    shot, place = np.asarray(shot, dtype=np.int64), np.asarray(place, dtype=np.int64)
    cost = np.asarray(cost, dtype=np.float64)
    if not shot.shape == place.shape == cost.shape or shot.ndim != 1 or np.isnan(cost).any():
        raise GeometryInputError("Pairs need a shot, a place and a cost in each row, and no cost missing.")
    taken, odds = np.zeros(len(shot), dtype=bool), np.full(len(shot), np.nan)
    if not len(shot):
        return taken, odds
    closed = np.broadcast_to(closed, shot.shape)
    _, shot = np.unique(shot, return_inverse=True)
    _, place = np.unique(place, return_inverse=True)
    nodes = shot.max() + place.max() + 2
    links = coo_array((np.ones(len(shot)), (shot, place + shot.max() + 1)), shape=(nodes, nodes))
    cluster = connected_components(links, directed=False)[1][shot]
    order = np.argsort(cluster, kind="stable")
    for rows in np.split(order, np.flatnonzero(np.diff(cluster[order])) + 1):
        won, likely = _assign_cluster(shot[rows], place[rows], cost[rows], repeat, closed[rows])
        taken[rows[won]], odds[rows[won]] = True, likely
    return taken, odds


def _assign_cluster(
    shot: Integers, place: Integers, cost: Floats, repeat: float, closed: Booleans
) -> tuple[Integers, Floats]:
    """Pair of every shot of a cluster, in the order of the shots, and its odds."""
    from scipy.optimize import linear_sum_assignment

    shots, at = np.unique(shot, return_inverse=True)
    places, to = np.unique(place, return_inverse=True)
    never = (cost.max() + repeat + 1.0) * (len(shots) + 1) * 2
    alone = np.full((len(shots), len(places)), never)  # cost of each pair, closed or not
    alone[at, to] = cost
    pair = np.full(alone.shape, -1)
    pair[at, to] = np.arange(len(cost))
    # a column for each place, and one for each shot in case it is a repeat at its nearest place
    table = np.full((len(shots), len(places) + len(shots)), never)
    table[at[~closed], to[~closed]] = cost[~closed]
    own = len(places) + np.arange(len(shots))
    table[np.arange(len(shots)), own] = alone.min(axis=1) + repeat
    row, column = linear_sum_assignment(table)
    best = table[row, column].sum()
    where = np.where(column < len(places), column, alone.argmin(axis=1))
    odds = np.ones(len(shots))
    for one, here in enumerate(where):
        others = alone[one].copy()
        others[here] = never
        if others.min() >= never:
            continue
        if len(shots) > _MANY:
            odds[one] = 1 / np.exp((alone[one, here] - alone[one][alone[one] < never]) / 2).sum()
            continue
        rival = table.copy()
        rival[one, here], rival[one, own[one]] = never, others.min() + repeat
        again = rival[linear_sum_assignment(rival)].sum()
        odds[one] = 1 / (1 + np.exp(min((best - again) / 2, 700.0)))
    return pair[np.arange(len(shots)), where], odds
