"""Who shares an error: the covariance of residuals, and where in a group something may have changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats


def covariance(random: ArrayLike, shared: Sequence[tuple[ArrayLike, ArrayLike]] = ()) -> Floats:
    """Covariance of observations with random parts and parts that groups share.

    Parameters
    ----------
    random : (n,) array
        1 sigma of what each has for itself.
    shared : sequence of (group, u)
        For each sharing: (n,) int array of the group (-1: none) and (n,) array of 1 sigma.

    Returns
    -------
    (n, n) float64 array

    Examples
    --------
    >>> covariance([1.0, 1.0], [([0, 0], [2.0, 2.0])]).tolist()
    [[5.0, 4.0], [4.0, 5.0]]
    """
    made = np.diag(np.asarray(random, dtype=np.float64) ** 2)
    for group, u in shared:
        group, u = np.asarray(group), np.nan_to_num(np.asarray(u, dtype=np.float64))
        made += np.where((group[:, None] == group[None, :]) & (group >= 0)[:, None], np.outer(u, u), 0.0)
    return made


def onsets(group: ArrayLike, order: ArrayLike) -> Iterator[tuple[int, int, np.ndarray]]:
    """Change points: every way in which the end of a group, from some member on, may differ.

    Parameters
    ----------
    group : (n,) int array
        -1 for a member of none.
    order : (n,) array
        What runs with time.

    Yields
    ------
    (group, member, (n,) bool array)
        The group, the first member affected, and all affected; the whole group comes first.

    Examples
    --------
    >>> [(g, first, mask.tolist()) for g, first, mask in onsets([0, 0, 1], [5.0, 3.0, 1.0])]
    [(0, 1, [True, True, False]), (0, 0, [True, False, False]), (1, 2, [False, False, True])]
    """
    group, order = np.asarray(group), np.asarray(order)
    for name in np.unique(group[group >= 0]).tolist():
        members = np.flatnonzero(group == name)
        members = members[np.argsort(order[members], kind="stable")]
        for place, first in enumerate(members.tolist()):
            mask = np.zeros(group.shape, dtype=bool)
            mask[members[place:]] = True
            yield name, first, mask
