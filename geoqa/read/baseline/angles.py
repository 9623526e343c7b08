"""Directions as plans write them: azimuths, degrees-minutes-seconds, quadrant bearings."""

from __future__ import annotations

import re

_NUMBER = re.compile(r"^\s*([+-]?\d{1,3}(?:\.\d+)?)\s*°?\s*$")
_PARTS = re.compile(r"^\s*(\d{1,3})\s*[-°d: ]\s*(\d{1,2})\s*[-'’m: ]\s*(\d{1,2}(?:\.\d+)?)\s*[\"”s]?\s*$")
_BEARING = re.compile(r"^\s*([NSns])\s*(.+?)\s*([EWew])\s*$")

ALLOWED = "an azimuth in degrees (64.4628), 64-27-46, or a bearing N 64-27-46 E is"


def degrees(text: str) -> float | None:
    r"""Azimuth in degrees clockwise from grid north; None where the text is no direction.

    Examples
    --------
    >>> degrees("64.5"), degrees("64-30-00"), degrees("S 64°30'00\" W"), degrees("N 95 E"), degrees("north")
    (64.5, 64.5, 244.5, None, None)
    """
    if match := _BEARING.match(text):
        angle = _angle(match[2])
        if angle is None or not 0.0 <= angle <= 90.0:
            return None
        south, west = match[1] in "Ss", match[3] in "Ww"
        return {
            (False, False): angle,
            (True, False): 180 - angle,
            (True, True): 180 + angle,
            (False, True): 360 - angle,
        }[south, west] % 360.0
    angle = _angle(text)
    return None if angle is None or not -360.0 <= angle <= 360.0 else angle % 360.0


def _angle(text: str) -> float | None:
    if match := _NUMBER.match(text):
        return float(match[1])
    if match := _PARTS.match(text):
        whole, minutes, seconds = float(match[1]), float(match[2]), float(match[3])
        return whole + minutes / 60.0 + seconds / 3600.0 if minutes < 60 and seconds < 60 else None
    return None
