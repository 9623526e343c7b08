"""What an alignment is as geometry: its course, and the first thing in it that cannot be."""

import numpy as np

from geoqa.errors import GeometryInputError
from geoqa.kernels.baseline.course import Course, joints, shift
from geoqa.kernels.baseline.equations import stretches_between
from geoqa.kernels.baseline.profile import profile_problem as profile_fault
from geoqa.model.alignment import ARC, KINDS, LINE, Alignment, Piece

__all__ = ["GAP", "KINK", "clothoid", "course_of", "end_of", "first_fault", "profile_fault"]

GAP = 0.02
"""In the file's unit: how far pieces may stand apart, and stated ends from the geometry. Coordinates written to the
hundredth, with lengths and directions rounded too, stay below it."""
KINK = 0.05
"""Degrees: how far the direction may change where pieces meet, unless the job allows more."""


def course_of(pieces: tuple[Piece, ...]) -> Course:
    """The pieces as the kernels want them.

    Raises
    ------
    GeometryInputError
        A piece lacks a number, or cannot be.

    Examples
    --------
    >>> line = Piece(kind="line", easting=0.0, northing=0.0, azimuth=90.0, length=50.0, station=1000.0)
    >>> course_of((line,)).end_station
    1050.0
    """
    return Course(
        easting=np.array([each.easting for each in pieces], dtype=np.float64),
        northing=np.array([each.northing for each in pieces], dtype=np.float64),
        azimuth=np.radians(np.array([each.azimuth for each in pieces], dtype=np.float64)),
        length=np.array([each.length for each in pieces], dtype=np.float64),
        start_curvature=np.array([1.0 / each.start_radius for each in pieces], dtype=np.float64),
        end_curvature=np.array([1.0 / each.end_radius for each in pieces], dtype=np.float64),
        station=np.array([each.station for each in pieces], dtype=np.float64),
        stationed=np.array([each.length for each in pieces], dtype=np.float64),
    )


def end_of(piece: Piece) -> tuple[float, float, float]:
    """Easting, northing and azimuth (degrees) of the end of a piece.

    Examples
    --------
    >>> quarter = Piece(kind="arc", easting=0.0, northing=0.0, azimuth=0.0, length=100 * np.pi / 2,
    ...                 start_radius=-100.0, end_radius=-100.0, station=0.0)
    >>> [round(value, 6) for value in end_of(quarter)]
    [-100.0, 100.0, 270.0]
    """
    course = course_of((piece,))
    east, north, azimuth = shift(course, np.array([0]), course.length)
    return piece.easting + float(east[0]), piece.northing + float(north[0]), float(np.degrees(azimuth[0])) % 360.0


def clothoid(length: float, radius: float) -> tuple[float, float, float]:
    """A spiral from straight to a radius: how far it leads ahead and aside, and its turn in radians; all positive.

    Examples
    --------
    >>> [round(value, 4) for value in clothoid(200.0, 500.0)]
    [199.2015, 13.2953, 0.2]
    """
    if length == 0.0:
        return 0.0, 0.0, 0.0
    spiral = Piece(kind="spiral", easting=0.0, northing=0.0, azimuth=0.0, length=length, end_radius=radius, station=0.0)
    east, north, _ = end_of(spiral)
    return north, east, length / (2.0 * radius)


def first_fault(alignment: Alignment, *, gap: float = GAP, kink: float = KINK) -> tuple[str, str] | None:
    """The first thing in an alignment that cannot be: where in the file, and what is wrong and allowed.

    Parameters
    ----------
    alignment : Alignment
    gap : float
        In the alignment's unit.
    kink : float
        Degrees.

    Examples
    --------
    >>> first_fault(Alignment(name="A", pieces=(), place="line 3"))
    ('line 3', 'has no line, arc or spiral')
    """
    if not alignment.pieces:
        return alignment.place, "has no line, arc or spiral"
    for each in alignment.pieces:
        if problem := _impossible(each):
            return each.place, problem
    try:
        course = course_of(alignment.pieces)
    except GeometryInputError as error:
        return alignment.place, str(error)
    return _apart(alignment, course, gap, kink) or _labels(alignment, course) or _profile(alignment)


def _impossible(piece: Piece) -> str:
    radii = (piece.start_radius, piece.end_radius)
    if piece.kind not in KINDS:
        return f"is of the kind '{piece.kind}'; {', '.join(KINDS)} are allowed"
    if not np.isfinite([piece.easting, piece.northing, piece.azimuth, piece.length, piece.station]).all():
        return "lacks a place, a direction, a length or a station"
    if piece.length <= 0:
        return f"is {piece.length:g} long; a length is more than 0"
    if any(np.isnan(each) or each == 0 for each in radii):
        return "has a radius of 0 or none; a radius is other than 0 (positive curving right)"
    if piece.kind == LINE and any(np.isfinite(radii)):
        return "is straight and has a radius"
    if piece.kind == ARC and (radii[0] != radii[1] or not np.isfinite(radii[0])):
        return "is an arc and needs one radius"
    if piece.kind == ARC and piece.length > 2 * np.pi * abs(radii[0]):
        return "is an arc longer than its full circle"
    if np.isfinite(radii).all() and radii[0] * radii[1] < 0:
        return "is a spiral from a left curve to a right one; give one spiral for each, to and from straight"
    return ""


def _apart(alignment: Alignment, course: Course, gap: float, kink: float) -> tuple[str, str] | None:
    for each in alignment.pieces:
        if np.isfinite(each.end_easting + each.end_northing):
            east, north, _ = end_of(each)
            off = float(np.hypot(each.end_easting - east, each.end_northing - north))
            if off > gap:
                return each.place, f"ends {off:.3f} from where the file says it ends ({gap:g} is allowed)"
    meet = joints(course)
    for row, piece in enumerate(alignment.pieces[1:]):
        if meet.gap[row] > gap:
            return piece.place, f"starts {meet.gap[row]:.3f} from the end of the piece before it ({gap:g} is allowed)"
        if abs(meet.kink[row]) > kink:
            return piece.place, (
                f"turns off by {meet.kink[row]:+.4f} degrees from the piece before it ({kink:g} is allowed); if the "
                f"line is meant to have an angle there, say so: kink_deg = {np.ceil(abs(meet.kink[row]) * 10) / 10:g}"
            )
        if abs(meet.step[row]) > gap:
            return piece.place, (
                f"starts at a station {meet.step[row]:+.3f} from that of the end before it ({gap:g} is allowed); "
                "a jump of stations is a station equation"
            )
    return None


def _labels(alignment: Alignment, course: Course) -> tuple[str, str] | None:
    start, end = float(course.station[0]), course.end_station
    back, ahead = ([getattr(each, side) for each in alignment.equations] for side in ("back", "ahead"))
    for count in range(1, len(back) + 1):
        equation = alignment.equations[count - 1]
        try:
            here = float(stretches_between(start, end, back[:count], ahead[:count]).start[-1])
        except GeometryInputError as error:
            return equation.place or alignment.place, str(error).rstrip(".")
        if np.isfinite(equation.internal) and abs(here - equation.internal) > GAP:
            return equation.place, (
                f"is a station equation at {equation.internal:.2f} along the line, and its back station "
                f"{equation.back:.2f} lies at {here:.2f}"
            )
    return None


def _profile(alignment: Alignment) -> tuple[str, str] | None:
    if not alignment.profile:
        return None
    names = ("station", "elevation", "curve_in", "curve_out")
    problem = profile_fault(*(np.array([getattr(each, name) for each in alignment.profile]) for name in names))
    if problem is None:
        return None
    return alignment.profile[problem[0]].place, f"as a point of the profile {problem[1]}"
