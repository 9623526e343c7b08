"""Whether the azimuths of a tilt test, read as degrees, are rather gon."""

from __future__ import annotations

import numpy as np

from geoqa.kernels.arrays import Floats
from geoqa.kernels.precision.components import TwoSpreads

_GON, _FAR_BETTER = 0.9, 100.0
"""Degrees in a gon; ratio of likelihoods from which gon are named."""


def fits_as_gon(
    tangential: Floats,
    radial: Floats,
    *,
    tilt: Floats,
    azimuth: Floats,
    rod: Floats,
    plumb: Floats,
    spreads: tuple[TwoSpreads, TwoSpreads],
) -> bool:
    """Tell whether plan differences follow one heading, angle and rod far better where the azimuths are gon.

    Turned into a wrong direction the tip of a biased lean strays along and square to it, more the larger the azimuth
    is. Without a bias nothing can be told, and nothing hangs on it.

    Parameters
    ----------
    tangential, radial : (n,) array
        Differences turned into the lean, with the azimuths as degrees.
    tilt, azimuth : (n,) array
        Radians.
    rod : (n,) array
    plumb : (n,) array
        Plumb shots behind each difference.
    spreads : (TwoSpreads, TwoSpreads)
        Square to the lean and along it.

    Returns
    -------
    bool

    Examples
    --------
    >>> from geoqa.kernels.tilt.limits import known_tilt_model
    >>> known = known_tilt_model(rod=6.5, heading_spread=1, angle_spread=0.3, plumb_h=0.02, plumb_v=0.02, tilt_high=30)
    >>> lean, way = np.full(40, 0.5), np.linspace(0.0, 390.0, 40)  # gon
    >>> off = np.full(40, 0.1)  # to the right of each lean
    >>> turn = np.radians(0.1 * way)
    >>> given = {"tilt": lean, "azimuth": np.radians(way), "rod": np.full(40, 6.5), "plumb": np.full(40, 4)}
    >>> spreads = known.tangential, known.radial
    >>> fits_as_gon(off * np.cos(turn), off * np.sin(turn), **given, spreads=spreads)
    True
    >>> fits_as_gon(off, 0 * off + 0.001 * np.sin(way), **given, spreads=spreads)
    False
    """
    across, along = (spreads[0].extra.value, spreads[1].extra.value)
    if not np.isfinite(across + along):
        return False
    share = 1 + 1 / plumb
    spread = np.sqrt(
        np.r_[
            share * spreads[0].base.value ** 2 + (across * rod * np.sin(tilt)) ** 2,
            share * spreads[1].base.value ** 2 + (along * rod * np.cos(tilt)) ** 2,
        ]
    )
    none = np.zeros(tilt.size)
    effects = np.column_stack(
        [np.r_[rod * np.sin(tilt), none], np.r_[none, rod * np.cos(tilt)], np.r_[none, np.sin(tilt)]]
    )
    by = azimuth * (1 - _GON)  # what a lean of so many gon was turned too far
    turned = np.r_[tangential * np.cos(by) + radial * np.sin(by), radial * np.cos(by) - tangential * np.sin(by)]

    def left(values: Floats) -> float:
        white = effects / spread[:, None]
        rest = values / spread - white @ np.linalg.lstsq(white, values / spread, rcond=None)[0]
        return max(float(rest @ rest), 1e-12)

    ratio = left(np.r_[tangential, radial]) / left(turned)
    return bool(tilt.size * np.log(ratio) > np.log(_FAR_BETTER))
