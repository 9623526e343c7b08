"""Whether two systems are one projection in two units, so that only a scale lies between them."""

import json
from functools import cache
from typing import TYPE_CHECKING, Any

from geoqa.frames.systems import systems
from geoqa.model.frame import Frame

if TYPE_CHECKING:
    import pyproj


def same_projection(first: Frame | str, second: Frame | str) -> bool:
    """True where two systems differ in nothing but their unit of length.

    Datum, method and every parameter agree; false origins agree to 1 mm, because the database
    rounds those it holds in feet.

    Examples
    --------
    >>> same_projection("EPSG:6498", "EPSG:6499"), same_projection("EPSG:2253", "EPSG:6499")
    (True, False)
    """
    return _same(_plan_text(first), _plan_text(second))


@cache
def _same(first: str, second: str) -> bool:
    one, two = systems(first)[0], systems(second)[0]
    return _base(one) == _base(two) and _agree(parameters(one), parameters(two))


def _base(crs: "pyproj.CRS") -> tuple[Any, ...]:
    datum = crs.geodetic_crs.datum
    ellipsoid = crs.ellipsoid
    meridian = crs.prime_meridian
    return (
        None if datum is None else datum.name.casefold().replace(" ", "_"),
        round(ellipsoid.semi_major_metre, 4),
        round(ellipsoid.inverse_flattening, 8),
        round(meridian.longitude * meridian.unit_conversion_factor, 10),
    )


def parameters(crs: "pyproj.CRS") -> dict[str, tuple[float, str, float]]:
    """Projection parameters: name to value, kind of unit (length, angle, scale) and unit factor."""
    conversion = json.loads(crs.coordinate_operation.to_json())
    held = {"method": (0.0, conversion["method"]["name"].casefold(), 1.0)}
    for each in crs.coordinate_operation.params:
        if each.unit_name.casefold() in ("unity", "ppm"):
            kind = "scale"
        else:
            kind = "angle" if "degree" in each.unit_name.casefold() or each.unit_name == "grad" else "length"
        held[each.name.casefold()] = (each.value, kind, each.unit_conversion_factor)
    return held


def _agree(one: dict[str, tuple[float, str, float]], two: dict[str, tuple[float, str, float]]) -> bool:
    if one.keys() != two.keys():
        return False
    for name, (value, kind, factor) in one.items():
        other, other_kind, other_factor = two[name]
        if kind != other_kind or abs(value * factor - other * other_factor) > (1e-3 if kind == "length" else 1e-12):
            return False
    return True


def _plan_text(given: Frame | str) -> str:
    return given.horizontal_wkt if isinstance(given, Frame) else given
