"""The baseline of a job: a centre line of lines, arcs and spirals, its station equations and its profile.

This record is what every reader of an alignment hands over, in the file's own unit, and what the kernels of
`geoqa.kernels.baseline` take apart. Stations in it are *continuous*: the distance along the line on top of the
start station, as if there were no equation. What is written on the drawing is made of them by the equations.
"""

from dataclasses import dataclass, field

LINE, ARC, SPIRAL = "line", "arc", "spiral"
KINDS = (LINE, ARC, SPIRAL)
STRAIGHT = float("inf")
"""Radius of what does not curve."""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One horizontal element, from its start.

    Attributes
    ----------
    kind : str
        ``line``, ``arc`` or ``spiral`` (clothoid: curvature changes evenly with length).
    easting, northing : float
        Where it starts.
    azimuth : float
        Direction at its start, degrees clockwise from grid north.
    length : float
        Along it.
    start_radius, end_radius : float
        Positive curving right, negative curving left, infinite where straight. Equal on an arc; a spiral of
        which neither is infinite joins two curves.
    station : float
        Continuous station of its start.
    end_easting, end_northing : float
        Where the file says it ends; NaN where the file does not say. Checked against the rest.
    place : str
        Where it stands in the file, for a message: ``line 12``.
    """

    kind: str
    easting: float
    northing: float
    azimuth: float
    length: float
    start_radius: float = STRAIGHT
    end_radius: float = STRAIGHT
    station: float
    end_easting: float = float("nan")
    end_northing: float = float("nan")
    place: str = ""


@dataclass(frozen=True, kw_only=True)
class Equation:
    """A station equation: what is called `back` coming from the start is called `ahead` going on.

    Attributes
    ----------
    back, ahead : float
        Stations as written. The back station is of the stretch that ends here.
    internal : float
        Continuous station of the place, where the file states it; NaN where it follows from the back stations.
    place : str
    """

    back: float
    ahead: float
    internal: float = float("nan")
    place: str = ""


@dataclass(frozen=True, kw_only=True)
class Pvi:
    """A point of the profile where two grades meet, with the parabola about it.

    Attributes
    ----------
    station, elevation : float
        Continuous station; elevation of the intersection of the grades.
    curve_in, curve_out : float
        Length of the curve before and after it; equal halves where it is symmetrical, 0 where it is none.
    place : str
    """

    station: float
    elevation: float
    curve_in: float = 0.0
    curve_out: float = 0.0
    place: str = ""


@dataclass(frozen=True, kw_only=True)
class Alignment:
    """A centre line, whole.

    Attributes
    ----------
    name : str
    pieces : tuple of Piece
        In order, each beginning where the one before it ends.
    equations : tuple of Equation
        In order along the line.
    profile : tuple of Pvi
        In order; empty where the file has none.
    profile_name : str
    superelevation : str
        Where the file has superelevation, in words, for the note that it is not used; empty where there is none.
    place : str
        Where the alignment stands in the file.
    """

    name: str
    pieces: tuple[Piece, ...]
    equations: tuple[Equation, ...] = ()
    profile: tuple[Pvi, ...] = ()
    profile_name: str = ""
    superelevation: str = ""
    place: str = ""
    notes: tuple[str, ...] = field(default=())
    """What of the file was left out or read in one of several ways, a sentence each."""
