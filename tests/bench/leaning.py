"""Errors of a tilted, compensated rod, by its geometry; and the plant of a tilt test with a wrong heading."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geoqa.simulate.crew.crew import ROD
from geoqa.simulate.crew.plants import PLANTS, Item, Sown, plant

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["PLANTS"]

HEADING_BIAS = 1.5
"""Degrees by which the planted heading is read too small."""


@dataclass(frozen=True, kw_only=True)
class Compensation:
    """What a tilt compensation gets wrong: degrees, and feet for the rod."""

    heading_bias: float = 0.0
    angle_bias: float = 0.0
    heading_spread: float = 1.0
    angle_spread: float = 0.3
    rod_error: float = 0.0


def lean(length: float, tilt: np.ndarray, azimuth: np.ndarray) -> np.ndarray:
    """From the tip to the antenna, shape (n, 3).

    Examples
    --------
    >>> lean(2.0, np.array([30.0]), np.array([90.0])).round(4).tolist()
    [[1.0, 0.0, 1.7321]]
    """
    t, a = np.radians(tilt), np.radians(azimuth)
    return length * np.column_stack([np.sin(t) * np.sin(a), np.sin(t) * np.cos(a), np.cos(t)])


def read(
    tilt: np.ndarray, azimuth: np.ndarray, wrong: Compensation, draw: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Read a lean as the compensation does.

    Returns
    -------
    tilt, azimuth : (n,) array
        As read.
    error : (n, 3) array
        Of the tip that follows: easting, northing, elevation.
    """
    count = len(tilt)
    read_tilt = tilt - draw.normal(wrong.angle_bias, wrong.angle_spread, count)
    read_azimuth = azimuth - draw.normal(wrong.heading_bias, wrong.heading_spread, count)
    error = lean(ROD + wrong.rod_error, tilt, azimuth) - lean(ROD, read_tilt, read_azimuth)
    return read_tilt, read_azimuth % 360.0, error


@plant("T14", f"tilt test of a rod whose heading is read {HEADING_BIAS}° too small")
def _wrong_heading(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan.index[(plan["kind"] == "tilt-test") & (plan["tilt"] > 5.0)]
    tilt, azimuth = plan.loc[rows, "tilt"].to_numpy(float), plan.loc[rows, "tilt_azimuth"].to_numpy(float)
    turn = lean(ROD, tilt, azimuth + HEADING_BIAS) - lean(ROD, tilt, azimuth)
    plan.loc[rows, ["err_e", "err_n"]] += turn[:, :2]
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none", number=HEADING_BIAS)]
