"""An alignment from a plain table: points of intersection, or curve data piece by piece."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.alignment import ARC, LINE, SPIRAL, STRAIGHT, Alignment, Piece
from geoqa.model.baseline import end_of
from geoqa.model.format import Format
from geoqa.model.source import Evidence, Source
from geoqa.model.station import ALLOWED, parse_station
from geoqa.read.baseline import angles
from geoqa.read.baseline.alignment_reader import AlignmentReader
from geoqa.read.baseline.intersections import Intersection, IntersectionFault, pieces_of
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.lengths import file_unit
from geoqa.read.delimited.listing import Listing, ListingReader, listing

if TYPE_CHECKING:
    pass

SOUGHT: Sought = {
    "shape": (("shape", "element"), ("kind", "type")),
    "point": (("point", "pi"), ("name", "id", "no")),
    "easting": (("easting", "east"), ("e", "x")),
    "northing": (("northing", "north"), ("n", "y")),
    "azimuth": (("azimuth", "bearing", "direction"), ()),
    "length": (("length",), ("arc_length", "l")),
    "radius": (("radius", "start_radius"), ("r",)),
    "end_radius": (("end_radius",), ("radius_out",)),
    "turn": (("turn", "hand"), ("left_right", "side")),
    "spiral_in": (("spiral_in",), ("ls_in", "ls1", "spiral_length_in")),
    "spiral_out": (("spiral_out",), ("ls_out", "ls2", "spiral_length_out")),
    "spiral": (("spiral", "spirals"), ("ls", "spiral_length")),
    "station": (("station", "start_station"), ("sta",)),
}
_SHAPES = {"line": LINE, "tangent": LINE, "straight": LINE, "arc": ARC, "curve": ARC, "spiral": SPIRAL,
           "clothoid": SPIRAL}  # fmt: skip
_LENGTHS = ("length", "radius", "end_radius", "spiral_in", "spiral_out", "spiral", "station")


class AlignmentTable(AlignmentReader, ListingReader):
    """An alignment from delimited text with a header.

    With a column `shape` every row is a line, an arc or a spiral: its length, its radius (positive curving right,
    or with `turn` L or R; for a spiral also `end_radius`, empty where it is straight), and for the first row at least
    where it starts and its direction. Without it every row is a point of intersection: easting, northing, and,
    where there is a curve, its radius, and the length of its spirals if it has any.
    """

    format: ClassVar[Format | None] = Format(
        title="table of an alignment: points of intersection, or its pieces",
        keeps="lines, arcs, clothoids, spirals in and out, the station of the start",
        loses="no coordinate system, superelevation or cross sections",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("easting", "northing")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file.

        Raises
        ------
        SourceError
            A row cannot be read, or the alignment does not hold together: file, line and what is allowed are named.
        """
        rows = listing(self, path)
        stated = {ours: unit for ours, unit in rows.unit.items() if (ours, unit) != ("spiral_in", "in")}
        unit, foreign, found = file_unit(rows.table.name, stated, places=("easting", "northing"), lengths=_LENGTHS)
        if foreign:
            raise SourceError(
                f"'{rows.table.name}': {', '.join(sorted(foreign))} in another unit than the coordinates; give one."
            )
        made = _pieces(rows, self) if "shape" in rows.place else intersections(rows, kink=self.kink_deg)
        return self.source_of(
            Alignment(name=path.stem, pieces=made, place=rows.at(0)),
            file=rows.table.name,
            unit=unit,
            facts=dict(rows.table.facts),
            evidence=(*rows.evidence, *found),
            troubles=tuple(rows.troubles),
        )


def _number(rows: Listing, ours: str, at: int) -> float:
    """A number of one row; NaN where the field is empty."""
    text = rows.raw(ours).iloc[at].strip()
    if not text:
        return float("nan")
    try:
        value = float(text.replace(",", ".") if rows.table.decimal == "," else text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        raise _fault(rows, at, f"{ours} '{text[:40]}' is no number; leave the field empty where there is none")
    return value


def _fault(rows: Listing, at: int, what: str) -> SourceError:
    return SourceError(f"'{rows.table.name}', {rows.at(at)}: {what}.")


def _station(rows: Listing, at: int) -> float | None:
    text = rows.raw("station").iloc[at].strip()
    if not text:
        return None
    read = parse_station(text)
    if read is None or read[1] is not None:
        raise _fault(rows, at, f"station '{text[:40]}' is none; {ALLOWED}")
    return read[0]


def _turn(rows: Listing, at: int) -> float:
    """+1 right, -1 left, 0 not said."""
    text = rows.raw("turn").iloc[at].strip().casefold()
    if text not in ("", "l", "left", "r", "right"):
        raise _fault(rows, at, f"turn '{text[:40]}' is none; L or R is")
    return {"": 0.0, "l": -1.0, "r": 1.0}[text[:1]]


def intersections(rows: Listing, *, kink: float) -> tuple[Piece, ...]:
    """Lines, arcs and spirals of rows that are points of intersection; `kink` in degrees.

    Raises
    ------
    SourceError
        A row cannot be; it is named, with what is allowed.
    """
    points = []
    for at in range(len(rows.table)):
        both = _number(rows, "spiral", at)
        one, other = (_number(rows, name, at) for name in ("spiral_in", "spiral_out"))
        lengths = [both if np.isnan(each) else each for each in (one, other)]
        if any(each < 0 for each in lengths):
            raise _fault(rows, at, "a spiral of negative length; 0 or more is allowed")
        point = Intersection(
            easting=_number(rows, "easting", at),
            northing=_number(rows, "northing", at),
            radius=_number(rows, "radius", at),
            spiral_in=float(np.nan_to_num(lengths[0])),
            spiral_out=float(np.nan_to_num(lengths[1])),
            place=rows.at(at),
        )
        if np.isnan(point.easting + point.northing):
            raise _fault(rows, at, "a point of intersection needs easting and northing")
        points.append(point)
    if len(points) < 2:
        raise _fault(rows, 0, "a line needs two points at least")
    ends = [at for at in (0, len(points) - 1) if not np.isnan(points[at].radius)]
    if ends:
        raise _fault(rows, ends[0], "the first and the last point are the ends of the line and have no curve")
    stations = [_station(rows, at) for at in range(len(points))]
    if any(each is not None for each in stations[1:]):
        rows.evidence.append(
            Evidence(what="station", answer="of the first row", because="those of the other points follow from it")
        )
    try:
        made = pieces_of(points, start=stations[0] or 0.0, kink=kink)
    except IntersectionFault as fault:
        place, what = fault.args
        raise SourceError(f"'{rows.table.name}', {place}: it {what}.") from None
    for at, point in enumerate(points):
        hand = _turn(rows, at)
        radius = next((each.end_radius for each in made if each.place == point.place and each.kind == ARC), None)
        if hand and radius is not None and hand * radius < 0:
            way = "right" if radius > 0 else "left"
            raise _fault(rows, at, f"turn says {'R' if hand > 0 else 'L'}, and the points turn {way} there")
    return made


def _pieces(rows: Listing, reader: AlignmentTable) -> tuple[Piece, ...]:
    made: list[Piece] = []
    for at in range(len(rows.table)):
        word = rows.raw("shape").iloc[at].strip().casefold()
        if word not in _SHAPES:
            raise _fault(rows, at, f"shape '{word[:40]}' is none; line, arc and spiral are")
        first, last = _radii(rows, at, _SHAPES[word])
        made.append(_chained(rows, at, made, kind=_SHAPES[word], first=first, last=last))
    return tuple(made)


def _radii(rows: Listing, at: int, kind: str) -> tuple[float, float]:
    hand = _turn(rows, at)
    radii = [_number(rows, name, at) for name in ("radius", "end_radius")]
    for each in radii:
        if each == 0:
            raise _fault(rows, at, "a radius of 0; a radius is other than 0, and empty where it is straight")
        if hand and each * hand < 0 and each < 0:
            raise _fault(rows, at, "a negative radius curves left, and turn says R; give one of the two")
    if hand:
        radii = [abs(each) * hand for each in radii]
    if kind == ARC:
        if np.isnan(radii[0]):
            raise _fault(rows, at, "an arc needs a radius")
        return radii[0], radii[0]
    straight = [STRAIGHT if np.isnan(each) else each for each in radii]
    if kind == SPIRAL and np.isnan(radii).all():
        raise _fault(rows, at, "a spiral needs the radius at one end: radius at its start, end_radius at its end")
    return straight[0], straight[1]


def _chained(rows: Listing, at: int, made: list[Piece], *, kind: str, first: float, last: float) -> Piece:
    """A piece with what its row says; what it does not say follows from the end of the piece before."""
    easting, northing = _number(rows, "easting", at), _number(rows, "northing", at)
    text = rows.raw("azimuth").iloc[at].strip()
    azimuth = angles.degrees(text) if text else float("nan")
    if azimuth is None:
        raise _fault(rows, at, f"direction '{text[:40]}' is none; {angles.ALLOWED}")
    station = _station(rows, at)
    if made:
        east, north, heading = end_of(made[-1])
        follows = made[-1].station + made[-1].length
        easting, northing = (east, north) if np.isnan(easting + northing) else (easting, northing)
        azimuth = heading if np.isnan(azimuth) else azimuth
        station = follows if station is None else station
    elif np.isnan(easting + northing + azimuth):
        raise _fault(rows, at, "the first piece needs easting, northing and direction of its start")
    length = _number(rows, "length", at)
    if not length > 0:
        raise _fault(rows, at, "a length is more than 0")
    return Piece(
        kind=kind, easting=easting, northing=northing, azimuth=azimuth, length=length, start_radius=first,
        end_radius=last, station=station or 0.0, place=rows.at(at),
    )  # fmt: skip
