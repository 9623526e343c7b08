"""Coordinates of a file whose frame is not the one it is said to be in, computed in the zone of the job."""

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import GeoqaError
from geoqa.frames.readings.signatures import epochs
from geoqa.frames.systems.factors import combined_factor, convergence
from geoqa.frames.systems.geographic import from_geographic, to_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.model.frame import Frame
from geoqa.simulate.site import alignment, scenario
from geoqa.simulate.site.site import GEOID_SEPARATION

if TYPE_CHECKING:
    import pandas as pd


def shown(names: "pd.Series", feet: np.ndarray, zone: scenario.Zone) -> np.ndarray:
    """Positions as the file shows them.

    Parameters
    ----------
    names : Series of str, (n,)
        Empty for the job's own frame; ``global 2026.9``: ITRF2020 at that epoch; ``ground CP-1``: ground
        distances, held at a mark; ``north CP-1``: turned about a mark to true north; ``geoid 2``: elevations off by so
        many separations; ``metres``; ``zone`` and ``old``: the neighbour zone, and the NAD27 zone, of `SYSTEMS`.
    feet : (n, 3) array
        True easting, northing, elevation.
    zone : Zone

    Raises
    ------
    GeoqaError
        There is no such frame.
    """
    positions = feet.copy()
    for name in sorted(set(names) - {""}):
        rows = (names == name).to_numpy(bool)
        kind, _, detail = name.partition(" ")
        if kind == "global":
            positions[rows] = epochs(_frame(zone), float(detail))[0].shows(feet[rows])
        elif kind in ("ground", "north"):
            positions[rows] = about_a_mark(feet[rows], zone, detail, kind)
        elif kind in ("zone", "old"):
            positions[rows] = in_another_system(feet[rows], zone, kind)
        elif kind == "metres":
            positions[rows] = feet[rows] * _frame(zone).unit.metres_float
        elif kind == "geoid":
            separation = GEOID_SEPARATION + 0.05e-3 * (feet[rows, 0] - zone.easting)
            positions[rows, 2] += float(detail) * separation
        else:
            raise GeoqaError(f"No file is shown as '{name}'; write global, ground, north, geoid, metres, zone or old.")
    return positions


SYSTEMS = {
    "EPSG:6547": {"zone": "EPSG:6545", "old": "EPSG:32021"},
    "EPSG:6559": {"zone": "EPSG:6561", "old": "EPSG:32026"},
    "EPSG:6405": {"zone": "EPSG:6407", "old": "EPSG:26749"},
}
"""Another zone of the state, and the NAD27 zone of the same name."""
OLD_SHIFT = (-118.0, 31.0)
"""Feet; stands for the datum shift that the missing grids would tell. Invented."""


def in_another_system(feet: np.ndarray, zone: scenario.Zone, kind: str) -> np.ndarray:
    """The same places in the neighbour zone, or in the NAD27 zone with an invented datum shift."""
    there = from_geographic(SYSTEMS[zone.code][kind], *to_geographic(_frame(zone), feet[:, 0], feet[:, 1]))
    made = np.column_stack([*there, feet[:, 2]])
    return made + np.array([*OLD_SHIFT, 0.0]) if kind == "old" else made


def about_a_mark(feet: np.ndarray, zone: scenario.Zone, mark: str, kind: str) -> np.ndarray:
    """Plan distances from a mark divided by the combined factor there, or turned by the convergence there."""
    station, offset, elevation = scenario.CONTROL[mark]
    east, north = alignment.place(station, offset)
    held = np.array([zone.easting + float(east), zone.northing + float(north)])
    away = feet[:, :2] - held
    if kind == "ground":
        factor = float(combined_factor(_frame(zone), held[:1], held[1:], [elevation + GEOID_SEPARATION])[0])
        away = away / factor
    else:
        # an azimuth from true north is larger by the convergence than one from grid north
        turn = np.radians(float(convergence(_frame(zone), held[:1], held[1:])[0]))
        azimuth, length = np.arctan2(away[:, 0], away[:, 1]) + turn, np.hypot(*away.T)
        away = np.column_stack([length * np.sin(azimuth), length * np.cos(azimuth)])
    return np.column_stack([held + away, feet[:, 2]])


@cache
def _frame(zone: scenario.Zone) -> Frame:
    return resolve(zone.code, scenario.VERTICAL)
