"""Obstructions in walks: what they leave of the width."""

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.linework.sections import FOUND, sections
from geoqa.kernels.walks.numbers import Numbers, distances
from geoqa.model.quantity import UNITS, LengthUnit
from geoqa.steps.linework.pairs import Pair
from geoqa.steps.walks.judged import stacked, taken_numbers

KIND = "obstruction"
_SIZE = re.compile(
    r"\b(?P<what>r|rad|radius|d|dia|diam|diameter)\b\.?\s*[=:]?\s*(?P<size>\d+\.?\d*|\.\d+)\s*(?P<unit>ftUS|ft|in|cm|mm|m)?\b",
    re.IGNORECASE,
)
_CENTRE = re.compile(r"\b(centre|center|ctr)\b", re.IGNORECASE)
_FACE = re.compile(r"\bface\b", re.IGNORECASE)


@dataclass(frozen=True)
class Shape:
    """What a shot of an obstruction is of.

    Attributes
    ----------
    radius : float
        In the job's unit, from the shot to its face; NaN: its centre was shot and nobody says how large it is.
    words : str
        How it is known.
    told : bool
        The text says what was shot.
    """

    radius: float
    words: str
    told: bool = True


def shape_of(text: str, unit: LengthUnit) -> Shape:
    """Read from a note, or from the meaning of its code, what was shot.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> [shape_of(text, FOOT).radius for text in ("pole, centre, r 0.4 ft", "dia 6 in", "face of box", "")]
    [0.4, 0.25, 0.0, 0.0]
    >>> shape_of("center of post", FOOT).words
    'centre shot, size not told'
    """
    if found := _SIZE.search(text):
        written = next((name for name in UNITS if name.lower() == (found["unit"] or "").lower()), None)
        size = float(found["size"]) * (UNITS[written].metres_float / unit.metres_float if written else 1.0)
        radius = size / 2 if found["what"].lower().startswith("d") else size
        return Shape(radius, f"centre shot, radius {radius:.2f} {unit.name}")
    if _CENTRE.search(text):
        return Shape(float("nan"), "centre shot, size not told")
    if _FACE.search(text):
        return Shape(0.0, "face shot")
    return Shape(0.0, "taken for its face, size not told", told=False)


@dataclass(frozen=True, kw_only=True, eq=False)
class Left:
    """Width that obstructions leave.

    Attributes
    ----------
    table : DataFrame
        A row each: kind, subject, label, easting, northing, line (number of the pair), station, reason.
    width : Numbers
    """

    table: pd.DataFrame
    width: Numbers


def left_beside(
    shots: pd.DataFrame, pairs: list[Pair], codes: pd.DataFrame, unit: LengthUnit, *, reach: float, gap: float
) -> Left:
    """Width on the wider side of every obstruction that stands between the edges of a walk.

    Parameters
    ----------
    shots : DataFrame
        Of `observed`; members are its places.
    pairs : list of Pair
    codes : DataFrame
        Their `meaning` is read where a note says nothing.
    unit : LengthUnit
    reach, gap : float
        As of the sections.
    """
    rows, parts = [], []
    standing = np.flatnonzero((shots["kind"] == KIND).to_numpy(bool) & (shots["why_plan"] == 0).to_numpy(bool))
    places = shots[["easting", "northing", "elevation"]].to_numpy(float)
    meaning = dict(zip(codes["code"].str.strip(), codes["meaning"].fillna(""), strict=True))
    for number, pair in enumerate(pairs):
        for row in standing.tolist():
            laid = [_foot(places, row, string.rows, reach, gap) for string in (pair.first, pair.second)]
            feet = [foot for foot in laid if foot is not None]
            if len(feet) < 2 or not _between(places, row, feet):
                continue
            sides = [distances(places, np.array([[row, *rows_]]), np.array([[-1.0, *weights]]))
                     for rows_, weights in feet]  # fmt: skip
            wider = int(np.argmax([side.value[0] for side in sides]))
            note = str(shots["note"].iloc[row]) if pd.notna(shots["note"].iloc[row]) else ""
            shape = shape_of(note, unit)
            if not shape.told:
                shape = shape_of(meaning.get(str(shots["code"].iloc[row]).strip(), ""), unit)
            found = sides[wider]
            parts.append(_less(found, shape.radius))
            name = shots["name"].iloc[row]
            rows.append(
                {
                    "kind": pair.kind,
                    "subject": pair.name,
                    "label": f"beside the obstruction at shot {name} ({shape.words})",
                    "easting": places[row, 0],
                    "northing": places[row, 1],
                    "line": number,
                    "station": _station(places, row, pair),
                    "reason": "size-not-told" if np.isnan(shape.radius) else "",
                }
            )
    return Left(table=pd.DataFrame(rows), width=stacked(parts))


def _less(width: Numbers, radius: float) -> Numbers:
    made = taken_numbers(width, np.array([0]))
    made.value[0] -= radius
    return made


Foot = tuple[list[int], list[float]]


def _foot(places: np.ndarray, row: int, line: np.ndarray, reach: float, gap: float) -> Foot | None:
    """The shots of an edge that a place is square to, and their weights."""
    beside = np.vstack([places[row, :2], places[row, :2]])
    laid = sections(beside, places[line, :2], reach=reach, gap=gap)
    if laid.why[0] == FOUND or laid.before[0] >= 0:
        share = float(laid.share[0])
        return [int(line[laid.before[0]]), int(line[laid.after[0]])], [1 - share, share]
    return None


def _between(places: np.ndarray, row: int, feet: list[Foot]) -> bool:
    """Whether the place lies between both edges: its feet lie on opposite sides of it."""
    ways = [np.array(foot[1]) @ places[foot[0], :2] - places[row, :2] for foot in feet]
    return bool(ways[0] @ ways[1] < 0)


def _station(places: np.ndarray, row: int, pair: Pair) -> float:
    line = places[pair.first.rows, :2]
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T)))
    nearest = int(np.argmin(np.hypot(*(line - places[row, :2]).T)))
    return float(along[nearest])
