"""The round corner a band has outside a bend."""

from __future__ import annotations

import numpy as np

from geoqa.kernels.arrays import Floats


def bend_step(radius: np.ndarray | float, max_sagitta: float) -> np.ndarray:
    """Largest angle whose chord stays within the sagitta, at most a quarter circle.

    Examples
    --------
    >>> round(float(np.degrees(bend_step(1.0, 1 - np.cos(np.radians(10))))), 6)
    20.0
    """
    return np.minimum(4 * np.arcsin(np.sqrt(np.minimum(max_sagitta / (2 * radius), 1.0))), np.pi / 2)


def corner(vertex: Floats, arm: Floats, turn: float, max_sagitta: float) -> Floats:
    """Places (n, 2) on the circle round a vertex, from the end of its arm (2,) through a turn, left positive.

    Where a line turns straight back, each side is given its quarter of the half circle ahead.

    Examples
    --------
    >>> corner(np.zeros(2), np.array([1.0, 0.0]), np.pi / 2, 2.0).round(3).tolist()
    [[1.0, 0.0], [0.0, 1.0]]
    """
    radius = float(np.hypot(*arm))
    count = int(np.ceil(abs(turn) / bend_step(radius, max_sagitta)))
    angle = np.arctan2(arm[1], arm[0]) + turn * np.arange(count + 1) / count
    return vertex + radius * np.column_stack([np.cos(angle), np.sin(angle)])
