"""What a file that does not say its frame may be in, weighed against the other files of the job; none is chosen."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoqa.errors import FrameError
from geoqa.frames.files.moved_origin import moved_instead
from geoqa.frames.files.places import POSITIONED, around, enough, on_marks, sample, survey_epoch
from geoqa.frames.files.reading import ROLES, FileReading, Labelled, codes_of
from geoqa.frames.files.scaled_marks import scaled_instead
from geoqa.frames.moving.declared import settle
from geoqa.frames.moving.movement import movement
from geoqa.frames.readings.doubt import Doubt, Known, Reading, doubt
from geoqa.frames.systems.area import outside_area
from geoqa.frames.systems.definitions import unit_of
from geoqa.model.frame import Frame
from geoqa.model.quantity import FOOT, METRE, UNITS, US_SURVEY_FOOT, LengthUnit
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd


TOLD, HELD_BY = 12, 400
"""Readings that are asked for: where something tells them apart, and where only areas of use do."""
NAMED = 40
"""Zones that are named where none is likelier than the others; the count of the rest is told."""
USUAL = 0.5
"""Share of the best probability from which a reading is one of the usual ones, which weigh alike."""
BESIDE = 50_000.0
"""Units of the files within which the middles of two files of one site lie. Common practice, no source."""
SHOWN = 5
"""Readings that are listed; the count of those tried is told beside."""
LEAST_SHOWN = 0.05
"""Probability from which a reading is listed: a list of what is all but equally unlikely tells nothing."""


def ranking(files: Sequence[FileReading]) -> tuple[tuple[str, ...], dict[str, str]]:
    """Weigh the possible frames of the shots.

    Parameters
    ----------
    files : sequence of FileReading
        All files of the job. Those that say their system, or for which the job says it, are evidence;
        a control list that does not say is taken to be in the system of the others, and that is told.

    Returns
    -------
    general : tuple of str
        Ranked readings of the first file of shots that does not say, and the recommendation: for ``[frame]``. Empty
        where every file of shots says its own system.
    own : dict of str to str
        File name to what its check shots say of its own unit, order and datum.
    """
    codes = codes_of(files)
    lying = [each for each in files if each.role in ROLES and np.isfinite(each.places[:, :2]).any()]
    labelled = [(each, each.own) for each in lying if each.labelled and each.own is not None]
    control = [each for each in lying if each.role == "control"]
    assumed, taken = _assumed(control, labelled)
    general: list[str] = []
    own: dict[str, str] = {}
    for each in (each for each in lying if each.role == "shots" and not each.labelled):
        found = possible(each, [*labelled, *assumed], codes)
        if found is None:
            continue
        if found.readings and np.isfinite(found.readings[0].misfit):
            own[each.name] = f"{_two_readings(found)} {taken}".strip()
        elif control and (said := read_alike(each, control[0], codes)):
            own[each.name] = said
        general = general or ranked_lines(each.name, found, taken, stated_beside(each, lying))
    return tuple(general), own


def possible(reading: FileReading, labelled: Sequence[Labelled], codes: "pd.DataFrame | None" = None) -> Doubt | None:
    """Rank the readings of one file by where others lie; None where it has no position."""
    known = [
        found for other, frame in labelled if other is not reading for found in _known(reading, other, frame, codes)
    ]
    paired = {row for found in known if found.row is not None for row in found.row.tolist()}
    places = reading.places
    kept = np.array(sorted(paired)) if paired else np.arange(len(places))
    places = places[kept] if paired else sample(places)
    known = [_renumbered(found, kept) for found in known]
    shots = [reading.tables["shots"]] if reading.role == "shots" else []
    try:
        return doubt(
            places[:, 0], places[:, 1], elevation=places[:, 2], references=known, epoch=survey_epoch(shots), named=True,
            shown=HELD_BY if not known else TOLD,
        )  # fmt: skip
    except FrameError:
        return None


def instead(reading: FileReading, others: Iterable[FileReading], frame: Frame) -> list[str]:
    """What a file may be that cannot be where it is declared; the others count where they can be.

    Parameters
    ----------
    reading : FileReading
        The file.
    others : iterable of FileReading
        Those of the job, in their own numbers.
    frame : Frame
        The job's.
    """
    others = [other for other in others if other is not reading]
    codes = codes_of(others)
    labelled, left = [], []
    for other in (other for other in others if other.role in ROLES):
        if other.labelled and other.own is not None:
            labelled.append((other, other.own))
            continue
        places = _moved(other, frame, other.declared)
        if places is None or not len(places) or outside_area(frame, places[:, 0], places[:, 1]).mean() > 0.5:
            left.append(other)
        else:
            labelled.append((_as_moved(other, places), frame))
    assumed, taken = _assumed([other for other in left if other.role == "control"], labelled)
    found = possible(reading, [*labelled, *assumed], codes)
    said = [] if found is None else ranked_lines(reading.name, found, taken, stated_beside(reading, others))
    scaled = scaled_instead(reading, labelled, frame, codes)
    moved = moved_instead(reading, labelled, frame, codes)
    return [*([moved] if moved else []), *said, *([scaled] if scaled else [])]


def stated_beside(reading: FileReading, others: Iterable[FileReading]) -> dict[LengthUnit, str]:
    """Units that other files state for numbers beside those of a file, each with the first file that does."""
    found: dict[LengthUnit, str] = {}
    middle = np.nanmedian(reading.places[:, :2], axis=0)
    for other in others:
        unit = other.file.source.unit
        if other is reading or unit is None or other.file.source.unit_doubt or not len(other.places):
            continue
        if np.hypot(*(np.nanmedian(other.places[:, :2], axis=0) - middle)) < BESIDE:
            found.setdefault(unit, other.name)
    return found


def ranked_lines(
    name: str, ranked: Doubt, taken: str, stated: Mapping[LengthUnit, str] = MappingProxyType({})
) -> list[str]:
    """Ranked readings and recommendation, in lines; `stated` as of `stated_beside`."""
    if not ranked.readings:
        return [f"{name}: {ranked.recommendation}."]
    recommended = f"Recommendation: {ranked.recommendation}." + (f" {taken}" if taken else "")
    worth = ranked.readings[:SHOWN]
    if ranked.readings[0].probability < LEAST_SHOWN:
        return [*_indistinct(name, ranked, stated), recommended]
    listed = [f"{number}. {_line(each)}" for number, each in enumerate(worth, 1)]
    left = f"; the first {SHOWN}" if len(ranked.readings) > SHOWN else ""
    head = f"What {name} may be in ({ranked.tried} readings tried{left}); none is chosen:"
    return [head, *listed, recommended]


def _indistinct(name: str, ranked: Doubt, stated: Mapping[LengthUnit, str]) -> list[str]:
    """Where no reading is likelier than the next: the zones that hold the numbers, by where each puts the file."""
    top = ranked.readings[0].probability
    usual = [each for each in ranked.readings if each.probability > USUAL * top]
    usual = [each for each in usual if each.own_unit] or usual
    said = ""
    if len(stated) == 1:
        [(unit, file)] = stated.items()
        if in_unit := [each for each in usual if each.unit == unit.name]:
            usual = in_unit
            said = f" in {unit.full_name}, which {file} states for numbers beside these"
    usual.sort(key=lambda each: (each.zone, each.unit))
    more = len(ranked.readings) - len(usual[:NAMED])
    less = f"; and {many(more, 'reading')} more: other units, exchanged columns, older datums" if more else ""
    best = f"{top:.1%}".replace("%", " %")
    return [
        f"What {name} may be in ({ranked.tried} readings tried): {len(ranked.readings)} hold these numbers, none is "
        f"likelier than {best}, and none is chosen. Zones that hold them{said}, with the place they make of them:",
        "; ".join(_place(each, unit=not said) for each in usual[:NAMED]) + less,
        "Take the one in which the site lies; the line is then, for the first of these, "
        f'horizontal = "{usual[0].code}" in [frame]. A file that says its system settles it too: a design with its '
        ".prj, or control with frame = in its table.",
    ]


def _place(reading: Reading, *, unit: bool) -> str:
    """A zone, its code, and where its numbers lie in it."""
    own = "" if reading.own_unit else f' with unit = "{reading.unit}"'
    named = f"{reading.zone} in {reading.unit}" if unit else reading.zone
    return f"{named}, {reading.code}{own} (latitude {reading.latitude:.1f}, longitude {reading.longitude:.1f})"


def _line(reading: Reading) -> str:
    order = "" if reading.order == "easting first" else ", northing in the easting column"
    share = f"{reading.probability:.1%}".replace("%", " %")
    share = {"100.0 %": "over 99.9 %", "0.0 %": "under 0.1 %"}.get(share, share)
    name = f"{reading.datum} / {reading.zone} in {UNITS[reading.unit].full_name}{order} ({_declared_as(reading)})"
    said = [f"middle at latitude {reading.latitude:.3f}, longitude {reading.longitude:.3f}"]
    said += [f"{item.what} {item.answer}" for item in reading.evidence if item.what != "area of use"]
    return f"{name}, {share}: {'; '.join(said)}"


def _declared_as(reading: Reading) -> str:
    """What to declare: the code, and the unit beside it where the code alone would be another foot."""
    if reading.own_unit:
        return reading.code
    return f'not listed in it: {reading.code}, itself in {unit_of(reading.code).full_name}, and unit = "{reading.unit}"'


def _two_readings(ranked: Doubt) -> str:
    """The best reading and the next that differs in unit, order or datum, by how far check shots lie off."""
    best, *rest = ranked.readings
    unit = UNITS[best.unit]
    said = (
        f"check shots lie {best.misfit / unit.metres_float:.3f} {unit.name} off their marks if it is in {_short(best)}"
    )
    if rest:
        said += f", {rest[0].misfit / unit.metres_float:,.3f} {unit.name} if in {_short(rest[0])}"
    settled = "" if {"unit", "order", "datum"} <= set(ranked.settled) else "; that does not settle it"
    return f"{said}{settled}."


def _short(reading: Reading) -> str:
    order = "" if reading.order == "easting first" else " with northing in the easting column"
    return f"{UNITS[reading.unit].full_name}{order} ({reading.datum})"


def read_alike(shots: FileReading, control: FileReading, codes: "pd.DataFrame | None" = None) -> str:
    """Whether two files that say nothing are in the same unit and order, by check shots alone; "" without them.

    Where both lie does not matter: the numbers of one are held against those of the other.
    """
    rows = on_marks(shots.tables["shots"], control.tables["control"], codes)
    if not enough(rows):
        return ""
    here = shots.places[rows >= 0, :2]
    there = control.places[rows[rows >= 0], :2]
    off = {
        said: float(np.median(np.hypot(*(here[:, order] * float(ratio) - there).T)))
        for said, (ratio, order) in _PAIRED.items()
    }
    best = min(off, key=lambda said: off[said])
    said = f"check shots lie {off[_ALIKE]:,.3f} off their marks in {control.name}, in its numbers, {_ALIKE}"
    if best != _ALIKE:
        said += f"; {off[best]:,.3f} {best}"
    return f"{said}. This only compares the two files; where both lie, and in which unit, is not known."


_ALIKE = "read alike"
_SAME, _SWAPPED = [0, 1], [1, 0]
_PAIRED = {
    _ALIKE: (1, _SAME),
    "if they are in US survey feet and the marks in international feet": (US_SURVEY_FOOT.metres / FOOT.metres, _SAME),
    "if they are in international feet and the marks in US survey feet": (FOOT.metres / US_SURVEY_FOOT.metres, _SAME),
    "if they are in metres and the marks in international feet": (METRE.metres / FOOT.metres, _SAME),
    "if they are in metres and the marks in US survey feet": (METRE.metres / US_SURVEY_FOOT.metres, _SAME),
    "if they are in international feet and the marks in metres": (FOOT.metres, _SAME),
    "if they are in US survey feet and the marks in metres": (US_SURVEY_FOOT.metres, _SAME),
    "if easting and northing are exchanged": (1, _SWAPPED),
}


def _assumed(control: list[FileReading], labelled: Sequence[Labelled]) -> tuple[list[Labelled], str]:
    """The control list, where it says nothing, in the system of the files that say theirs; and that in words."""
    silent = [each for each in control if not each.labelled]
    if not silent or not labelled:
        return [], ""
    each, (by, frame) = silent[0], labelled[0]
    found = _moved(each, frame, frame.horizontal_wkt)
    if found is None or outside_area(frame, found[:, 0], found[:, 1]).any():
        return [], ""
    return [(each, frame)], f"This takes {each.name} to be in {_name(frame)}, as {by.name} is."


def _moved(reading: FileReading, frame: Frame, declared: str | None) -> NDArray[np.float64] | None:
    """Positions of a file in a frame, as declared; None where there is no way."""
    file, places = reading.file, reading.places
    try:
        meaning = settle(file.source, frame=frame, what=file.name, declared=declared, unit=file.unit, accept=True)
        way = movement(meaning, frame, what=file.name, easting=places[:, 0], northing=places[:, 1], ground=file.ground)
        east, north = way.positions(places[:, 0], places[:, 1], what=file.name)
    except FrameError:
        return None
    return np.column_stack([east, north, way.elevations(places[:, 2])])


def _name(frame: Frame) -> str:
    return frame.horizontal_name if frame.horizontal == "WKT" else f"{frame.horizontal_name} ({frame.horizontal})"


def _known(reading: FileReading, other: FileReading, frame: Frame, codes: "pd.DataFrame | None") -> list[Known]:
    """What another file tells of this one: its marks point by point, else its neighbourhood."""
    here, there = reading.tables, other.tables
    if (reading.role, other.role) == ("shots", "control"):
        rows = on_marks(here["shots"], there["control"], codes)
        shot, mark = np.flatnonzero(rows >= 0), rows[rows >= 0]
    elif (reading.role, other.role) == ("control", "shots"):
        rows = on_marks(there["shots"], here["control"], codes)
        shot, mark = rows[rows >= 0], np.flatnonzero(rows >= 0)
    else:
        rows = np.array([], dtype=np.int64)
    if enough(rows):
        known = other.places[mark]
        return [Known(what=other.name, frame=frame, easting=known[:, 0], northing=known[:, 1], row=shot)]
    found = around(other.name, sample(other.places), frame)
    return [] if found is None else [found]


def _renumbered(reference: Known, kept: NDArray[np.int64]) -> Known:
    return reference if reference.row is None else replace(reference, row=np.searchsorted(kept, reference.row))


def _as_moved(other: FileReading, places: NDArray[np.float64]) -> FileReading:
    """A file with its positions in the job's frame."""
    tables, start = {}, 0
    for name in POSITIONED:
        table = other.tables.get(name)
        if table is None:
            continue
        east, north = ("start_easting", "start_northing") if name == "design_elements" else ("easting", "northing")
        part = places[start : start + len(table)]
        tables[name] = table.assign(**{east: part[:, 0], north: part[:, 1]})
        start += len(table)
    return replace(other, tables={**other.tables, **tables}, places=places)
