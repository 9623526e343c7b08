"""What water does on a gutter, in words."""

import math

from geoqa.model import words
from geoqa.model.shown import full_digits


def standing_water(depth: float, level: float, unit: str, *, start: float, end: float, barrier: float) -> str:
    """Say what water does at a low point.

    Parameters
    ----------
    depth : float
        Of the water that stays; negative where none does.
    level : float
        Elevation of the barrier.
    unit : str
        Name of the job's unit.
    start, end : float
        Stations between which it stands.
    barrier : float
        Station of the barrier.

    Returns
    -------
    str
        Empty where no water stands.

    Examples
    --------
    >>> standing_water(0.051, 1455.618, "ft", start=2290.0, end=2308.0, barrier=2275.0)
    'water stands about 0.05 ft deep over 18 ft, 22+90.00 to 23+08.00; it can leave towards 22+75.00 only above 1455.62'
    """
    if not depth > 0 or math.isnan(start):
        return ""
    digits = full_digits(unit) - 1
    return (
        f"water stands about {depth:.{digits}f} {unit} deep over {end - start:.0f} {unit}, {words.station(start)} to "
        f"{words.station(end)}; it can leave towards {words.station(barrier)} only above {level:.{digits}f}"
    )
