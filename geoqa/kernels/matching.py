"""Which design line or point a shot belongs to, and how sure that is.

A cost is like a chi-square: a candidate is ``exp(-cost / 2)`` as likely as one that costs nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from geoqa.errors import GeometryInputError

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

    odds: np.ndarray
    chosen: np.ndarray
    ambiguous: np.ndarray


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
) -> np.ndarray:
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


def assign(shot: ArrayLike, place: ArrayLike, cost: ArrayLike, *, unmatched: float) -> tuple[np.ndarray, np.ndarray]:
    """Match shots and places one to one, so that the total cost is least.

    Parameters
    ----------
    shot, place : (c,) int arrays
        Candidate pairs, each at most once.
    cost : (c,) array
        Of the pair.
    unmatched : float
        Cost of a shot that is left without a place.

    Returns
    -------
    taken : (c,) bool array
        The pairs of the best matching.
    odds : (c,) float64 array
        For a taken pair, how likely it is against the best matching without it; else NaN.

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
    Both shots lie nearest to place 0; together they fit 0 and 1.

    >>> taken, odds = assign([0, 0, 1, 1], [0, 1, 0, 1], [0.5, 30.0, 2.0, 9.0], unmatched=100.0)
    >>> taken.tolist(), odds.round(3).tolist()
    ([True, False, False, True], [1.0, nan, nan, 1.0])
    """
    shot, place = np.asarray(shot, dtype=np.int64), np.asarray(place, dtype=np.int64)
    cost = np.asarray(cost, dtype=np.float64)
    if not shot.shape == place.shape == cost.shape or shot.ndim != 1 or np.isnan(cost).any():
        raise GeometryInputError("Pairs need a shot, a place and a cost in each row, and no cost missing.")
    taken, odds = np.zeros(len(shot), dtype=bool), np.full(len(shot), np.nan)
    if not len(shot):
        return taken, odds
    _, shot = np.unique(shot, return_inverse=True)
    _, place = np.unique(place, return_inverse=True)
    nodes = shot.max() + place.max() + 2
    links = coo_array((np.ones(len(shot)), (shot, place + shot.max() + 1)), shape=(nodes, nodes))
    cluster = connected_components(links, directed=False)[1][shot]
    order = np.argsort(cluster, kind="stable")
    for rows in np.split(order, np.flatnonzero(np.diff(cluster[order])) + 1):
        _assign_cluster(rows, shot, place, cost, unmatched, taken, odds)
    return taken, odds


def _assign_cluster(
    rows: np.ndarray,
    shot: np.ndarray,
    place: np.ndarray,
    cost: np.ndarray,
    unmatched: float,
    taken: np.ndarray,
    odds: np.ndarray,
) -> None:
    shots, at = np.unique(shot[rows], return_inverse=True)
    places, to = np.unique(place[rows], return_inverse=True)
    impossible = cost[rows].max() + unmatched * (len(shots) + 1) + 1e6
    # one column a shot stands for being left over
    table = np.full((len(shots), len(places) + len(shots)), unmatched)
    table[:, : len(places)] = impossible
    table[at, to] = cost[rows]
    row, column = linear_sum_assignment(table)
    best = table[row, column].sum()
    pair = np.full(table.shape, -1)
    pair[at, to] = rows
    for one, other in zip(row, column, strict=True):
        won = pair[one, other]
        if won < 0:
            continue
        taken[won] = True
        if len(shots) > _MANY:
            rivals = rows[at == one]
            odds[won] = 1 / np.exp((cost[won] - np.append(cost[rivals], unmatched)) / 2).sum()
            continue
        without = table.copy()
        without[one, other] = impossible
        again = linear_sum_assignment(without)
        odds[won] = 1 / (1 + np.exp((best - without[again].sum()) / 2))
