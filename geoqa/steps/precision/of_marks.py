"""What the published values of marks add to the uncertainty of check shots on them."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model.quantity import FOOT
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import ASSUMED_U, mark_of, stated_or_assumed


@dataclass(frozen=True, eq=False)
class OfMarks:
    """1 sigma of the mark of every check shot, in plan (each axis) and in elevation.

    Attributes
    ----------
    u : dict of axis h, v to (n,) float64
        In the job's unit. 0 for shots that are no check shots; NaN for one that names no mark, where others do.
    assumed : dict of axis h, v to (n,) bool
        The mark states none, so `ASSUMED_U` was taken.
    """

    u: dict[str, np.ndarray]
    assumed: dict[str, np.ndarray]


ASSUMED_WORDS = f"assumed for marks that state none, {ASSUMED_U} ft: common practice, no source"
STATED_WORDS = "stated in the control list"


def of_marks(layers: Layers) -> OfMarks:
    """Look up the marks of check shots.

    Where no check shot names a mark, as before field work, the middle one of all marks is expected; without any mark
    what is assumed of one that states nothing.

    Parameters
    ----------
    layers : Layers
        With `shots`; `control` where it is known.
    """
    shots = layers["shots"]
    check = (shots["role"] == "check").to_numpy(bool) if "role" in shots.columns else np.zeros(len(shots), bool)
    u = {axis: np.zeros(len(shots)) for axis in "hv"}
    assumed = {axis: np.zeros(len(shots), bool) for axis in "hv"}
    if not check.any():
        return OfMarks(u, assumed)
    known = "control" in layers and len(layers["control"])
    control = layers["control"].reset_index(drop=True) if known else pd.DataFrame({"u_h": [np.nan], "u_v": [np.nan]})
    mark = mark_of(shots[check], control) if known else np.full(int(check.sum()), -1)
    feet = FOOT.metres_float / layers.frame.unit.metres_float
    for axis in "hv":
        stated = control[f"u_{axis}"].astype(float)
        of_each = stated_or_assumed(stated, feet)
        if (mark >= 0).any():
            u[axis][check] = np.append(of_each, np.nan)[mark]
            assumed[axis][check] = np.append(stated.isna().to_numpy(bool), False)[mark]
        else:
            u[axis][check] = np.median(of_each)
            assumed[axis][check] = stated.isna().mean() > 0.5
    return OfMarks(u, assumed)
