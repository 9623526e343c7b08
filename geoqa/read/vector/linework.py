"""Drawn lines and points to design tables: vertices and bulges become legs and true arcs with stations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.source import Evidence, Trouble
from geoqa.read.delimited.spreadsheet import DATE_REASON
from geoqa.read.delimited.values import LARGEST

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike
    from shapely import LineString

Elevations = Literal["auto", "as-drawn", "none"]

SAGITTA = 0.005
"""How far the chords that draw an arc may leave it, in the file's unit; drawing only."""

FAR_LEG, OUT_OF_PROPORTION = 50_000.0, 100.0
"""A leg longer than this in the file's unit, and so many times all others, is told. Common practice, no source."""

_SAME = 1e-9


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line as it was drawn.

    Attributes
    ----------
    name, kind : str
    vertices : (n, 2) float64
        Easting, northing.
    elevations : (n,) float64
        NaN where unknown.
    bulges : (n - 1,) float64
        Tangent of a quarter of the arc's angle, positive for a curve to the left; 0 straight.
    number : int
        Its number in the file, from 1.
    layer : str
    """

    name: str
    kind: str
    vertices: np.ndarray
    elevations: np.ndarray
    bulges: np.ndarray
    number: int
    layer: str


@dataclass(frozen=True, kw_only=True)
class Point:
    """One point as it was drawn."""

    name: str
    kind: str
    easting: float
    northing: float
    elevation: float
    number: int
    layer: str


@dataclass(kw_only=True)
class Drawn:
    """What was drawn in one file, and what could not be taken."""

    file: str
    lines: list[Line] = field(default_factory=list)
    points: list[Point] = field(default_factory=list)
    evidence: list[Evidence] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    naming: str = "give each its own"
    """What to do where two things have one name."""
    _values: dict[str, set[str]] = field(default_factory=dict)
    _repeated: set[str] = field(default_factory=set)

    @property
    def different(self) -> tuple[str, ...]:
        """Attributes that had another value with every feature, and one with each."""
        return tuple(sorted(self._values))

    def tell_apart(self, attributes: Mapping[str, Any]) -> None:
        """Look at the attributes of one feature more; those of which one value comes back tell nothing apart."""
        first = not self._values and not self._repeated
        for key in [*self._values] if not first else [*attributes]:
            value, seen = attributes.get(key), self._values.setdefault(key, set())
            text = "" if value is None or isinstance(value, float) else str(value).strip()
            if not text or text in seen:
                del self._values[key]
                self._repeated.add(key)
            else:
                seen.add(text)

    def pieces(self) -> tuple[Line | Point, ...]:
        """The lines, then the points."""
        return *self.lines, *self.points

    def trouble(self, number: int, layer: str, text: str, reason: str) -> None:
        """Name something that was not read."""
        self.troubles.append(Trouble(line=number, column=f"layer {layer}", text=text, reason=reason))

    def dated(self, number: int, layer: str, name: str) -> None:
        """Name something whose name is a date; it stands, under that name."""
        column = f"name in layer {layer}"
        self.troubles.append(Trouble(line=number, column=column, text=name, reason=DATE_REASON, kept=True))

    def add_line(
        self,
        name: str,
        kind: str,
        places: ArrayLike,
        *,
        number: int,
        layer: str,
        bulges: ArrayLike | None = None,
        closed: bool = False,
    ) -> None:
        """Take a line of (easting, northing, elevation) rows, unless it has no length.

        A vertex that repeats the one before it in plan is left out.
        """
        rows: np.ndarray = np.asarray(places, dtype=np.float64).reshape(-1, 3)
        legs = len(rows) if closed else max(len(rows) - 1, 0)
        turns = np.zeros(legs) if bulges is None else np.asarray(bulges, dtype=np.float64)
        if closed:
            rows = np.vstack([rows, rows[:1]])
        if not (np.abs(rows[:, :2]) < LARGEST).all() or not (np.abs(turns) < LARGEST).all():
            self.trouble(number, layer, name, "has a vertex without a place on the earth; not read")
            return
        if (vast := np.abs(rows[:, 2]) >= LARGEST).any():
            self.trouble(
                number, layer, name, f"has no elevation on the earth at vertex {np.argmax(vast) + 1}; left out"
            )
            rows = np.column_stack([rows[:, :2], np.where(vast, np.nan, rows[:, 2])])
        ahead = rows[1:] - rows[:-1]
        moved = np.hypot(ahead[:, 0], ahead[:, 1]) > _SAME
        if not moved.all():
            jumps = np.flatnonzero(~moved & (np.abs(ahead[:, 2]) > _SAME))
            if len(jumps):
                self.trouble(
                    number, layer, name, f"steps in elevation at vertex {jumps[0] + 2}; the first one is taken"
                )
            turns, rows = turns[moved], rows[np.append(True, moved)]
        if len(rows) < 2:
            self.trouble(number, layer, name, "has no length; not read")
            return
        if stray := _stray(rows[:, :2]):
            self.troubles.append(Trouble(line=number, column=f"layer {layer}", text=name, reason=stray, kept=True))
        self.lines.append(
            Line(
                name=name,
                kind=kind,
                vertices=rows[:, :2],
                elevations=rows[:, 2],
                bulges=turns,
                number=number,
                layer=layer,
            )
        )

    def add_point(self, name: str, kind: str, place: Iterable[float], *, number: int, layer: str) -> None:
        """Take a point (easting, northing, elevation)."""
        easting, northing, elevation = (float(each) for each in place)
        if not (abs(easting) < LARGEST and abs(northing) < LARGEST):
            self.trouble(number, layer, name, "has no place on the earth; not read")
            return
        self.points.append(
            Point(
                name=name,
                kind=kind,
                easting=easting,
                northing=northing,
                elevation=elevation if np.isfinite(elevation) else np.nan,
                number=number,
                layer=layer,
            )
        )


def _stray(vertices: np.ndarray) -> str:
    """What is said of a line one of whose legs is out of all proportion; the line is read as it is.

    Examples
    --------
    >>> _stray(np.array([[0.0, 0.0], [40.0, 0.0], [80.0, 2_000_000.0], [120.0, 0.0]]))
    'has its vertex 3 2,000,000 from the next one, the others no more than 40; read as it is. Is the file damaged?'
    >>> _stray(np.array([[0.0, 0.0], [40.0, 0.0], [900.0, 0.0]]))
    ''
    """
    ahead = np.diff(vertices, axis=0)
    legs = np.hypot(ahead[:, 0], ahead[:, 1])
    if len(legs) < 2 or legs.max() < FAR_LEG:
        return ""
    long = legs > legs.max() / 2.0
    if long.all() or long.sum() > 2 or legs.max() < OUT_OF_PROPORTION * legs[~long].max():
        return ""
    first = int(np.argmax(long))
    at = first if first == 0 else first + 1
    return (
        f"has its vertex {at + 1} {legs.max():,.0f} from the next one, the others no more than "
        f"{legs[~long].max():,.0f}; read as it is. Is the file damaged?"
    )


MEND = '; what its words stand for is said in the job, e.g. layers."*" = "KIND"'
"""What to do where a drawing or a vector file holds nothing that is design."""


def design_tables(drawn: Drawn, *, source: str, elevations: Elevations, mend: str = "") -> dict[str, pd.DataFrame]:
    """Make the tables design_lines, design_elements and design_points.

    `mend` says what to do where nothing was drawn.

    Raises
    ------
    SourceError
        Nothing was drawn, or two things have one name.
    """
    import pandas as pd

    from geoqa.model.tables.columns import conform

    if not drawn.lines and not drawn.points:
        named = "".join(f"\n  {each}" for each in drawn.troubles[:5])
        raise SourceError(
            f"'{drawn.file}' holds no design line and no design point that can be read{mend}. A line needs two places "
            f"that lie apart, a point needs its name.{named}"
        )
    _refuse_one_name_for_two(drawn)
    _settle_elevations(drawn, elevations)
    lines = pd.DataFrame(
        {
            "line": [each.name for each in drawn.lines],
            "kind": [each.kind for each in drawn.lines],
            "source": [source] * len(drawn.lines),
            "geometry": pd.Series([chords(each.vertices, each.bulges) for each in drawn.lines], dtype=object),
        }
    )
    points = pd.DataFrame(
        {
            "point": [each.name for each in drawn.points],
            "kind": [each.kind for each in drawn.points],
            "source": [source] * len(drawn.points),
            "easting": [each.easting for each in drawn.points],
            "northing": [each.northing for each in drawn.points],
            "elevation": [each.elevation for each in drawn.points],
        }
    )
    return {
        "design_lines": conform("design_lines", lines),
        "design_elements": elements_of(drawn.lines),
        "design_points": conform("design_points", points),
    }


def elements_of(lines: Sequence[Line]) -> pd.DataFrame:
    """Make one straight leg or arc of each pair of neighbouring vertices, with its stations from 0.

    Notes
    -----
    With chord c and bulge b = tan(angle / 4): radius c (1 + b^2) / (4 |b|), centre on the chord's left
    normal at c (1 - b^2) / (4 b) from its middle, length 4 atan|b| times the radius.

    Examples
    --------
    >>> half = Line(name="A", kind="curb-flow", vertices=np.array([[0.0, 0.0], [2.0, 0.0]]),
    ...             elevations=np.array([9.0, 9.0]), bulges=np.array([-1.0]), number=1, layer="A")
    >>> row = elements_of([half]).iloc[0]
    >>> row["shape"], int(row["sense"]), float(row["radius"]), round(float(row["length"]), 6)
    ('arc', 1, 1.0, 3.141593)
    """
    import pandas as pd

    from geoqa.model.tables.columns import conform, empty

    if not lines:
        return empty("design_elements")
    counts = np.array([len(each.bulges) for each in lines])
    start = np.concatenate([each.vertices[:-1] for each in lines])
    end = np.concatenate([each.vertices[1:] for each in lines])
    bulge = np.concatenate([each.bulges for each in lines])
    low = np.concatenate([each.elevations[:-1] for each in lines])
    high = np.concatenate([each.elevations[1:] for each in lines])
    centre, radius, length = _arcs(start, end, bulge)
    first = np.repeat(np.cumsum(counts) - counts, counts)
    before = np.cumsum(length) - length
    frame = pd.DataFrame(
        {
            "line": np.repeat([each.name for each in lines], counts),
            "sequence": np.arange(len(bulge)) - first,
            "shape": np.where(bulge == 0.0, "line", "arc"),
            "start_easting": start[:, 0],
            "start_northing": start[:, 1],
            "end_easting": end[:, 0],
            "end_northing": end[:, 1],
            "centre_easting": centre[:, 0],
            "centre_northing": centre[:, 1],
            "radius": radius,
            "sense": -np.sign(bulge).astype(np.int64),
            "start_station": _stations(length, counts, before, first),
            "length": length,
            "start_elevation": low,
            "end_elevation": high,
        }
    )
    return conform("design_elements", frame)


def chords(vertices: np.ndarray, bulges: np.ndarray) -> LineString:
    """Draw a line as chords that leave its arcs by at most `SAGITTA`; for drawing, never for measuring."""
    import shapely

    if not bulges.any():
        return shapely.LineString(vertices)
    centre, radius, length = _arcs(vertices[:-1], vertices[1:], bulges)
    drawn = [vertices[:1]]
    for at in range(len(bulges)):
        if bulges[at] != 0.0:
            drawn.append(_along_arc(vertices[at], centre[at], radius[at], length[at] / radius[at], bulges[at]))
        drawn.append(vertices[at + 1 : at + 2])
    return shapely.LineString(np.concatenate(drawn))


def _along_arc(start: np.ndarray, centre: np.ndarray, radius: float, angle: float, bulge: float) -> np.ndarray:
    step = 2.0 * np.arccos(max(1.0 - SAGITTA / radius, 0.5))
    parts = max(int(np.ceil(angle / step)), 1)
    turn = np.sign(bulge) * angle * np.arange(1, parts) / parts
    away = start - centre
    cos, sin = np.cos(turn), np.sin(turn)
    return centre + np.column_stack([cos * away[0] - sin * away[1], sin * away[0] + cos * away[1]])


def _arcs(start: np.ndarray, end: np.ndarray, bulge: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Centre, radius and length of each piece; centre and radius NaN where straight."""
    ahead = end - start
    chord = np.hypot(ahead[:, 0], ahead[:, 1])
    curved = np.where(bulge == 0.0, np.nan, bulge)
    radius = chord * (1.0 + curved**2) / (4.0 * np.abs(curved))
    away = (1.0 - curved**2) / (4.0 * curved)
    left = np.column_stack([-ahead[:, 1], ahead[:, 0]])
    centre = start + ahead / 2.0 + away[:, None] * left
    length = np.where(bulge == 0.0, chord, 4.0 * np.arctan(np.abs(bulge)) * radius)
    return centre, radius, length


def _stations(length: np.ndarray, counts: np.ndarray, before: np.ndarray, first: np.ndarray) -> np.ndarray:
    """Station at the start of each piece, summed line by line so that a long file costs no digits."""
    if len(counts) > 1000:
        return before - before[first]
    edges = np.cumsum(counts)[:-1]
    return np.concatenate([np.cumsum(each) - each for each in np.split(length, edges)])


def _refuse_one_name_for_two(drawn: Drawn) -> None:
    seen: dict[str, Line | Point] = {}
    for each in drawn.pieces():
        twin = seen.setdefault(each.name, each)
        if twin is not each:
            raise SourceError(
                f"'{drawn.file}' names two things '{each.name}': {_where(twin)} and {_where(each)}; "
                f"findings keep their design by name, so {drawn.naming}."
            )


def _where(drawn: Line | Point) -> str:
    easting, northing = drawn.vertices[0] if isinstance(drawn, Line) else (drawn.easting, drawn.northing)
    what = "line from" if isinstance(drawn, Line) else "point at"
    return f"no. {drawn.number} in layer {drawn.layer} ({what} {easting:.2f}, {northing:.2f})"


def _settle_elevations(drawn: Drawn, policy: Elevations) -> None:
    """Decide what a Z of 0 means: a flat drawing has it everywhere, and means no elevation by it."""

    def unknown(piece: Line | Point) -> bool:
        values = np.atleast_1d(piece.elevations if isinstance(piece, Line) else piece.elevation)
        return policy == "none" or (policy == "auto" and not np.any(np.isfinite(values) & (values != 0.0)))

    lost = [unknown(each) for each in drawn.pieces()]
    lines, points = lost[: len(drawn.lines)], lost[len(drawn.lines) :]
    drawn.lines = [
        replace(each, elevations=np.full(len(each.elevations), np.nan)) if none else each
        for each, none in zip(drawn.lines, lines, strict=True)
    ]
    drawn.points = [
        replace(each, elevation=np.nan) if none else each for each, none in zip(drawn.points, points, strict=True)
    ]
    answer = f"{len(lost) - sum(lost)} of {len(lost)} lines and points have them"
    because = {
        "none": 'elevations = "none" in the job',
        "as-drawn": 'elevations = "as-drawn" in the job',
        "auto": 'a Z of 0 or none throughout is no elevation; state elevations = "as-drawn" if 0 is meant',
    }[policy]
    drawn.evidence.append(Evidence(what="elevations", answer=answer, because=because))
