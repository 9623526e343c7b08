"""The design of Tannery Lane as lines, elements and points.

Parallels of the centre line are cut at every 25 ft of it, and at every 10 ft in the vertical curve, where
a straight grade between two vertices leaves the parabola by at most 0.0007 ft. What is designed is the
straight grade: the truth is measured from the elements, as the tool does it. Curbs and walks dip at ramps
and at the driveway; the design lines dip with them.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from geoqa.simulate.site import alignment, scenario

Above = tuple[Callable[[np.ndarray], np.ndarray], Sequence[float]]
"""Height of a line over the centre line at stations of it, in feet, and the stations at which it breaks."""


class Foot(NamedTuple):
    """A place on a design line: easting, northing, elevation, azimuth, and the line's own station."""

    easting: np.ndarray
    northing: np.ndarray
    elevation: np.ndarray
    azimuth: np.ndarray
    station: np.ndarray


@dataclass(frozen=True, eq=False)
class DesignLine:
    """One design line.

    Attributes
    ----------
    name, kind : str
    offset : float or None
        Of a parallel to the centre line; None for a line of straight legs.
    begin, finish : float
        Centre line stations of a parallel; 0 and the length of any other line.
    easting, northing, elevation, station : (k,) array
        Of the vertices, relative to station 10+00; `station` is the line's own.
    """

    name: str
    kind: str
    offset: float | None
    begin: float
    finish: float
    easting: np.ndarray
    northing: np.ndarray
    elevation: np.ndarray
    station: np.ndarray

    def foot(self, at: ArrayLike) -> Foot:
        """Places at centre line stations of a parallel, or at own stations of any other line."""
        at = np.asarray(at, float)
        if self.offset is None:
            own, azimuth = at, self._legs(at)
            east, north = (np.interp(at, self.station, values) for values in (self.easting, self.northing))
        else:
            own, azimuth = self._own(at), alignment.azimuth(at)
            east, north = alignment.place(at, self.offset)
        return Foot(east, north, np.interp(own, self.station, self.elevation), azimuth, own)

    def _own(self, at: np.ndarray) -> np.ndarray:
        assert self.offset is not None
        return self.begin + alignment.along(at, self.offset) - alignment.along(self.begin, self.offset)

    def _legs(self, at: np.ndarray) -> np.ndarray:
        azimuths = np.degrees(np.arctan2(np.diff(self.easting), np.diff(self.northing))) % 360.0
        leg = np.clip(np.searchsorted(self.station, at, side="right") - 1, 0, len(azimuths) - 1)
        return azimuths[leg]


def _parallel(
    name: str,
    kind: str,
    offset: float,
    begin: float,
    finish: float,
    above: Above,
) -> DesignLine:
    """Build a line parallel to the centre line; `above` gives its height over it at stations, and its breaks."""
    height, breaks = above
    curve = np.arange(alignment.PVI - alignment.CURVE / 2, alignment.PVI + alignment.CURVE / 2 + 1, 10.0)
    regular = np.arange(scenario.BEGIN, scenario.FINISH, 25.0)
    regular = regular[(regular < curve[0]) | (regular > curve[-1])]
    marks = np.concatenate([[begin, finish, alignment.PC, alignment.PT], breaks, curve, regular])
    at = np.unique(marks.round(9))
    at = at[(at >= begin) & (at <= finish)]
    east, north = alignment.place(at, offset)
    own = begin + alignment.along(at, offset) - alignment.along(begin, offset)
    return DesignLine(name, kind, offset, begin, finish, east, north, alignment.profile(at) + height(at), own)


def _legs(name: str, kind: str, east: ArrayLike, north: ArrayLike, elevation: ArrayLike) -> DesignLine:
    east, north = np.asarray(east, float), np.asarray(north, float)
    own = np.append(0.0, np.cumsum(np.hypot(np.diff(east), np.diff(north))))
    return DesignLine(name, kind, None, 0.0, float(own[-1]), east, north, np.asarray(elevation, float), own)


def _section_line(kind: str, side: str, part: str) -> DesignLine:
    code, distance, above = scenario.SECTION[kind]
    dips = [each for each in scenario.DEPRESSIONS if each.side == side and kind in each.lowered]

    def height(at: np.ndarray) -> np.ndarray:
        lowered = np.zeros(len(at))
        for dip in dips:
            corners = [dip.first - dip.taper, dip.first, dip.last, dip.last + dip.taper]
            lowered += np.interp(at, corners, np.array([0.0, 1.0, 1.0, 0.0]) * dip.lowered[kind])
        return above + lowered

    breaks = [corner for dip in dips for corner in (dip.first - dip.taper, dip.first, dip.last, dip.last + dip.taper)]
    begin, finish = scenario.PARTS[part]
    return _parallel(f"{code}-{side}-{part}", kind, scenario.SIDES[side] * distance, begin, finish, (height, breaks))


def _pipe(name: str) -> DesignLine:
    first, leaves, last, enters, diameter, wall = scenario.PIPES[name]
    ends = [scenario.STRUCTURES[first], scenario.STRUCTURES[last]]
    places = [alignment.place(station, offset) for station, offset, *_ in ends]
    inverts = np.array([ends[0][3][leaves], ends[1][3][enters]])
    return _legs(
        name,
        "storm-top",
        [float(each[0]) for each in places],
        [float(each[1]) for each in places],
        inverts + (diameter + wall) / 12.0,
    )


def _driveway() -> DesignLine:
    name, corners = scenario.DRIVEWAY
    station, offset = np.array(corners).T
    east, north = alignment.place(station, offset)
    back = scenario.SECTION["walk-back"]
    rise = back[2] + 0.02 * (np.abs(offset) - back[1])
    return _legs(name, "driveway", east, north, alignment.profile(station) + rise)


@cache
def lines() -> Mapping[str, DesignLine]:
    """Every design line by name."""
    made = [
        _section_line(kind, side, part)
        for part in scenario.PARTS
        for side in scenario.SIDES
        for kind in scenario.SECTION
    ]
    name, begin, finish, offset, above = scenario.WATER
    made.append(_parallel(name, "water-top", offset, begin, finish, (lambda at: np.full(len(at), above), [])))
    made += [_pipe(each) for each in scenario.PIPES]
    made.append(_driveway())
    return {each.name: each for each in made}


class DesignPoint(NamedTuple):
    """A designed point, relative to station 10+00."""

    name: str
    kind: str
    easting: float
    northing: float
    elevation: float


def _point(name: str, kind: str, station: float, offset: float, elevation: ArrayLike) -> DesignPoint:
    east, north = alignment.place(station, offset)
    return DesignPoint(name, kind, float(east), float(north), float(np.asarray(elevation)))


@cache
def points() -> Mapping[str, DesignPoint]:
    """Every design point by name."""
    made = []
    for name, (station, offset, rim, inverts) in scenario.STRUCTURES.items():
        if rim is not None:
            made.append(_point(f"{name} rim", "rim", station, offset, rim))
        made += [_point(f"{name} {end}", "invert", station, offset, level) for end, level in inverts.items()]
    surface = -0.02 * abs(scenario.WATER[3])
    for name, station in scenario.VALVES.items():
        made.append(_point(name, "valve", station, scenario.WATER[3], alignment.profile(station) + surface))
    for name, (station, offset, above) in scenario.HYDRANTS.items():
        made.append(_point(name, "hydrant", station, offset, alignment.profile(station) + above))
    for ramp in (each for each in scenario.DEPRESSIONS if each.name.startswith("CR")):
        middle = (ramp.first + ramp.last) / 2
        for number, (kind, aside, distance, above) in scenario.RAMP_POINTS.items():
            station, offset = middle + aside, scenario.SIDES[ramp.side] * distance
            made.append(_point(f"{ramp.name} {number}", kind, station, offset, alignment.profile(middle) + above))
    return {each.name: each for each in made}


def element_rows(line: DesignLine) -> list[dict[str, Any]]:
    """Elements of one line, relative to station 10+00; between PC and PT a parallel is an arc."""
    rows = []
    arc_from, arc_to = _arc_reach(line)
    for number in range(len(line.station) - 1):
        arc = arc_from <= line.station[number] and line.station[number + 1] <= arc_to
        rows.append(
            {
                "line": line.name,
                "sequence": number,
                "shape": "arc" if arc else "line",
                "start_easting": line.easting[number],
                "start_northing": line.northing[number],
                "end_easting": line.easting[number + 1],
                "end_northing": line.northing[number + 1],
                "centre_easting": alignment.CENTRE[0] if arc else np.nan,
                "centre_northing": alignment.CENTRE[1] if arc else np.nan,
                "radius": alignment.RADIUS - (line.offset or 0.0) if arc else np.nan,
                "sense": 1 if arc else 0,
                "start_station": line.station[number],
                "length": line.station[number + 1] - line.station[number],
                "start_elevation": line.elevation[number],
                "end_elevation": line.elevation[number + 1],
            }
        )
    return rows


def _arc_reach(line: DesignLine) -> tuple[float, float]:
    if line.offset is None or line.begin > alignment.PT or line.finish < alignment.PC:
        return np.inf, -np.inf
    ends = line.foot(np.array([alignment.PC, alignment.PT])).station
    return float(ends[0]) - 1e-6, float(ends[1]) + 1e-6
