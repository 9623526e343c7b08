"""Coordinates of a file whose frame is not the one it is said to be in, computed in the zone of the job."""

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import GeoqaError
from geoqa.frames.factors import combined_factor
from geoqa.frames.resolve import resolve
from geoqa.frames.signatures import epochs
from geoqa.model.frame import Frame
from geoqa.simulate import alignment, scenario
from geoqa.simulate.site import GEOID_SEPARATION

if TYPE_CHECKING:
    import pandas as pd


def shown(names: "pd.Series", feet: np.ndarray, zone: scenario.Zone) -> np.ndarray:
    """Positions as the file shows them.

    Parameters
    ----------
    names : Series of str, (n,)
        Empty for the job's own frame; ``global 2026.9``: ITRF2020 at that epoch; ``ground CP-1``: ground
        distances, held at a mark.
    feet : (n, 3) array
        True easting, northing, elevation.
    zone : Zone

    Raises
    ------
    GeoqaError
        There is no such frame.
    """
    made = feet.copy()
    for name in sorted(set(names) - {""}):
        rows = (names == name).to_numpy(bool)
        kind, _, detail = name.partition(" ")
        if kind == "global":
            made[rows] = epochs(_frame(zone), float(detail))[0].shows(feet[rows])
        elif kind == "ground":
            made[rows] = on_the_ground(feet[rows], zone, detail)
        else:
            raise GeoqaError(f"No file is shown as '{name}'; write global EPOCH or ground MARK.")
    return made


def on_the_ground(feet: np.ndarray, zone: scenario.Zone, mark: str) -> np.ndarray:
    """Plan distances from a mark divided by the combined factor there."""
    station, offset, elevation = scenario.CONTROL[mark]
    east, north = alignment.place(station, offset)
    held = np.array([zone.easting + float(east), zone.northing + float(north)])
    factor = float(combined_factor(_frame(zone), held[:1], held[1:], [elevation + GEOID_SEPARATION])[0])
    return np.column_stack([held + (feet[:, :2] - held) / factor, feet[:, 2]])


@cache
def _frame(zone: scenario.Zone) -> Frame:
    return resolve(zone.code, scenario.VERTICAL)
