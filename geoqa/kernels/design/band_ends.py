"""The round ends a band may have: a quarter circle for either side, each of its own width."""

from __future__ import annotations

import numpy as np
import shapely

from geoqa.kernels.arrays import Floats
from geoqa.kernels.design.band_corner import corner


def round_end(place: Floats, ahead: Floats, *, left: float, right: float, max_sagitta: float) -> list[shapely.Polygon]:
    """Draw the quarter circles ahead of the end of a line.

    Parameters
    ----------
    place : (2,) array
        The end, from any origin.
    ahead : (2,) array
        Unit vector pointing out of the line there.
    left, right : float
        Widths to either side of that direction; 0 draws nothing on that side.
    max_sagitta : float
        Largest distance between a drawn edge and the true one.

    Returns
    -------
    list of Polygon
        At most two, that meet along the direction ahead.

    Examples
    --------
    >>> drawn = round_end(np.zeros(2), np.array([0.0, 1.0]), left=1.0, right=3.0, max_sagitta=1e-6)
    >>> [[round(value, 6) + 0.0 for value in each.bounds] for each in drawn]
    [[-1.0, 0.0, 0.0, 1.0], [0.0, 0.0, 3.0, 3.0]]
    """
    aside = np.array([ahead[1], -ahead[0]])
    quarters = ((-left * aside, -np.pi / 2), (right * aside, np.pi / 2))
    return [
        shapely.Polygon(np.concatenate([place[None], corner(place, arm, turn, max_sagitta)]))
        for arm, turn in quarters
        if np.any(arm)
    ]
