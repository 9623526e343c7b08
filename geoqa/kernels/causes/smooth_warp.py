"""A smooth field over the plan, known from what it is at some places: a warp of elevations, whatever made it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats

SMOOTH = 0.5
"""Length over which a warp changes (1 sigma of its correlation), as a share of the extent of the marks: what tilts,
bends and twists a site. What changes faster is not told from single marks."""
_LEAST = 1e-8  # of the largest share of the field: smaller ones are rounding


@dataclass(frozen=True, kw_only=True, eq=False)
class Warp:
    """A normal random field of unit variance, by its values at anchors.

    Attributes
    ----------
    anchors : (m, 2) float64
    length : float
        1 sigma of its correlation, a normal curve of the distance.
    root : (m, k) float64
        Brings correlations with the anchors to independent sizes of unit variance.
    """

    anchors: Floats
    length: float
    root: Floats

    @classmethod
    def over(cls, anchors: ArrayLike, *, share: float = SMOOTH) -> Warp:
        """Field that is smooth over a share of the extent of its anchors.

        Parameters
        ----------
        anchors : (m, 2) array
            At least two different places.
        share : float

        Examples
        --------
        The field at its anchors has unit variance, and is known there:

        >>> warp = Warp.over([[0.0, 0.0], [500.0, 0.0], [1000.0, 20.0]])
        >>> np.round(np.sum(warp.columns(warp.anchors) ** 2, axis=1), 3).tolist()
        [1.0, 1.0, 1.0]
        """
        places = np.asarray(anchors, dtype=np.float64)
        length = share * float(_apart(places, places).max())
        value, vector = np.linalg.eigh(_alike(places, places, length))
        kept = value > _LEAST * value[-1]
        return cls(anchors=places, length=length, root=vector[:, kept] / np.sqrt(value[kept]))

    def columns(self, points: ArrayLike) -> Floats:
        """Field at points for one unit of each size, (n, k); points (n, 2)."""
        return _alike(np.asarray(points, dtype=np.float64), self.anchors, self.length) @ self.root

    def unknown(self, points: ArrayLike) -> Floats:
        """1 sigma of the field between its anchors, were it twice as wavy as it is taken to be, (n,); at most 1.

        Examples
        --------
        >>> warp = Warp.over([[0.0, 0.0], [500.0, 0.0], [1000.0, 20.0]])
        >>> np.round(warp.unknown([[500.0, 0.0], [250.0, 0.0], [5000.0, 0.0]]), 2).tolist()
        [0.0, 0.59, 1.0]
        """
        wavy = Warp.over(self.anchors, share=SMOOTH / 2)
        return np.sqrt(np.clip(1.0 - np.sum(wavy.columns(points) ** 2, axis=1), 0.0, 1.0))


def _alike(one: Floats, two: Floats, length: float) -> Floats:
    """Correlation of the field at places, (n, m)."""
    return np.exp(-0.5 * (_apart(one, two) / length) ** 2)


def _apart(one: Floats, two: Floats) -> Floats:
    return np.hypot(*(one[:, None, :] - two[None, :, :]).transpose(2, 0, 1))
