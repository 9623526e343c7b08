"""Elevation and grade along a centre line: grades between points of intersection, and parabolas about them.

A parabola of two unequal halves is the usual pair of parabolas with a common tangent below (or above) the
intersection: its ordinate there is ``in * out * (g2 - g1) / (2 (in + out))``, which for equal halves is
``L (g2 - g1) / 8``.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats
from geoqa.kernels.baseline.course import TIE


@dataclass(frozen=True, kw_only=True, eq=False)
class Profile:
    """Points of intersection, one row each, in order.

    Attributes
    ----------
    station, elevation : (p,) float64
        Continuous station; elevation where the grades meet.
    curve_in, curve_out : (p,) float64
        Length of the parabola before and after; 0 and 0 where there is none.

    Raises
    ------
    GeometryInputError
        Stations that do not grow, curves that overlap or run past an end, half a curve, or a missing number.
    """

    station: Floats
    elevation: Floats
    curve_in: Floats
    curve_out: Floats

    def __post_init__(self) -> None:
        for field in fields(self):
            values = np.array(getattr(self, field.name), dtype=np.float64)
            values.setflags(write=False)
            object.__setattr__(self, field.name, values)
        problem = profile_problem(self.station, self.elevation, self.curve_in, self.curve_out)
        if problem is not None:
            raise GeometryInputError(f"Point {problem[0] + 1} of the profile {problem[1]}.")

    def __len__(self) -> int:
        return len(self.station)


def profile_problem(station: Floats, elevation: Floats, curve_in: Floats, curve_out: Floats) -> tuple[int, str] | None:
    """The first point of a profile that cannot be, and what is wrong with it; None where all can.

    Examples
    --------
    >>> zero, level = np.zeros(3), np.full(3, 10.0)
    >>> profile_problem(np.array([0.0, 500.0, 300.0]), level, zero, zero)[0]
    2
    """
    missing = ~np.isfinite(station + elevation + curve_in + curve_out)
    if missing.any():
        return int(np.argmax(missing)), "lacks a number; give station, elevation and curve length (0 for none)"
    if len(station) < 2:
        return 0, "stands alone; a profile needs two points at least"
    steps = np.diff(station)
    if (steps <= 0).any():
        return int(np.argmax(steps <= 0)) + 1, "does not come after the one before it; give them in order of station"
    half = ((curve_in > 0) != (curve_out > 0)) | (curve_in < 0) | (curve_out < 0)
    if half.any():
        return int(np.argmax(half)), "has a curve length that is negative, or on one side alone; give both sides, or 0"
    edge = np.zeros(len(station), dtype=bool)
    edge[[0, -1]] = curve_in[[0, -1]] > 0
    if edge.any():
        return int(np.argmax(edge)), "is the first or last and has a curve; a curve needs a grade on either side"
    over = curve_out[:-1] + curve_in[1:] - steps > TIE
    if over.any():
        row = int(np.argmax(over))
        beyond = float((curve_out[:-1] + curve_in[1:] - steps)[row])
        return (
            row + 1,
            f"has a curve that overlaps the one before it by {beyond:.2f}; it may begin where that one ends",
        )
    return None


def profile_at(profile: Profile, station: ArrayLike) -> tuple[Floats, Floats]:
    """Elevation and grade at continuous stations.

    Returns
    -------
    elevation : (n,) float64
        NaN beyond the ends of the profile.
    grade : (n,) float64
        Rise over run, positive rising ahead.

    Examples
    --------
    A crest of 600 ft from +3 % to -2.4 % (published; the high point is 849.4800 at 47+03.33).

    >>> crest = Profile(station=[4300, 4670, 5000], elevation=[842.38, 853.48, 845.56], curve_in=[0, 300, 0],
    ...                 curve_out=[0, 300, 0])
    >>> elevation, grade = profile_at(crest, [4370, 4600, 4703.3333, 4970])
    >>> elevation.round(4).tolist(), grade.round(6).tolist()
    ([844.48, 848.9995, 849.48, 846.28], [0.03, 0.0093, 0.0, -0.024])
    """
    station = np.asarray(station, dtype=np.float64)
    grades = np.diff(profile.elevation) / np.diff(profile.station)
    row = np.clip(np.searchsorted(profile.station, station, side="right") - 1, 0, len(profile) - 2)
    run = station - profile.station[row]
    elevation, grade = profile.elevation[row] + grades[row] * run, grades[row].copy()
    change = np.zeros(len(profile))
    change[1:-1] = np.diff(grades)
    total = profile.curve_in + profile.curve_out
    bent = total > 0
    ordinate = np.divide(
        profile.curve_in * profile.curve_out * change, 2 * total, out=np.zeros(len(profile)), where=bent
    )
    # behind a point its curve runs out; before the next point that one's curve begins
    for at, length, sign in ((row, profile.curve_out[row], -1.0), (row + 1, profile.curve_in[row + 1], 1.0)):
        into = length - np.abs(station - profile.station[at])
        on = (length > 0) & (into > 0)
        share = np.divide(into, length, out=np.zeros(station.shape), where=on)
        elevation = elevation + ordinate[at] * share**2
        grade = grade + sign * np.divide(2 * ordinate[at] * share, length, out=np.zeros(station.shape), where=on)
    inside = (station >= profile.station[0] - TIE) & (station <= profile.station[-1] + TIE)
    return np.where(inside, elevation, np.nan), np.where(inside, grade, np.nan)
