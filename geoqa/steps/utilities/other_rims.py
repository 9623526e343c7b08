"""Structures that are measured down from a shot noted for another one too, while a shot of their own lies there."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.utilities.readings import NEAR, PROVEN
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.drawn_at import ASKED, REACH, TOP, depth_of, design_at_ends, drawn_at
from geoqa.steps.linework.observed import observed

_NEARER = 3.0
"""Times nearer the design that all inverts of the structure must be by the other shot."""


@dataclass(frozen=True, kw_only=True, eq=False)
class OtherRims:
    """What fits each end of `pipe_ends` better, (n,) arrays.

    Attributes
    ----------
    row : int
        Of `observed`: a shot that nobody noted; -1 for none.
    slip : float
        How much higher that shot lies than the one noted; 0 for none.
    left : float
        Invert by that shot less its design; NaN for none.
    """

    row: np.ndarray
    slip: np.ndarray
    left: np.ndarray


def other_rims(layers: Layers, ends: pd.DataFrame, off: np.ndarray, u: np.ndarray) -> OtherRims:
    """Find the one shot that all measure-downs of such a structure fit.

    Parameters
    ----------
    layers : Layers
    ends : DataFrame
        Of `pipe_ends`.
    off, u : (n,) array
        Invert less its design, NaN where unknown, and 1 sigma of it.
    """
    found = OtherRims(row=np.full(len(ends), -1), slip=np.zeros(len(ends)), left=np.full(len(ends), np.nan))
    down, row = ends["measure_down"].to_numpy(float), ends["row"].to_numpy()
    read = ((row >= 0) & np.isfinite(down) & ends["invert_shot"].isna() & ends["pipe"].notna()).to_numpy(bool)
    shared = (ends[read].groupby("row")["structure"].nunique() > 1).pipe(lambda several: several.index[several])
    mine = read & np.isin(row, shared) & ends["structure"].notna().to_numpy()
    if not mine.any() or "design_elements" not in layers:
        return found
    shots = observed(layers)
    level, kind = shots["elevation"].to_numpy(float), shots["kind"].to_numpy(dtype=object)
    free = np.isfinite(level) & (shots["why_elevation"] == 0).to_numpy(bool)
    free[row[row >= 0]] = False
    for _, at in ends[mine].groupby(["structure", "row"], sort=True).groups.items():
        group = at.to_numpy()
        if (np.abs(off[group]) <= PROVEN * u[group]).all():
            continue
        noted = row[group[0]]
        fits = []
        for other in np.flatnonzero(free & (kind == kind[noted])).tolist():
            left = level[other] - down[group] - _design(layers, ends.loc[group], shots, other)
            near = (np.abs(left) <= NEAR * u[group]) & ~(_NEARER * np.abs(left) > np.abs(off[group]))
            if near.all():
                fits.append((other, left))
        if len(fits) == 1:
            found.row[group], found.left[group] = fits[0]
            found.slip[group] = level[fits[0][0]] - level[noted]
    return found


def _design(layers: Layers, ends: pd.DataFrame, shots: pd.DataFrame, other: int) -> np.ndarray:
    """Design inverts of pipes at the tips that lie near a shot; NaN where none does."""
    east, north = (np.full(len(ends), shots[name].to_numpy(float)[other]) for name in ("easting", "northing"))
    unit = layers.frame.unit
    drawn, _ = design_at_ends(layers["design_elements"], ends["pipe"], east, north, REACH.to(unit))
    table = drawn_at(layers)
    said = ends["pipe"].map(dict(zip(table["line"], table["at"], strict=True)))
    top, asked = ((said == what).to_numpy(bool, na_value=False) for what in (TOP, ASKED))
    depth: np.ndarray = np.where(top, depth_of(ends, unit.metres_float), np.where(asked, np.nan, 0.0))
    return drawn - depth
