"""From what a job file says to a frame that says everything.

A frame is a projected system with a unit that its own factor decides, and, where the job states
one, a vertical system.
"""

import math
import re
from typing import TYPE_CHECKING

from geoqa.errors import FrameError
from geoqa.frames.systems import engine
from geoqa.frames.systems.area import check_area
from geoqa.frames.systems.definitions import linear_unit, short, systems, vertical_system
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT
from geoqa.model.source import Evidence

if TYPE_CHECKING:
    import pyproj

FACTOR_RANGE = (0.99, 1.01)
"""Combined factors beyond these are typing errors: 1 % of scale is 30 km of height."""
EPOCH_RANGE = (1980.0, 2100.0)
_REALIZATION = re.compile(r"\b(NAD ?83|WGS ?84|ITRF|IGS) ?\(?(HARN|FBN|[A-Z]*[0-9]+[A-Z0-9]*)\)?", re.IGNORECASE)
"""A family and its realization, as names of systems and people write it: NAD83(2011), ITRF2020, WGS 84 (G2139)."""


def resolve(
    horizontal: str,
    vertical: str | None = None,
    *,
    realization: str | None = None,
    epoch: float | None = None,
    combined_factor: float | None = None,
    ground_origin: tuple[float, float] | None = None,
    ground_shift: tuple[float, float] | None = None,
    ground_reference: str | None = None,
    geoid_name: str | None = None,
    what: tuple[str, str] = ("[frame] horizontal", "[frame] vertical"),
) -> Frame:
    """Make the job's frame from codes or definitions.

    Parameters
    ----------
    horizontal : str
        A projected system: a code such as ``EPSG:6547``, a compound code such as
        ``EPSG:6547+8228``, or the text of a WKT or PROJJSON definition.
    vertical : str, optional
        A vertical system, a code or a definition; not beside a compound `horizontal`.
    realization, geoid_name : str, optional
        As the job writes them; recorded, and printed in the title block.
    epoch : float, optional
        Decimal year of the coordinates.
    combined_factor : float, optional
        Grid distance over ground distance (ratio); needs `ground_origin`.
    ground_origin : (easting, northing), optional
        Grid position, in the frame's unit, that is the same on grid and ground, before the shift.
    ground_shift : (easting, northing), optional
        What was added to ground coordinates after scaling, in the frame's unit; negative where they were shortened.
    ground_reference : str, optional
        Where factor, origin and shift are stated; recorded and printed.
    what : tuple of str
        Where the two systems are stated, for messages.

    Returns
    -------
    Frame

    Raises
    ------
    FrameError
        The system is unknown, not projected, has other axes than east and north, a unit that is
        no foot or metre, the realization is another than the system's own, or the factor is given without its
        origin or is not plausible.

    Examples
    --------
    >>> frame = resolve("EPSG:6547+8228")
    >>> frame.unit.name, frame.vertical, frame.vertical_unit.name
    ('ft', 'EPSG:8228', 'ft')
    >>> resolve("EPSG:6565").unit.name
    'ftUS'
    """
    plan, height = systems(horizontal, what[0])
    refuse_web_map(plan, what=what[0])
    if vertical:
        if height is not None:
            raise FrameError(
                f"{what[0]} '{short(horizontal)}' already holds the vertical system '{height.name}', and "
                f"vertical is '{short(vertical)}'; write the vertical system in one of the two places."
            )
        height = vertical_system(vertical, what[1])
    _check_realization(realization, plan)
    factor, origin = _ground(combined_factor, ground_origin)
    frame = Frame(
        horizontal=_label(plan),
        horizontal_name=plan.name,
        horizontal_wkt=_wkt(plan),
        unit=linear_unit(plan, what=what[0]),
        vertical=None if height is None else _label(height),
        vertical_name=None if height is None else height.name,
        vertical_wkt=None if height is None else _wkt(height),
        vertical_unit=None if height is None else linear_unit(height, what=what[1]),
        realization=realization or None,
        epoch=_epoch(epoch),
        geoid=geoid_name or None,
        combined_factor=factor,
        ground_origin=origin,
        ground_shift=_shift(ground_shift, factor),
        ground_reference=ground_reference or None,
        database=engine.database(),
    )
    if origin is not None:
        check_area(frame, origin[:1], origin[1:], what="[frame] ground_origin")
    return frame


def refuse_web_map(plan: "pyproj.CRS", *, what: str) -> None:
    """Refuse the projection of web maps: its distances grow with the latitude, by half at 48 degrees."""
    if plan.coordinate_operation is not None and "Pseudo Mercator" in plan.coordinate_operation.method_name:
        raise FrameError(
            f"{what} is {plan.name}, made for web maps: away from the equator its distances are not those "
            "on the ground (a foot at 48° north counts as one and a half), so no tolerance holds in it. "
            "Name the zone the shots were computed in, for example EPSG:6547 (NAD83(2011) / North Dakota South (ft))."
        )


def frame_wkt(frame: Frame) -> str:
    """WKT2 of the whole frame, compound where it has a vertical system, for files that hold one.

    Examples
    --------
    >>> frame_wkt(resolve("EPSG:6547+8228"))[:12]
    'COMPOUNDCRS['
    """
    if not frame.vertical_wkt:
        return frame.horizontal_wkt
    name = f"{frame.horizontal_name} + {frame.vertical_name}"
    compound = engine.library().crs.CompoundCRS(
        name, components=[engine.crs(frame.horizontal_wkt), engine.crs(frame.vertical_wkt)]
    )
    return compound.to_wkt("WKT2_2019")


def frame_evidence(frame: Frame) -> tuple[Evidence, ...]:
    """What was found out while the frame was made, for `check`, the terminal and the record."""
    evidence = [
        Evidence(
            what="unit of the job",
            answer=f"{frame.unit.full_name} ({frame.unit.name})",
            because=f"axis factor of {frame.horizontal_name} is {frame.unit.metres_float!r} m",
        ),
        Evidence(what="coordinate-system database", answer=frame.database, because="asked with the network off"),
    ]
    if frame.realization and _realization(frame.horizontal_name) is None and _realization(frame.realization):
        evidence.append(
            Evidence(
                what="realization",
                answer=f"{frame.realization}, as the job says",
                because=f"{frame.horizontal_name} itself names none; realizations differ by centimetres to decimetres",
            )
        )
    height = frame.vertical_unit
    if height is None:
        evidence.append(
            Evidence(
                what="vertical datum",
                answer="not stated",
                because="[frame] vertical is missing; elevations are only compared with each other",
            )
        )
    elif height != frame.unit:
        mixed = {height, frame.unit} == {FOOT, US_SURVEY_FOOT}
        evidence.append(
            Evidence(
                what="TWO KINDS OF FOOT IN ONE FRAME" if mixed else "unit of elevations",
                answer=f"horizontal in {frame.unit.name}, vertical system in {height.name}",
                because=f"axis factors of {frame.horizontal_name} and {frame.vertical_name}; "
                f"elevations given in {height.name} are scaled to {frame.unit.name}",
            )
        )
    for code in (frame.horizontal, frame.vertical):
        if code and ":" in code and engine.crs(code).is_deprecated:  # a definition does not carry the mark
            evidence.append(
                Evidence(
                    what="withdrawn coordinate system",
                    answer=engine.crs(code).name,
                    because="the database marks it deprecated; ask which system replaced it",
                )
            )
    for name in engine.foreign_data():
        evidence.append(
            Evidence(
                what="another coordinate-system database may be in use",
                answer=f"environment variable {name} is set",
                because="other installations set it; unset it if coordinate systems are not found or look wrong",
            )
        )
    return tuple(evidence)


def _wkt(crs: "pyproj.CRS") -> str:
    return crs.to_wkt("WKT2_2019")


def _label(crs: "pyproj.CRS") -> str:
    """Code of a system, if the database holds exactly this one; else ``WKT``."""
    authority = crs.to_authority(min_confidence=90)
    if authority is not None:
        code = ":".join(authority)
        if engine.crs(code).equals(crs, ignore_axis_order=True):
            return code
    return "WKT"


def _epoch(epoch: float | None) -> float | None:
    if epoch is None:
        return None
    if not EPOCH_RANGE[0] <= epoch <= EPOCH_RANGE[1]:
        raise FrameError(f"[frame] epoch {epoch!r} is not a decimal year; write it like 2010.0.")
    return float(epoch)


def _ground(
    factor: float | None, origin: tuple[float, float] | None
) -> tuple[float | None, tuple[float, float] | None]:
    if factor is None and origin is None:
        return None, None
    if factor is None or origin is None:
        given, missing = (
            ("ground_origin", "combined_factor") if factor is None else ("combined_factor", "ground_origin")
        )
        raise FrameError(
            f"[frame] {given} is given without {missing}; ground coordinates need both: the factor (grid over ground) "
            "and the position that is the same on grid and ground."
        )
    if not FACTOR_RANGE[0] <= factor <= FACTOR_RANGE[1]:
        raise FrameError(
            f"[frame] combined_factor {factor!r} is not plausible; grid over ground lies between {FACTOR_RANGE[0]} and "
            f"{FACTOR_RANGE[1]}, near 1. Parts per million are written as a factor: -129.4 ppm is 0.9998706."
        )
    if len(origin) != 2 or not all(math.isfinite(value) for value in origin):
        raise FrameError(f"[frame] ground_origin {origin!r} must be an easting and a northing.")
    return float(factor), (float(origin[0]), float(origin[1]))


def _shift(shift: tuple[float, float] | None, factor: float | None) -> tuple[float, float]:
    if shift is None:
        return (0.0, 0.0)
    if factor is None:
        raise FrameError(
            "[frame] ground_shift is given without combined_factor and ground_origin; coordinates that were only "
            "shifted have combined_factor = 1.0."
        )
    if len(shift) != 2 or not all(math.isfinite(value) for value in shift):
        raise FrameError(f"[frame] ground_shift {shift!r} must be what was added to easting and to northing.")
    return float(shift[0]), float(shift[1])


def _realization(text: str) -> tuple[str, str] | None:
    """Family and realization that a text names; None where it names none.

    Examples
    --------
    >>> _realization("NAD83(2011) / North Dakota South (ft)"), _realization("NAD83 / North Dakota South (ft)")
    (('NAD83', '2011'), None)
    >>> _realization("NAD83(NSRS2007)"), _realization("NAD 83 (2007)")
    (('NAD83', '2007'), ('NAD83', '2007'))
    """
    found = _REALIZATION.search(text)
    return None if found is None else (found[1].replace(" ", "").upper(), found[2].upper().removeprefix("NSRS"))


def _check_realization(stated: str | None, plan: "pyproj.CRS") -> None:
    own = _realization(plan.name)
    other = _realization(stated or "")
    if own is not None and other is not None and own != other:
        raise FrameError(
            f"[frame] realization is '{stated}', and horizontal is {plan.name}: two realizations, centimetres "
            "to decimetres apart. Name the system of the realization the coordinates are in, or correct the words."
        )
