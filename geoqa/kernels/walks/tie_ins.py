"""Existing work ahead of the end of a line, and the step up or down to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.kernels.arrays import Floats, Integers


@dataclass(frozen=True, kw_only=True, eq=False)
class Ahead:
    """Existing work ahead of an end, the nearest first; arrays of shape (k,).

    Attributes
    ----------
    nearest : int64
        Which of the places given.
    away, along, across : float64
        Distance in plan, and its parts along the last leg and to the right of it.
    step : float64
        Elevation of the existing work less that of the line carried on by its last leg.
    share : float64
        Distance along over the length of the last leg: how much the leg counts.
    bend : float64
        1 sigma of the elevation carried on: the line may bend past its end as its last two legs do.
    """

    nearest: Integers
    away: Floats
    along: Floats
    across: Floats
    step: Floats
    share: Floats
    bend: Floats


def ahead_of(end: ArrayLike, existing: ArrayLike, *, ahead: float, beside: float) -> Ahead | None:
    """Find the existing work ahead of an end of a line.

    Parameters
    ----------
    end : (m, 3) array
        The last shots of the line, the end last, at most three of them: easting, northing, elevation.
    existing : (n, 3) array
        Places of existing work.
    ahead, beside : float
        Farthest ahead, and beside the last leg carried on; it may lie behind the end by half of `beside`. Of a line of
        one shot it may lie anywhere within `beside`.

    Returns
    -------
    Ahead or None
        None where there is none.

    Examples
    --------
    >>> found = ahead_of([[0, 0, 10.0], [25, 0, 10.5]], [[30, 1, 10.65], [20, 0, 9.0]], ahead=10, beside=2)
    >>> found.nearest.tolist(), found.along.tolist(), found.across.tolist(), found.step.round(3).tolist()
    ([0], [5.0], [-1.0], [0.05])
    """
    shots, places = np.asarray(end, dtype=np.float64), np.asarray(existing, dtype=np.float64).reshape(-1, 3)
    rest = places[:, :2] - shots[-1, :2]
    away = np.hypot(rest[:, 0], rest[:, 1])
    run = np.hypot(*(shots[-1, :2] - shots[-2, :2])) if len(shots) > 1 else 0.0
    if run > 0:
        unit = (shots[-1, :2] - shots[-2, :2]) / run
        along, across = rest @ unit, rest[:, 0] * unit[1] - rest[:, 1] * unit[0]
        there = (along <= ahead) & (along >= -beside / 2) & (np.abs(across) <= beside)
    else:
        along, across, there = away, np.zeros(len(places)), away <= beside
    nearest = np.flatnonzero(there)
    nearest = nearest[np.argsort(away[nearest], kind="stable")]
    if not len(nearest):
        return None
    grade = (shots[-1, 2] - shots[-2, 2]) / run if run > 0 else 0.0
    before = np.hypot(*(shots[-2, :2] - shots[-3, :2])) if len(shots) > 2 else 0.0
    change = abs(grade - (shots[-2, 2] - shots[-3, 2]) / before) if before > 0 else 0.0
    far = along[nearest]
    return Ahead(
        nearest=nearest, away=away[nearest], along=far, across=across[nearest],
        step=places[nearest, 2] - (shots[-1, 2] + grade * far), share=far / run if run > 0 else np.zeros(len(far)),
        bend=np.abs(far) * change / 2,
    )  # fmt: skip
