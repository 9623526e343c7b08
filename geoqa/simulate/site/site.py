"""What a zone does to coordinates at the site: the shift of a wrong foot, scale and convergence."""

from geoqa.frames.systems.factors import combined_factor, convergence, scale_factor
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT
from geoqa.simulate.site import scenario

GEOID_SEPARATION = -88.0
"""At station 10+00, in feet; synthetic, taken from no geoid model."""


def site_facts(frame: Frame, zone: scenario.Zone) -> dict[str, float | list[float]]:
    """Numbers of station 10+00, computed for the zone.

    Returns
    -------
    dict
        ``survey_foot_shift``: what easting and northing move by when they are written in US survey
        feet; ``grid_scale``, ``combined_factor`` (ratios) and ``convergence`` (degrees).
    """
    east, north = [zone.easting], [zone.northing]
    ratio = float(FOOT.metres / US_SURVEY_FOOT.metres) - 1.0
    height = 1462.0 + GEOID_SEPARATION
    return {
        "survey_foot_shift": [round(zone.easting * ratio, 4), round(zone.northing * ratio, 4)],
        "grid_scale": round(float(scale_factor(frame, east, north)[0]), 9),
        "combined_factor": round(float(combined_factor(frame, east, north, [height])[0]), 9),
        "convergence": round(float(convergence(frame, east, north)[0]), 7),
    }
