"""What a leaning rod adds to the uncertainty of a shot."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.precision.budget import tilted_u
from geoqa.model.quantity import LengthUnit
from geoqa.model.tables.layer import Layers

_DEFAULT_ROD = 2.0  # metres, for a log without rod heights
UNTESTED = "tilt-untested"
"""Flag of a shot that leans more than was tested."""

DEFAULT = {
    "heading": 1.0,
    "angle": 0.3,
    "up_to": 30.0,
    "reference": "assumed: heading 1°, tilt angle 0.3° at 1 sigma, up to 30°; common practice, no source. "
    "A tilt test of the crew's own is better",
}
"""What stands in where the job has no table [tilt]."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Lean:
    """What the lean of every shot adds; arrays of shape (n,).

    Attributes
    ----------
    horizontal, vertical : float64
        Standard uncertainty, job's unit; by the formula also beyond what was tested, so that shots can be matched.
    beyond : bool
        Leans more than was tested: nothing may be claimed of the shot.
    up_to : float
        Largest tilt tested, degrees.
    reference : str
        How these are known.
    """

    horizontal: np.ndarray
    vertical: np.ndarray
    beyond: np.ndarray
    up_to: float
    reference: str


def of_lean(shots: pd.DataFrame, layers: Layers, *, plumb_below: float) -> Lean:
    """Standard uncertainty that the lean of every shot adds.

    Parameters
    ----------
    shots : DataFrame
    layers : Layers
        With `tilt_declared`, or without.
    plumb_below : float
        Degrees; a shot that leans less is held with the bubble, and adds nothing.

    Returns
    -------
    Lean

    Notes
    -----
    Horizontal is the worse of the two plan axes, along the lean and square to it, for a lean may point anywhere
    against the line that is judged. With 1° and 0.3° the one along the lean is the worse up to 16.7°, where
    tan t = 0.3/1; beyond, the one square to it.
    """
    known: dict[str, Any] = DEFAULT
    if "tilt_declared" in layers and len(layers["tilt_declared"]):
        known = layers["tilt_declared"].iloc[0].to_dict()
    unit: LengthUnit = layers.frame.unit
    tilt = shots["tilt"].to_numpy(float)
    rod = shots["rod_height"].to_numpy(float)
    rod = np.where(np.isfinite(rod) & (rod > 0), rod, _DEFAULT_ROD / unit.metres_float)
    leans = tilt >= plumb_below
    leaned = np.where(leans, tilt, 0.0)
    spreads = {"u_heading": known["heading"], "u_angle": known["angle"], "plumb_h": 0.0, "plumb_v": 0.0}
    radial, tangential, vertical = tilted_u(leaned, rod=rod, **spreads)
    return Lean(
        horizontal=np.where(leans, np.maximum(radial, tangential), 0.0),
        vertical=np.where(leans, vertical, 0.0),
        beyond=leans & (tilt > known["up_to"]),
        up_to=float(known["up_to"]),
        reference=str(known["reference"]),
    )
