"""What water does on a gutter, in words."""

import math
from collections.abc import Sequence

from geoqa.model import words
from geoqa.model.shown import full_digits


def standing_water(
    depth: float, level: float, unit: str, *, start: float, end: float, barrier: float, inlet: bool = False
) -> str:
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
    inlet : bool
        The barrier is the rim of an inlet that stands above the line.

    Returns
    -------
    str
        Empty where no water stands.

    Examples
    --------
    >>> standing_water(0.051, 1455.618, "ft", start=2290.0, end=2308.0, barrier=2275.0)
    'water stands along 18 ft, 22+90 to 23+08; it can leave towards 22+75 only above 1455.62'
    """
    if not depth > 0 or math.isnan(start):
        return ""
    by = "by the inlet at" if inlet else "towards"
    digits, whole = full_digits(unit) - 1, words.stretch_digits(start, end, unit)
    return (
        f"water stands along {end - start:.0f} {unit}, {words.stretch(start, end, unit)}; it can leave {by} "
        f"{words.station(barrier, whole)} only above {level:.{digits}f}"
    )


def inlets(
    raised: Sequence[tuple[float, float]], unknown: Sequence[float], opened: Sequence[tuple[float, float]], unit: str
) -> str:
    """Say which inlets of a stretch take no water off it, or are only taken to.

    Parameters
    ----------
    raised : sequence of (station, height)
        Those whose rim stands above the flow line by that much.
    unknown : sequence of stations
        Those whose rim nobody has the elevation of.
    opened : sequence of (station, height)
        Those so high that they open in the curb.
    unit : str
        Name of the job's unit.

    Examples
    --------
    >>> inlets([(95.0, 0.25)], [200.0], [(300.0, 0.5)], "ft")
    'the inlet at 0+95.00 is no outlet below its rim, which stands 0.25 ft above the flow line; the inlet at 2+00.00 \
counts as an outlet, though its rim has no elevation; the inlet at 3+00.00 counts as an outlet: 0.50 ft above the flow \
line its opening is taken to be in the curb'
    """
    digits = full_digits(unit) - 1
    parts = [
        f"the inlet at {words.station(at)} is no outlet below its rim, which stands {above:.{digits}f} {unit} above "
        "the flow line"
        for at, above in raised
    ]
    parts += [
        f"the inlet at {words.station(at)} counts as an outlet, though its rim has no elevation" for at in unknown
    ]
    parts += [
        f"the inlet at {words.station(at)} counts as an outlet: {above:.{digits}f} {unit} above the flow line its "
        "opening is taken to be in the curb"
        for at, above in opened
    ]
    return "; ".join(parts)
