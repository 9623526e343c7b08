"""The centre line as the office hands it over: points of intersection with their curves, in plan and in profile."""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.model.words import station
from geoqa.simulate.site import alignment, scenario

if TYPE_CHECKING:
    import pandas as pd

CENTRE_LINE_FILE, PROFILE_FILE = "centre_line.csv", "profile.csv"


def intersections(zone: scenario.Zone) -> "pd.DataFrame":
    """Points of intersection, to 0.0001 ft, with the radius of the curve at the middle one."""
    import pandas as pd

    tangent = alignment.RADIUS * np.tan(np.radians(alignment.DELTA) / 2)
    begin, before, end = (
        np.array(alignment.place(at, 0.0), dtype=float) for at in (scenario.BEGIN, alignment.PC, scenario.FINISH)
    )
    # where the tangent before the curve, drawn on, meets the one behind it
    angle = np.radians(alignment.AZIMUTH)
    middle = before + tangent * np.array([np.sin(angle), np.cos(angle)])
    places = np.add([begin, middle, end], [zone.easting, zone.northing])
    return pd.DataFrame(
        {
            "point": ["BEGIN", "PI-1", "END"],
            "station": [station(scenario.BEGIN), None, None],
            "easting": [f"{east:.4f}" for east in places[:, 0]],
            "northing": [f"{north:.4f}" for north in places[:, 1]],
            "radius": [None, f"{alignment.RADIUS:.2f}", None],
        }
    )


def vertical_intersections() -> "pd.DataFrame":
    """Points of vertical intersection with the length of the parabola at the middle one."""
    import pandas as pd

    at = [scenario.BEGIN, alignment.PVI, scenario.FINISH]
    level = [float(alignment.profile(at[0])), alignment.PVI_ELEVATION, float(alignment.profile(at[2]))]
    return pd.DataFrame(
        {
            "station": [station(each) for each in at],
            "elevation": [f"{each:.2f}" for each in level],
            "curve": [None, f"{alignment.CURVE:.0f}", None],
        }
    )
