"""Where the files of a folder lie: what they say, what they may be in, and the frame in which kinds are guessed."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from geoqa.errors import FrameError, GeoqaError
from geoqa.frames.files.drawn_unit import by_unit_words, distances_by_unit, told_unit
from geoqa.frames.files.place import place_files
from geoqa.frames.files.places import positions, sample
from geoqa.frames.files.reading import FileAsRead, FileReading, Placement, as_stated, frame_lines
from geoqa.frames.systems.resolve import resolve
from geoqa.job.begin.comment import one_line, printable
from geoqa.job.begin.listing import Found
from geoqa.job.document.quoted import quoted
from geoqa.model.frame import Frame
from geoqa.model.quantity import LengthUnit

EPOCH = """# realization = "NAD83(2011)"   # and epoch = 2010.0, as the correction service or the control sheet says"""


@dataclass(frozen=True)
class OpenUnit:
    """A file's unit that only a person can settle: what the other files tell of it, and that in words."""

    best: LengthUnit | None
    because: str

    def line(self) -> str:
        """The line of the draft that asks for it."""
        proposal = "" if self.best is None else f'"{self.best.name}"? '
        return f'unit = "REQUIRED"   # {proposal}{self.because}'


def placed(files: list[FileAsRead], frame: str | None) -> Placement:
    """What the files are in, as the commands that read the job will say; a frame in which they cannot be says nothing.

    The check shots are asked of each file's own unit, also where the frame is given.
    """
    if frame is None:
        try:
            return place_files(files, None)
        except GeoqaError as error:  # a draft is written all the same, with what keeps the files from being placed
            return Placement(frame=None, files=tuple(map(as_stated, files)), candidates=(one_line(error),))
    try:
        return place_files(files, resolve(frame), ranked=True)
    except GeoqaError as error:
        return replace(placed(files, None), candidates=() if isinstance(error, FrameError) else (one_line(error),))


def told_frame(placement: Placement) -> tuple[Frame, str] | None:
    """The one system that files name, and the first file that does; None where none does, or two differ."""
    named = [file for file in placement.files if file.own is not None]
    systems = {file.own.horizontal_wkt for file in named if file.own is not None}
    if len(systems) != 1 or named[0].own is None:
        return None
    return named[0].own, named[0].name


def in_frame(files: list[FileAsRead], frame: Frame) -> tuple[FileReading, ...]:
    """Every file by itself in a frame; one that cannot lie there is left out."""
    carried: list[FileReading] = []
    for file in files:
        with suppress(GeoqaError):
            carried += place_files([replace(file, accept=True)], frame).files
    return tuple(carried)


def frame_table(listing: tuple[Found, ...], frame: str | None, placement: Placement) -> str:
    """What is declared, where nothing is, what it may be, and what is in doubt: comments only, never a choice."""
    declared = sorted({f"{each.path.name} says {each.peek.crs[:80]}" for each in listing if each.peek.crs})
    lines = [*(one_line(line) for line in declared), *(printable(line) for line in frame_lines(placement))]
    evidence = "".join(f"# {line}\n" for line in lines)
    horizontal = f"horizontal = {quoted(frame)}" if frame else _required(placement)
    return f'[frame]\n{evidence}{horizontal}\n# vertical = "EPSG:8228"   # e.g. NAVD88 height (ft)\n{EPOCH}'


def _required(placement: Placement) -> str:
    told = told_frame(placement)
    if told is None or told[0].horizontal == "WKT":
        return 'horizontal = "REQUIRED"   # e.g. "EPSG:6547"; it says its own foot. An unlabelled foot is a question.'
    frame, name = told
    return (
        f'horizontal = "REQUIRED"   # "{frame.horizontal}"? So says {one_line(name)}: {frame.horizontal_name}, '
        f"in {frame.unit.full_name}."
    )


def _unstated_units(files: Sequence[FileReading]) -> dict[str, OpenUnit]:
    """Where no system is known: design that states no unit, held against shots that state theirs, as numbers."""
    found: dict[str, OpenUnit] = {}
    for reading in files:
        doubt = str(getattr(reading.file.source, "unit_doubt", ""))
        if reading.role != "design" or not doubt or reading.file.source.unit is not None:
            continue
        best, said = None, "no system is known yet that would tell it"
        for other in files:
            unit = other.file.source.unit
            if other.role == "shots" and unit is not None and best is None:
                away = distances_by_unit(reading, sample(positions({"shots": other.tables["shots"]})[:, :2]), unit)
                best = told_unit(away)
                said = f"{by_unit_words(away)}, by {one_line(other.name)} in {unit.full_name}" if away else said
        found[reading.name] = OpenUnit(best, f"{one_line(doubt)}; {said}")
    return found


def open_units(files: list[FileAsRead], placement: Placement, frame: str | None) -> dict[str, OpenUnit]:
    """The unit of each design file whose own word on it is not certain, and not that of the frame."""
    told = told_frame(placement)
    if frame:
        with suppress(GeoqaError):  # a frame that is none is told where it is asked for
            told = resolve(frame), ""
    found: dict[str, OpenUnit] = {}
    if told is None:
        return _unstated_units(placement.files)
    carried = in_frame(files, told[0])
    shots = [positions({"shots": each.layers["shots"]})[:, :2] for each in carried if "shots" in each.layers]
    places = sample(np.concatenate([np.empty((0, 2)), *shots]))
    for reading in placement.files:
        doubt = str(getattr(reading.file.source, "unit_doubt", ""))
        if reading.role != "design" or not doubt or reading.file.source.unit == told[0].unit:
            continue
        away = distances_by_unit(reading, places, told[0].unit)
        said = by_unit_words(away) if away else "nothing here tells it"
        found[reading.name] = OpenUnit(told_unit(away), f"{one_line(doubt)}; {said}")
    return found
