"""Whether the origin of a design was moved or turned: proposed with the lines of the job for it, never applied."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.files.better import better_reading, declared_words
from geoqa.frames.files.design_pieces import design_pieces, named_marks
from geoqa.frames.files.far_away import FAR
from geoqa.frames.files.moved_words import ambiguous_words, found_words, marks_words
from geoqa.frames.files.places import around, positions, sample
from geoqa.frames.files.reading import FileReading, FrameDoubt, Labelled
from geoqa.frames.readings.signatures import SEPARATION
from geoqa.frames.systems.factors import combined_factor
from geoqa.kernels.control.moved_marks import moved_marks, turned_back
from geoqa.kernels.design.moved_origin import ROUND, MovedOrigin, moved_origin, on_design
from geoqa.model.frame import Frame
from geoqa.model.quantity import UNITS

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]

REACH = 3.048
"""Metres (10 ft) from design of its kind up to which a shot is near it: what is nearer is no moved origin."""
NEAR = 0.3
"""Metres from its design up to which a shot lies on it, once the shift is found. Common practice, no source."""
CELL = 1.2
FIT = 0.1
"""Metres that may be left at a mark. Common practice, no source."""
MOST_APART = 0.8
FEWEST = 8
ASKED = 300
"""Shots that are asked, evenly taken of all."""
FOOT = 2e-6
"""The two feet differ by this share."""
HEIGHT_PPM = 5e-6
"""Share of a coordinate by which ground coordinates about 0, 0 are not known: the height of the site."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Survey:
    """What a design is held against, in the job's frame.

    Attributes
    ----------
    at : (n, 3) float64
        Shots of features.
    kinds : (n,) object
        Their kinds.
    control : DataFrame or None
    """

    at: Array
    kinds: NDArray[np.object_]
    control: "pd.DataFrame | None"


def survey_of(
    shots: "Sequence[pd.DataFrame]", control: "pd.DataFrame | None", codes: "pd.DataFrame | None"
) -> Survey | None:
    """Shots with the kind of their code; None where there is neither shot nor mark to hold a design against."""
    import pandas as pd

    at, kinds = [np.empty((0, 3))], [np.empty(0, dtype=object)]
    if codes is not None and "kind" in codes:
        listed = codes[codes["role"] == "feature"].drop_duplicates("code")
        kind_of = pd.Series(listed["kind"].to_numpy(dtype=object), index=listed["code"].str.strip())
        for table in shots:
            kind = table["code"].str.strip().map(kind_of)
            place = table[["easting", "northing", "elevation"]].to_numpy(float)
            there = kind.notna().to_numpy() & np.isfinite(place[:, :2]).all(axis=1)
            at.append(place[there])
            kinds.append(kind[there].to_numpy(dtype=object))
    survey = Survey(at=np.concatenate(at), kinds=np.concatenate(kinds), control=control)
    return survey if len(survey.at) or control is not None else None


def moved_designs(
    files: Sequence[FileReading], survey: Survey | None, frame: Frame, doubted: set[str]
) -> Iterable[FrameDoubt]:
    """Designs of which the origin may have been moved, with what would put it back."""
    for reading in files:
        if survey is None or reading.role != "design" or reading.name in doubted or reading.file.ground:
            continue
        others = [each.layers for each in files if each.role == "design" and each is not reading]
        away = _away(reading, survey, frame)
        if away > FAR and _read_otherwise(reading, survey, frame):
            continue
        said = moved_words(reading, reading.layers, survey, frame, others=others, far=away > FAR)
        if said:
            doubted.add(reading.name)
            yield FrameDoubt(
                file=reading.name,
                declared=declared_words(reading, frame),
                better="moved origin",
                declared_misfit=away,
                better_misfit=np.nan,
                words=said,
            )


def moved_instead(
    reading: FileReading, labelled: Sequence[Labelled], frame: Frame, codes: "pd.DataFrame | None"
) -> str:
    """The same of a design that lies outside the frame's area of use."""
    if reading.role != "design" or reading.file.ground or not _in_projection(reading, frame):
        return ""
    known = [(other, _in_unit(other, frame)) for other, _ in labelled if _in_projection(other, frame)]
    marks = [tables["control"] for other, tables in known if "control" in tables]
    shots = [tables["shots"] for other, tables in known if other.role == "shots" and "shots" in tables]
    survey = survey_of(shots, marks[0] if marks else None, codes)
    return "" if survey is None else moved_words(reading, _in_unit(reading, frame), survey, frame, far=True)


def moved_words(
    reading: FileReading,
    tables: "Mapping[str, pd.DataFrame]",
    survey: Survey,
    frame: Frame,
    *,
    others: "Iterable[Mapping[str, pd.DataFrame]]" = (),
    far: bool = False,
) -> str:
    """What to know of a design whose origin may have been moved; "" where it was not, or nothing can be told.

    Parameters
    ----------
    reading : FileReading
    tables : mapping
        Its tables, in the unit of the job.
    survey : Survey
    frame : Frame
    others : iterable of mapping
        Tables of the other designs: shots that lie near them tell nothing of this one.
    far : bool
        It is said elsewhere already that the file lies far away.
    """
    per_metre = 1.0 / frame.unit.metres_float
    pieces, kinds = design_pieces(tables)
    at, of, every = _asked(survey, pieces, kinds, others, REACH * per_metre)
    number = {name: place for place, name in enumerate(sorted(set(kinds.tolist())))}
    mine = np.array([number[each] for each in of], dtype=np.int64)
    theirs = np.array([number[each] for each in kinds], dtype=np.int64)
    told = len(at) >= FEWEST
    near = REACH * per_metre
    names, grid, plan = named_marks(tables, survey.control)
    marks = moved_marks(grid, plan, fit=FIT * per_metre)
    turned = marks.answer in ("turned", "scaled")
    if told and on_design(at, mine, pieces, theirs, near=near).mean() > 1 - MOST_APART:
        # a small turn leaves most shots within reach: they tell by lying on their lines once it is undone
        undone = [at, turned_back(at, -marks.turn, plan, grid)] if turned else []
        on_line = [int(on_design(each, mine, pieces, theirs, near=NEAR * per_metre).sum()) for each in undone]
        if not turned or on_line[1] < max(on_line[0] + FEWEST, len(at) * MOST_APART):
            return ""
    if marks.answer != "few":
        if marks.answer == "shift" and np.hypot(*marks.shift) <= near:
            return ""
        on = -1
        if told and marks.answer in ("shift", "turned"):
            there = at + np.array(marks.shift) if not turned else turned_back(at, -marks.turn, plan, grid)
            on = int(on_design(there, mine, pieces, theirs, near=near).sum())
        return marks_words(reading, frame, marks, names, grid, on=on, of=len(at), level=_level(survey), plan=plan)
    if not told:
        return ""
    shift = moved_origin(at, mine, pieces, theirs, cell=CELL * per_metre, near=NEAR * per_metre)
    if shift.answer in ("found", "round") and np.hypot(*shift.shift) > REACH * per_metre:
        return found_words(
            reading,
            frame,
            shift,
            at,
            rival=_rival(shift, at, _level(survey), frame),
            vouched=survey.control is not None,
        )
    if len(at) < MOST_APART * every or (far and shift.answer == "none"):
        return ""
    return ambiguous_words(reading, shift.answer)


def _asked(
    survey: Survey, pieces: Array, kinds: NDArray[np.object_], others: "Iterable[Mapping[str, pd.DataFrame]]",
    reach: float,
) -> tuple[Array, NDArray[np.object_], int]:  # fmt: skip
    """Shots of the design's kinds that no other design explains, evenly taken, and how many there are in all."""
    mine = np.isin(survey.kinds.astype(str), kinds.astype(str)) if len(pieces) else np.zeros(len(survey.at), bool)
    left = mine.copy()
    for tables in others:
        there, of = design_pieces(tables)
        number = {name: place for place, name in enumerate(sorted(set(of.tolist())))}
        rows = np.flatnonzero(left)
        asked = [number.get(each, -1) for each in survey.kinds[rows]]
        left[rows] = ~on_design(survey.at[rows, :2], asked, there, [number[each] for each in of], near=reach)
    rows = np.flatnonzero(left)
    every = int(mine.sum())
    kept = rows[:: max(-(-len(rows) // ASKED), 1)]
    return survey.at[kept, :2], survey.kinds[kept], round(every * len(kept) / max(len(rows), 1))


def _rival(shift: MovedOrigin, at: Array, level: float, frame: Frame) -> str:
    """Another reading that makes the same shift: the other foot, or ground coordinates about 0, 0."""
    middle, by = at.mean(axis=0), np.array(shift.shift)
    per_metre = 1.0 / frame.unit.metres_float
    feet = [np.hypot(*(by - sign * FOOT * middle)) for sign in (1, -1)]
    if min(feet) <= 2 * NEAR * per_metre:
        return "foot"
    try:
        factor = float(combined_factor(frame, middle[:1], middle[1:], [level + SEPARATION[0] * per_metre])[0])
    except FrameError:
        return ""
    left = by - middle * (1.0 / factor - 1.0)
    off = np.abs(left - np.round(left / ROUND) * ROUND)
    alike = shift.answer != "round" and (off <= HEIGHT_PPM * np.abs(middle) + NEAR * per_metre).all()
    return f"ground {factor:.6f}" if alike else ""


def _level(survey: Survey) -> float:
    level = survey.at[:, 2][np.isfinite(survey.at[:, 2])]
    if not len(level) and survey.control is not None:
        level = survey.control["elevation"].dropna().to_numpy(float)
    return float(np.median(level)) if len(level) else 0.0


def _away(reading: FileReading, survey: Survey, frame: Frame) -> float:
    """Metres from the middle of the design to the nearest shot or mark."""
    known = _known(survey)
    mine = positions(reading.layers)
    mine = mine[np.isfinite(mine[:, :2]).all(axis=1)]
    if not len(known) or not len(mine):
        return 0.0
    return float(np.hypot(*(known[:, :2] - np.median(mine[:, :2], axis=0)).T).min()) * frame.unit.metres_float


def _read_otherwise(reading: FileReading, survey: Survey, frame: Frame) -> bool:
    rest = around("other files", _known(survey), frame)
    return rest is not None and better_reading(reading, sample(reading.places), [rest], frame) is not None


def _known(survey: Survey) -> Array:
    marks = np.empty((0, 3))
    if survey.control is not None:
        marks = survey.control[["easting", "northing", "elevation"]].to_numpy(float)
    known = np.concatenate([survey.at, marks])
    return known[np.isfinite(known[:, :2]).all(axis=1)]


def _in_projection(reading: FileReading, frame: Frame) -> bool:
    return reading.own is None or reading.own.horizontal_wkt == frame.horizontal_wkt


def _in_unit(reading: FileReading, frame: Frame) -> "dict[str, pd.DataFrame]":
    """Tables as read, lengths in the job's unit."""
    from geoqa.model.tables.columns import COORDINATES

    unit = reading.file.unit or reading.file.source.unit or frame.unit
    factor = float(UNITS[unit.name].metres / frame.unit.metres)
    tables = dict(reading.tables)
    for name, table in tables.items():
        axes = [axis for place in COORDINATES.get(name, ()) for axis in place[:2] if axis in table]
        tables[name] = table.assign(**{axis: table[axis] * factor for axis in axes}) if factor != 1.0 else table
    return tables
