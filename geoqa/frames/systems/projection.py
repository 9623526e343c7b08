"""Whether two systems are one projection in two units, so that only a scale lies between them."""

import json
from functools import cache
from typing import TYPE_CHECKING, Any

from geoqa.frames.systems.definitions import systems
from geoqa.frames.systems.geographic import text_of
from geoqa.model.frame import Frame

if TYPE_CHECKING:
    import pyproj

ORIGINS_AGREE = 1e-3
"""Metres by which false origins of one projection may differ: the database rounds those it holds in feet."""
ANGLES_AGREE = 1e-12
"""Radians, and the tolerance of scale factors: definitions in text carry 12 digits or more."""

Parameter = tuple[float, str, float]
"""Value, kind (length, angle, scale) and factor to metres, radians or 1."""


def same_projection(first: Frame | str, second: Frame | str) -> bool:
    """True where two systems differ in nothing but their unit of length.

    Datum, method and every parameter agree; false origins agree to 1 mm.

    Parameters
    ----------
    first, second : Frame or str
        Or the code or WKT of a projected system.

    Examples
    --------
    >>> same_projection("EPSG:6498", "EPSG:6499"), same_projection("EPSG:2253", "EPSG:6499")
    (True, False)
    """
    return _shift(text_of(first), text_of(second)) is not None


def same_datum(first: Frame | str, second: Frame | str) -> bool:
    """True where two systems stand on the same datum, ellipsoid and prime meridian.

    Examples
    --------
    >>> same_datum("EPSG:6547", "EPSG:6559"), same_datum("EPSG:2253", "EPSG:6499")
    (True, False)
    """
    one, two = systems(text_of(first))[0], systems(text_of(second))[0]
    return _base(one) == _base(two)


def origin_shift(source: Frame | str, target: Frame | str) -> tuple[float, float] | None:
    """What must be added to coordinates, in metres, for the false origins of one projection to agree.

    Two definitions of one zone in two units differ in their false origin by the rounding of the
    database, a few hundredths of a millimetre.

    Returns
    -------
    (easting, northing) or None
        Metres; None where the two are not one projection, see `same_projection`.

    Examples
    --------
    >>> [round(each, 7) for each in origin_shift("EPSG:6498", "EPSG:6499")]
    [-1.6e-05, 0.0]
    """
    return _shift(text_of(source), text_of(target))


@cache
def _shift(source: str, target: str) -> tuple[float, float] | None:
    if source == target:
        return 0.0, 0.0
    here, there = systems(source)[0], systems(target)[0]
    if _base(here) != _base(there):
        return None
    one, two = _parameters(here), _parameters(there)
    if not _agree(one, two):
        return None
    shift = {"easting": 0.0, "northing": 0.0}
    for name, (value, kind, factor) in one.items():
        for axis in shift:
            if kind == "length" and axis in name:
                shift[axis] += two[name][0] * two[name][2] - value * factor
    return shift["easting"], shift["northing"]


def _base(plan: "pyproj.CRS") -> tuple[str | float | None, ...]:
    """Datum, ellipsoid and prime meridian."""
    datum = None if plan.geodetic_crs is None else plan.geodetic_crs.datum
    ellipsoid: Any = plan.ellipsoid
    meridian: Any = plan.prime_meridian
    return (
        None if datum is None else datum.name.casefold().replace(" ", "_"),
        round(ellipsoid.semi_major_metre, 4),
        round(ellipsoid.inverse_flattening, 8),
        round(meridian.longitude * meridian.unit_conversion_factor, 10),
    )


def _parameters(plan: "pyproj.CRS") -> dict[str, Parameter]:
    operation: Any = plan.coordinate_operation
    method = json.loads(operation.to_json())["method"]["name"].casefold()
    held: dict[str, Parameter] = {"method": (0.0, method, 1.0)}
    for each in operation.params:
        held[each.name.casefold()] = (each.value, _kind(each), each.unit_conversion_factor)
    return held


def _kind(parameter: Any) -> str:
    unit = parameter.unit_name.casefold()
    if unit in ("unity", "parts per million"):
        return "scale"
    return "angle" if any(word in unit for word in ("degree", "grad", "radian", "second")) else "length"


def _agree(one: dict[str, Parameter], two: dict[str, Parameter]) -> bool:
    if one.keys() != two.keys():
        return False
    for name, (value, kind, factor) in one.items():
        other, other_kind, other_factor = two[name]
        near = ORIGINS_AGREE if kind == "length" else ANGLES_AGREE
        if kind != other_kind or abs(value * factor - other * other_factor) > near:
            return False
    return True
