"""How uncertain a number is that is made of the coordinates of several shots: a slope, a width, a fall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Combined:
    """The two parts of the uncertainty of numbers.

    Attributes
    ----------
    u_random, u_common : (m,) float64 array
        1 sigma; NaN where that of a shot that counts is not known.
    """

    u_random: Floats
    u_common: Floats


def combined(weights: ArrayLike, random: ArrayLike, common: ArrayLike, group: ArrayLike) -> Combined:
    """Uncertainty of linear combinations of shots.

    Parameters
    ----------
    weights : (m, k) array
        How much each number changes by a change of each of its shots; 0 for none. The shot counts where it is not 0.
    random : (m, k) array
        1 sigma that each shot has for itself.
    common : (m, k) array
        1 sigma that each shot shares with all of its group.
    group : (m, k) int array
        Session, or whatever else shares an error; -1 for a shot that shares it with no other one.

    Returns
    -------
    Combined

    Raises
    ------
    GeometryInputError
        Arrays of different shape, or not of two dimensions.

    Notes
    -----
    Propagation of uncertainty, JCGM 100:2008 (GUM) 5.2.2, with a correlation of 1 between the common parts of one group
    and of 0 between everything else: random² = Σ (w u)², common² = Σ over groups (Σ w u)². What a session shares so
    cancels in a difference of two of its shots, and does not between two sessions.

    Examples
    --------
    Two shots 5 ft apart, 0.02 ft random, a session bias of 0.05 ft: the cross slope does not feel the bias.

    >>> one = combined([[0.2, -0.2]], [[0.02, 0.02]], [[0.05, 0.05]], [[0, 0]])
    >>> two = combined([[0.2, -0.2]], [[0.02, 0.02]], [[0.05, 0.05]], [[0, 1]])
    >>> one.u_random.round(5).tolist(), one.u_common.round(5).tolist(), two.u_common.round(5).tolist()
    ([0.00566], [0.0], [0.01414])
    """
    weights, random, common = (np.asarray(each, dtype=np.float64) for each in (weights, random, common))
    group = np.asarray(group, dtype=np.int64)
    if weights.ndim != 2 or not weights.shape == random.shape == common.shape == group.shape:
        raise GeometryInputError(
            f"weights {weights.shape}, random {random.shape}, common {common.shape} and group {group.shape} differ."
        )
    counts = weights != 0
    own = np.where(counts, weights * random, 0.0)
    shared = np.where(counts, weights * common, 0.0)
    # each group of each number is summed once; a shot that shares nothing is a group of its own
    count = weights.shape[1]
    code = np.where(group < 0, np.arange(count), count + group)
    width = int(code.max(initial=0)) + 1
    key, which = np.unique((np.arange(len(weights))[:, None] * width + code)[counts], return_inverse=True)
    with np.errstate(over="ignore"):
        sums = np.bincount(which, shared[counts], minlength=len(key)) ** 2
    total = np.bincount(key // width, sums, minlength=len(weights))
    # shots of one place give a slope no length to stand on: its uncertainty is beyond all numbers
    with np.errstate(over="ignore"):
        return Combined(u_random=np.sqrt(np.sum(own**2, axis=1)), u_common=np.sqrt(total))
