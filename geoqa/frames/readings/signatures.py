"""What each known mistake of frame, unit or height does to coordinates, computed at the site.

Nothing here is a stored number: a foot, a zone, a frame and a convergence act differently in every
place, so each cause is a pair of functions, from true coordinates to those the file shows and back.
A displacement is shown minus true: easting, northing, elevation, in the frame's unit.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.moving.operations import Operation, pick
from geoqa.frames.systems import engine
from geoqa.frames.systems.definitions import systems, unit_of
from geoqa.frames.systems.factors import combined_factor, convergence
from geoqa.frames.systems.geographic import from_geographic, text_of, to_geographic
from geoqa.frames.systems.similar import projected_systems
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT

Array = NDArray[np.float64]
Moves = Callable[[Array], Array]

SEPARATION = (-30.0, 12.0)
"""Height of the geoid above the ellipsoid where the job states none: middle and 1 sigma, metres. Common
knowledge for the conterminous United States, no source; a wide prior, never a correction."""
GEOID_SLOPE = 5e-5
"""1 sigma of the slope of the geoid (ratio). Common knowledge, no source."""
EPOCH_SPREAD = 5.0
"""1 sigma of the epoch of a global frame about the day of survey, years."""
FACTOR_SPREAD, TURN_SPREAD = 3e-6, 3e-5
"""1 sigma of a combined factor by the height and rounding it was taken with (ratio), and of a convergence by the
place it was taken at (radians). Common practice, no source."""
NAD27_SPREAD = 150.0
"""1 sigma of the datum shift that the missing grids would tell, per axis, feet."""
GLOBAL = "EPSG:9989"
"""ITRF2020, geographic with height: what a satellite solution speaks before anybody moves it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Signature:
    """One way in which a whole file can be wrong.

    Attributes
    ----------
    cause : str
        Name of the cause; several variants share it.
    variant : str
        In words.
    gross : bool
        It moves points so far that no residual table is needed to see that something is wrong.
    open_names : tuple of str
        What it leaves open, one for each open column.
    spread : (k,) float64
        1 sigma of what is open, before any residual is seen.
    gross : bool
        It moves points by more than a survey could hide.
    unit : str
        Unit that the file is in, where the cause is a wrong unit.
    code : str
        Coordinate system that the file is in, where the cause is a wrong system.
    """

    cause: str
    variant: str
    shows: Moves
    restores: Moves
    opens: Callable[[Array], Array] | None = None
    open_names: tuple[str, ...] = ()
    spread: Array = field(default_factory=lambda: np.zeros(0))
    gross: bool = False
    unit: str = ""
    code: str = ""

    def displacement(self, points: ArrayLike) -> Array:
        """Shown minus true at true points.

        Parameters
        ----------
        points : (n, 3) array
            Easting, northing, elevation in the frame's unit.

        Returns
        -------
        (n, 3) array
            NaN where a point lacks what it takes.
        """
        points = np.asarray(points, float)
        return self.shows(points) - points

    def open_columns(self, points: ArrayLike) -> Array:
        """Change of the displacement for one unit of each open quantity, shape (n, 3, k)."""
        points = np.asarray(points, float)
        return np.zeros((*points.shape, 0)) if self.opens is None else self.opens(points)

    def restore(self, points: ArrayLike, open_values: ArrayLike = ()) -> Array:
        """True points from shown ones; undoes `shows`, and the open part at its estimate."""
        shown = np.asarray(points, float)
        values = np.asarray(open_values, float)
        if values.size:
            shown = shown - self.open_columns(shown) @ values
        return self.restores(shown)


def signatures(
    frame: Frame,
    *,
    held: Mapping[str, ArrayLike],
    epoch: float | None = None,
    separation: float | None = None,
    gross: bool = True,
) -> tuple[Signature, ...]:
    """Every known cause of this room, ready to be held against residuals.

    Parameters
    ----------
    frame : Frame
    held : mapping of str to (3,) array
        Points that a ground scale or a rotation may have been held at, by name: the marks.
    epoch : float, optional
        Decimal year of the survey; 2020.0 with a wider spread where the log does not tell.
    separation : float, optional
        Height of the geoid above the ellipsoid at the site, frame unit, negative below it.
    gross : bool
        With those that move points by more than a survey could hide: swapped axes, metres, NAD27, zones.

    Returns
    -------
    tuple of Signature
        What the coordinate-system database cannot compute offline is left out; `cannot_compute` says what.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> found = signatures(resolve("EPSG:6547"), held={}, epoch=2026.9, gross=False)
    >>> {each.cause: each.displacement([[2228500.0, 446000.0, 1460.0]]).round(2).tolist()[0]
    ...     for each in found if each.variant in ("shots in US survey feet", "ITRF2020 shown as the job's frame")}
    {'foot': [-4.46, -0.89, -0.0], 'frame-epoch': [-4.28, 2.33, -2.51]}
    """
    made = [*feet(frame), *epochs(frame, epoch), *heights(frame, separation), *grounds(frame, held, separation)]
    made += norths(frame, held)
    if gross:
        made += [*swaps(), *metres(frame), *old_datum(frame), *zones(frame)]
    return tuple(made)


def cannot_compute(frame: Frame) -> tuple[str, ...]:
    """Causes that cannot be computed for this frame, in words."""
    told = []
    if _to_global(text_of(frame)) is None:
        told.append("global frame shown as the job's: no known operation from ITRF2020 to the job's datum is here")
    if _old_zone(frame) is None:
        told.append("NAD27: the database has no NAD27 zone of this name")
    return tuple(told)


def feet(frame: Frame) -> list[Signature]:
    """The other foot, both ways; nothing for a frame in metres."""
    if frame.unit not in (FOOT, US_SURVEY_FOOT):
        return []
    other = US_SURVEY_FOOT if frame.unit == FOOT else FOOT
    ratio = float(frame.unit.metres / other.metres)
    words = {FOOT: "international feet", US_SURVEY_FOOT: "US survey feet"}
    return [
        _scaling("foot", f"shots in {words[other]}", np.full(3, ratio), unit=other.name),
        _scaling(
            "foot", f"converted from {words[other]} although not in them", np.full(3, 1.0 / ratio), unit=frame.unit.name
        ),
    ]


def metres(frame: Frame) -> list[Signature]:
    """Metres shown as the job's feet, elevations with them or not; feet shown as metres in a metric job."""
    if frame.unit == METRE:
        factor, words, shown = 1.0 / FOOT.metres_float, "feet shown as metres", FOOT
    else:
        factor, words, shown = frame.unit.metres_float, f"metres shown as {frame.unit.name}", METRE
    return [
        _scaling("metres", words, np.full(3, factor), unit=shown.name, gross=True),
        _scaling("metres", f"{words}, elevations right", np.array([factor, factor, 1.0]), unit=shown.name, gross=True),
    ]


def swaps() -> list[Signature]:
    """Easting and northing exchanged."""

    def turn(points: Array) -> Array:
        return points[:, [1, 0, 2]]

    return [Signature(cause="swapped", variant="easting and northing swapped", shows=turn, restores=turn, gross=True)]


def epochs(frame: Frame, epoch: float | None) -> list[Signature]:
    """A global frame at the day of survey shown as the job's, and the same step made once too often.

    The epoch stays open: a network may work at another one than today's, and plates move by
    centimetres a year.
    """
    way = _to_global(text_of(frame))
    if way is None:
        return []
    day, spread = (2020.0, 2 * EPOCH_SPREAD) if epoch is None else (float(epoch), EPOCH_SPREAD)

    def moved(inverse: bool, when: float) -> Moves:
        return lambda points: _through(frame, way, points, inverse=inverse, epoch=when)

    def rate(inverse: bool) -> Moves:
        def per_year(points: Array) -> Array:
            later, now = (moved(inverse, when)(points) for when in (day + 1.0, day))
            return (later - now)[:, :, None]

        return per_year

    shared: dict[str, Any] = {"cause": "frame-epoch", "open_names": ("years after the survey",)}
    shared["spread"] = np.array([spread])
    return [
        Signature(
            variant="ITRF2020 shown as the job's frame",
            shows=moved(True, day), restores=moved(False, day), opens=rate(True), **shared,
        ),
        Signature(
            variant="moved from ITRF2020 to the job's frame once too often",
            shows=moved(False, day), restores=moved(True, day), opens=rate(False), **shared,
        ),
    ]  # fmt: skip


def heights(frame: Frame, separation: float | None) -> list[Signature]:
    """Heights above the ellipsoid, the geoid with the wrong sign, and the geoid applied twice.

    With N the separation (geoid above ellipsoid): h = H + N; h + N = H + 2 N; H - N. Without a stated N
    its size is open, and the first two overlap.
    """
    per_metre = 1.0 / frame.unit.metres_float
    if separation is None:
        middle, spread = SEPARATION[0] * per_metre, SEPARATION[1] * per_metre
    else:
        middle, spread = float(separation), 0.1 * per_metre
    signatures = []
    for cause, variant, times in (
        ("ellipsoid-heights", "heights above the ellipsoid in place of elevations", 1.0),
        ("geoid-sign", "geoid separation applied with the wrong sign", 2.0),
        ("geoid-twice", "geoid separation applied twice", -1.0),
    ):

        def shows(points: Array, lift: float = times * middle) -> Array:
            return points + np.array([0.0, 0.0, lift])

        def restores(points: Array, lift: float = times * middle) -> Array:
            return points - np.array([0.0, 0.0, lift])

        def opens(points: Array, times: float = times) -> Array:
            columns = np.zeros((*points.shape, 3))
            columns[:, 2] = times * np.column_stack([np.ones(len(points)), points[:, :2] - _middle(points)])
            return columns

        signatures.append(
            Signature(
                cause=cause,
                variant=variant,
                shows=shows,
                restores=restores,
                opens=opens,
                open_names=("separation beyond the stated", "slope east", "slope north"),
                spread=np.array([spread, GEOID_SLOPE, GEOID_SLOPE]),
            )
        )
    return signatures


def grounds(frame: Frame, held: Mapping[str, ArrayLike], separation: float | None) -> list[Signature]:
    """Ground distances shown as grid ones, and the reverse: about a mark, about 0, 0, or a point not named."""
    if not held:
        return []
    marks = np.array([np.asarray(each, float) for each in held.values()])
    lift = SEPARATION[0] / frame.unit.metres_float if separation is None else float(separation)
    level = np.nanmean(marks[:, 2]) if np.isfinite(marks[:, 2]).any() else 0.0
    centre = _middle(marks)
    factor = float(combined_factor(frame, centre[:1], centre[1:2], [level + lift])[0])
    places = {f"held at {name}": np.asarray(place, float)[:2] for name, place in held.items()} | {
        "held at 0, 0": np.zeros(2)
    }
    made = []
    for kind, ratio in (("ground distances shown as grid", 1.0 / factor), ("grid distances scaled down twice", factor)):
        for name, place in places.items():
            made.append(_about("ground", f"{kind}, {name}", place, np.eye(2) * ratio))
        made.append(_about("ground", f"{kind}, held at a point not named", centre, np.eye(2) * ratio, loose=True))
    return made


def norths(frame: Frame, held: Mapping[str, ArrayLike]) -> list[Signature]:
    """Azimuths from true north taken as grid ones, turned about a held point; and the reverse.

    The convergence is that of the held point; where the crew took it is not known, so some of it stays open.
    """
    if not held:
        return []
    made = []
    for kind, sign in (("true north taken as grid north", 1.0), ("true north taken off twice", -1.0)):
        for name, point in held.items():
            place = np.asarray(point, float)[:2]
            turn = sign * np.radians(float(convergence(frame, place[:1], place[1:2])[0]))
            matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
            made.append(_about("north", f"{kind}, turned about {name}", place, matrix))
    return made


def old_datum(frame: Frame) -> list[Signature]:
    """Coordinates of the NAD27 zone of the same name.

    Without the grids only the other false origin and ellipsoid are known; the datum shift stays open.
    """
    code = _old_zone(frame)
    if code is None:
        return []
    spread = NAD27_SPREAD * FOOT.metres_float / frame.unit.metres_float
    return [
        _other_system(
            frame, code, cause="NAD27", variant=f"{engine.crs(code).name} ({code})",
            opens=lambda points: np.tile(np.eye(3)[:, :2], (len(points), 1, 1)),
            open_names=("datum shift east", "datum shift north"), spread=np.full(2, spread),
        )
    ]  # fmt: skip


def zones(frame: Frame) -> list[Signature]:
    """Coordinates of another zone of the state or its neighbours, read as the job's zone."""
    return [
        _other_system(frame, code, cause="zone", variant=f"{engine.crs(code).name} ({code})")
        for code in neighbours(frame)
    ]


def neighbours(frame: Frame, *, degrees: float = 0.5) -> tuple[str, ...]:
    """Codes of the zones on the same datum and in a like unit whose area of use meets the frame's.

    Parameters
    ----------
    frame : Frame
    degrees : float
        By how much the frame's area of use is widened.

    Examples
    --------
    >>> from geoqa.frames.systems.resolve import resolve
    >>> "EPSG:6545" in neighbours(resolve("EPSG:6547"))
    True
    """
    use = systems(text_of(frame))[0].area_of_use
    datum, _, _ = frame.horizontal_name.partition(" / ")
    if use is None or not datum:
        return ()
    found = []
    for each in projected_systems():
        area, name = each.area_of_use, each.name
        if area is None or not name.startswith(f"{datum} / ") or f"EPSG:{each.code}" == frame.horizontal:
            continue
        apart = area.west > use.east + degrees or area.east < use.west - degrees
        apart |= area.south > use.north + degrees or area.north < use.south - degrees
        if not apart and not _same_zone(name, frame.horizontal_name) and _like_unit(f"EPSG:{each.code}", frame):
            found.append(f"EPSG:{each.code}")
    return tuple(found)


def _like_unit(code: str, frame: Frame) -> bool:
    """The same kind of unit; of two feet for one zone the frame's own, or the only one."""
    try:
        unit = unit_of(code)
    except FrameError:
        return False
    return unit == frame.unit or (unit != METRE and frame.unit != METRE)


def _same_zone(one: str, two: str) -> bool:
    return _zone_name(one) == _zone_name(two)


def _zone_name(name: str) -> str:
    return name.partition(" / ")[2].partition(" (ft")[0].strip()


@cache
def _old_code(zone: str) -> str | None:
    found = [each for each in projected_systems() if each.name == f"NAD27 / {zone}"]
    return f"EPSG:{found[0].code}" if found else None


def _old_zone(frame: Frame) -> str | None:
    return _old_code(_zone_name(frame.horizontal_name))


def _other_system(frame: Frame, code: str, **attributes: Any) -> Signature:
    def shows(points: Array) -> Array:
        east, north = from_geographic(code, *to_geographic(frame, points[:, 0], points[:, 1]))
        return np.column_stack([east, north, points[:, 2]])

    def restores(points: Array) -> Array:
        east, north = from_geographic(frame, *to_geographic(code, points[:, 0], points[:, 1]))
        return np.column_stack([east, north, points[:, 2]])

    return Signature(shows=shows, restores=restores, gross=True, code=code, **attributes)


def _scaling(cause: str, variant: str, ratio: Array, *, unit: str, gross: bool = False) -> Signature:
    return Signature(
        cause=cause,
        variant=variant,
        shows=lambda points: points * ratio,
        restores=lambda points: points / ratio,
        gross=gross,
        unit=unit,
    )


def _about(cause: str, variant: str, place: Array, matrix: Array, *, loose: bool = False) -> Signature:
    """A scale or a rotation about a place, a little of its size open; `loose` leaves the place open."""
    back = np.linalg.inv(matrix)

    def mapped(points: Array, by: np.ndarray) -> Array:
        return np.column_stack([(points[:, :2] - place) @ by.T + place, points[:, 2]])

    spread, turns = (
        (FACTOR_SPREAD, np.eye(2)) if cause == "ground" else (TURN_SPREAD, np.array([[0.0, 1.0], [-1.0, 0.0]]))
    )

    def opens(points: Array) -> Array:
        columns = np.zeros((*points.shape, 3 if loose else 1))
        columns[:, :2, 0] = (points[:, :2] - place) @ turns.T
        if loose:
            columns[:, :2, 1:] = np.eye(2)
        return columns

    names = ("scale beyond" if cause == "ground" else "turn beyond", "shift east", "shift north")
    return Signature(
        cause=cause,
        variant=variant,
        shows=lambda points: mapped(points, matrix),
        restores=lambda points: mapped(points, back),
        opens=opens,
        open_names=names if loose else names[:1],
        spread=np.array([spread, 1.0, 1.0] if loose else [spread]),
    )


def _middle(points: Array) -> Array:
    """Mean easting and northing of the points that have them."""
    there = np.isfinite(points[:, :2]).all(axis=1)
    return points[there, :2].mean(axis=0) if there.any() else np.zeros(2)


_QUARTER = np.array([[0.0, 1.0], [-1.0, 0.0]])  # clockwise


@cache
def _to_global(text: str) -> Operation | None:
    """The operation from the global frame to the system's own datum, with heights; None where none is here."""
    plan = systems(text)[0]
    if plan.geodetic_crs is None:
        return None
    try:
        own = plan.geodetic_crs.to_3d().to_wkt()
        return pick(GLOBAL, own, what="global frame", accept_second_best=True)
    except FrameError:
        return None


def _through(frame: Frame, way: Operation, points: Array, *, inverse: bool, epoch: float) -> Array:
    """Positions and elevations through the operation; the change of ellipsoid height is that of elevation."""
    moved = np.full(points.shape, np.nan)
    longitude, latitude = to_geographic(frame, points[:, 0], points[:, 1])
    there = np.isfinite(longitude) & np.isfinite(latitude)
    if not there.any():
        return moved
    level = np.nan_to_num(points[there, 2]) * frame.unit.metres_float
    direction = "INVERSE" if inverse else "FORWARD"
    when = np.full(int(there.sum()), epoch)
    answer = way.transformer.transform(longitude[there], latitude[there], level, when, direction=direction)
    east, north = from_geographic(frame, answer[0], answer[1])
    lift = (np.asarray(answer[2]) - level) / frame.unit.metres_float
    moved[there] = np.column_stack([east, north, points[there, 2] + lift])
    return moved
