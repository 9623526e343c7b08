"""From a code or definition to a coordinate system that can be measured in, or a refusal that says why.

Names are not accepted: the library matches them loosely, and a loose match is a guess. Codes and
full definitions (WKT, PROJJSON) are.
"""

import re
from functools import cache
from typing import TYPE_CHECKING

from geoqa.errors import FrameError, QuantityError
from geoqa.frames.systems import engine
from geoqa.frames.systems.similar import similar
from geoqa.model.quantity import LengthUnit, unit_of_factor

if TYPE_CHECKING:
    import pyproj

_CODE = re.compile(r"^[A-Za-z][A-Za-z0-9_]*:[A-Za-z0-9_.]+(\+([A-Za-z][A-Za-z0-9_]*:)?[A-Za-z0-9_.]+)?$")
_SITE_GRID = (
    " A grid of the site's own is stated as a projected system about the site (PROJCRS in WKT, any ellipsoid, scale 1 "
    "at a point of the site): distances are then those of that grid."
)
_DEFINITION = re.compile(r"^\s*(\{|[A-Z_0-9]+\s*\[)", re.DOTALL)


@cache
def systems(text: str, what: str = "[frame] horizontal") -> "tuple[pyproj.CRS, pyproj.CRS | None]":
    """Split a code or definition into its projected system and its vertical system, if it has one.

    A definition that carries its own datum-shift parameters loses them: shifts are chosen from
    the database, never from a file.

    Raises
    ------
    FrameError
        Unknown, not projected, or with axes that are not east and north.
    """
    crs = _known(text, what, "PROJECTED_CRS")
    parts = [_unbound(part) for part in crs.sub_crs_list] if crs.is_compound else [_unbound(crs)]
    plan = parts[0]
    height = parts[1] if len(parts) > 1 else None
    if not plan.is_projected:
        raise FrameError(
            f"{what} '{short(text)}' is {plan.name}, {a_kind_of(plan)}; distances, offsets and tolerances "
            "need a projected system with eastings and northings. Name the zone the coordinates are in, for example "
            "EPSG:6547 (NAD83(2011) / North Dakota South (ft))." + _SITE_GRID * (plan.type_name == "Engineering CRS")
        )
    directions = tuple(axis.direction.lower() for axis in plan.axis_info[:2])
    if sorted(directions) != ["east", "north"]:
        raise FrameError(
            f"{what} '{short(text)}' ({plan.name}) has axes towards {' and '.join(directions)}; "
            "only systems with axes towards east and north can be used."
        )
    if len(plan.axis_info) > 2:
        plan = plan.to_2d()
    return plan, height


@cache
def vertical_system(text: str, what: str = "[frame] vertical") -> "pyproj.CRS":
    """Find a vertical system that grows upwards.

    Raises
    ------
    FrameError
        Unknown, not vertical, or a depth.
    """
    crs = _unbound(_known(text, what, "VERTICAL_CRS"))
    if not crs.is_vertical or crs.is_compound:
        raise FrameError(
            f"{what} '{short(text)}' is {crs.name}, {a_kind_of(crs)}; name a vertical system, "
            "for example EPSG:8228 (NAVD88 height (ft)) or EPSG:5703 (NAVD88 height, metres)."
        )
    if crs.axis_info[0].direction.lower() != "up":
        raise FrameError(f"{what} '{short(text)}' ({crs.name}) is a depth; elevations must grow upwards.")
    return crs


def linear_unit(crs: "pyproj.CRS", *, what: str) -> LengthUnit:
    """Unit of a projected or vertical system, from its own factor and never from its name."""
    factors = {axis.unit_conversion_factor for axis in crs.axis_info}
    if len(factors) != 1:
        raise FrameError(
            f"{what} ({crs.name}) has axes in different units ({sorted(factors)} m); use one with one unit."
        )
    try:
        return unit_of_factor(factors.pop())
    except QuantityError as error:
        raise FrameError(f"{what} ({crs.name}): {error}") from error


def unit_of(text: str) -> LengthUnit:
    """Unit of the projected system that a code or definition names."""
    plan, _ = systems(text)
    return linear_unit(plan, what=text)


def plan_text(text: str | None) -> str | None:
    """Definition of the horizontal part alone; what cannot be read is handed back as it is."""
    if text is None:
        return None
    try:
        return systems(text)[0].to_wkt("WKT2_2019")
    except FrameError:
        return text


def kind_of(crs: "pyproj.CRS") -> str:
    """Kind of a coordinate system, in words: ``geographic 2D system``."""
    words = crs.type_name.replace("CRS", "system")
    return words[:1].lower() + words[1:]


def a_kind_of(crs: "pyproj.CRS") -> str:
    """The same with its article: ``an engineering system``."""
    words = kind_of(crs)
    return f"{'an' if words[0] in 'aeio' else 'a'} {words}"


def short(text: str) -> str:
    """Text on one line, cut for a message."""
    flat = " ".join(text.split())
    return flat if len(flat) <= 60 else flat[:57] + "..."


def _known(text: str, what: str, kind: str) -> "pyproj.CRS":
    if _CODE.match(text.strip()):
        try:
            return engine.crs(text.strip())
        except FrameError as error:
            if "+" in text:
                raise FrameError(f"{what} '{text}' cannot be put together: {error.__cause__}") from error
            raise FrameError(
                f"{what} '{text}' is not in the coordinate-system database ({engine.database()}). {similar(text, kind)}"
            ) from None
    if _DEFINITION.match(text):
        try:
            return engine.crs(text)
        except FrameError as error:
            raise FrameError(f"{what} holds a definition that cannot be read: {error}") from error
    raise FrameError(
        f"{what} '{short(text)}' is neither a code such as EPSG:6547 nor a WKT or PROJJSON definition. "
        f"Names and other short forms are matched loosely and are not accepted. {similar(text, kind)}"
    )


def _unbound(crs: "pyproj.CRS") -> "pyproj.CRS":
    return crs.source_crs if crs.is_bound and crs.source_crs is not None else crs
