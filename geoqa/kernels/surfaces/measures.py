"""Lengths and areas of chains of shots in plan, and how much each changes with each of its shots."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats


class Measure(NamedTuple):
    """A number, and its change by the easting and the northing of every shot, (k, 2)."""

    value: float
    gradient: Floats


def length_of(chain: ArrayLike) -> Measure:
    """Length in plan along shots.

    Parameters
    ----------
    chain : (k, 2) float64

    Returns
    -------
    Measure

    Examples
    --------
    >>> length_of([[0, 0], [3, 4], [3, 14]]).value
    15.0
    """
    chain = np.asarray(chain, dtype=np.float64).reshape(-1, 2)
    step = np.diff(chain, axis=0)
    size = np.hypot(step[:, 0], step[:, 1])
    ahead = np.divide(step, size[:, None], out=np.zeros_like(step), where=size[:, None] > 0)
    gradient = np.zeros_like(chain)
    gradient[1:] += ahead
    gradient[:-1] -= ahead
    return Measure(float(size.sum()), gradient)


def area_of(ring: ArrayLike) -> Measure:
    """Area in plan within a ring of shots, positive anticlockwise; the last one is joined to the first.

    Parameters
    ----------
    ring : (k, 2) float64

    Returns
    -------
    Measure

    Notes
    -----
    The half sum of E (N of the next - N of the one before), from a nearby origin: millions of feet squared would cost
    the digits that count.

    Examples
    --------
    >>> area_of([[0, 0], [30, 0], [30, 10], [0, 10]]).value
    300.0
    """
    ring = np.asarray(ring, dtype=np.float64).reshape(-1, 2)
    if not len(ring):
        return Measure(0.0, ring)
    local = ring - ring[0]
    across = np.roll(local, -1, axis=0) - np.roll(local, 1, axis=0)
    gradient = np.column_stack([across[:, 1], -across[:, 0]]) / 2
    return Measure(float((local[:, 0] * across[:, 1]).sum() / 2), gradient)


def felt_by(weights: ArrayLike, random: ArrayLike, common: ArrayLike, group: ArrayLike) -> tuple[float, float]:
    """Random and common part of the uncertainty of one linear measure of many shots.

    As `geoqa.kernels.precision.combination.combined`, for one number of any count of shots.

    Parameters
    ----------
    weights, random, common : (k,) float64
        Change of the measure by each shot, and 1 sigma of each for itself and shared with its group.
    group : (k,) int64
        -1 for a shot that shares it with no other one.

    Returns
    -------
    random, common : float

    Examples
    --------
    A volume over 100 square feet from four shots of one session: their own errors average out, the shared one does not.

    >>> random, common = felt_by([25.0] * 4, [0.02] * 4, [0.02] * 4, [0] * 4)
    >>> round(random, 3), round(common, 3)
    (1.0, 2.0)
    """
    weights, random, common = (np.asarray(each, dtype=np.float64) for each in (weights, random, common))
    group = np.asarray(group, dtype=np.int64)
    counts = weights != 0
    own, shared = np.where(counts, weights * random, 0.0), np.where(counts, weights * common, 0.0)
    alone = group < 0
    groups = np.bincount(group[~alone], weights=shared[~alone]) if (~alone).any() else np.zeros(0)
    return float(np.sqrt((own**2).sum())), float(np.sqrt((groups**2).sum() + (shared[alone] ** 2).sum()))
