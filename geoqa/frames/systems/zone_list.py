"""The zones a file from the United States may be in: one a projection, in all its realizations and units."""

import re
from dataclasses import dataclass
from functools import cache

from geoqa.errors import FrameError
from geoqa.frames.systems.definitions import systems, unit_of
from geoqa.frames.systems.geographic import Extent
from geoqa.frames.systems.projection import same_projection
from geoqa.frames.systems.similar import projected_systems
from geoqa.model.frame import Frame
from geoqa.model.quantity import LengthUnit

_FAMILY = re.compile(r"(NAD83)(\((HARN|FBN|CORS96|NSRS2007|2011|PA11|MA11)\))?$|(NAD27)$")
_WIDEST = 30.0  # degrees: a wider area is that of a grid for maps of the nation, in which nobody surveys
_UNIT = re.compile(r"( zone)? \((ft|ftUS|m)\)$")


@dataclass(frozen=True, eq=False)
class Zone:
    """One projection, in all realizations and units the database lists it in.

    Attributes
    ----------
    name : str
        Without realization and unit, e.g. ``North Dakota South``.
    datum : str
        NAD83 or NAD27.
    codes : tuple of str
        Newest realization first.
    area : Extent
        Where it is meant to be used, degrees.
    """

    name: str
    datum: str
    codes: tuple[str, ...]
    area: Extent

    @property
    def code(self) -> str:
        """The one whose projection is computed with."""
        return self.codes[0]

    def listed(self) -> dict[LengthUnit, str]:
        """Units the zone is listed in, with the code of the newest realization of each."""
        found: dict[LengthUnit, str] = {}
        for code in self.codes:
            try:
                found.setdefault(unit_of(code), code)
            except FrameError:
                continue
        return found

    def holds(self, longitude: float, latitude: float, *, margin: float) -> bool:
        """Whether a place lies in the area of use, widened by `margin` degrees."""
        west, east = self.area.west - margin, self.area.east + margin
        across = west <= longitude <= east if west <= east else longitude >= west or longitude <= east
        return across and self.area.south - margin <= latitude <= self.area.north + margin


def zone_of(frame: Frame) -> Zone | None:
    """The zone of a frame: the listed one, else one of its own; None where it states no area of use.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> zone_of(resolve("EPSG:2266")).name
    'North Dakota South'
    """
    for zone in zones_of_the_states():
        if frame.horizontal in zone.codes:
            return zone
    plan = systems(frame.horizontal_wkt)[0]
    use = plan.area_of_use
    if use is None:
        return None
    middle = ((use.west + use.east) / 2, (use.south + use.north) / 2)
    for zone in zones_of_the_states():
        if zone.holds(*middle, margin=0.0) and any(same_projection(code, frame) for code in zone.codes):
            return zone
    datum = "" if plan.geodetic_crs is None else plan.geodetic_crs.name
    family = next((name for name in ("NAD27", "NAD83") if datum.startswith(name)), datum)
    return Zone(frame.horizontal_name, family, (frame.horizontal_wkt,), use)


@cache
def zones_of_the_states() -> tuple[Zone, ...]:
    """Every zone of the database whose area of use lies in the United States, on NAD83 or NAD27.

    Examples
    --------
    >>> [zone.datum for zone in zones_of_the_states() if zone.name == "North Dakota South"]
    ['NAD27', 'NAD83']
    """
    found: dict[tuple[str, str], list[tuple[int, str, Extent]]] = {}
    for each in projected_systems():
        family, _, zone = each.name.partition(" / ")
        match, area = _FAMILY.match(family), each.area_of_use
        if match is None or not zone or area is None or not (area.name or "").startswith("United States"):
            continue
        if area.west < area.east and area.east - area.west > _WIDEST:
            continue
        name = _UNIT.sub("", zone)
        newest = ("2011", "PA11", "MA11", "NSRS2007", "CORS96", "FBN", "HARN", None).index(match[3])
        found.setdefault((name, match[1] or match[4]), []).append((newest, f"EPSG:{each.code}", area))
    made = []
    for (name, datum), rows in sorted(found.items()):
        rows.sort(key=lambda row: (row[0], row[1]))
        made.append(Zone(name, datum, tuple(code for _, code, _ in rows), rows[0][2]))
    return tuple(made)
