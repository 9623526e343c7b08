"""Every file of a job resolved once: what it is in, where that puts it, and whether that can be."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from geoqa.errors import AreaError
from geoqa.frames.files.candidates import instead, ranking
from geoqa.frames.files.disagreement import frame_doubts
from geoqa.frames.files.lost_points import refuse_lost_points
from geoqa.frames.files.reading import FileAsRead, FileReading, Placement, as_stated
from geoqa.frames.moving.convert import carry
from geoqa.frames.moving.declared import settle
from geoqa.frames.moving.geoid import GeoidGrid
from geoqa.model.frame import Frame
from geoqa.model.quantity import UNITS
from geoqa.model.source import Evidence
from geoqa.model.tables.columns import COORDINATES, TABLES, lengths_of

if TYPE_CHECKING:
    import pandas as pd


def place_files(
    files: Sequence[FileAsRead], frame: Frame | None, *, geoid: GeoidGrid | None = None, ranked: bool = False
) -> Placement:
    """Say of every file of a job what it is in, and bring it into the job's frame.

    Parameters
    ----------
    files : sequence of FileAsRead
        All files of the job: each is held against the others.
    frame : Frame or None
        The job's. Without one nothing is moved, and what the shots may be in is ranked; none is chosen.
    geoid : GeoidGrid, optional
        For files with ellipsoid heights.
    ranked : bool
        Also with a frame, ask the check shots of each file that does not say its system.

    Returns
    -------
    Placement

    Raises
    ------
    AreaError
        Most of a file lies outside the frame's area of use; the message says what the file may be instead.
    SourceError
        A mark lost its decimal point.
    FrameError
        A file contradicts the job or itself, or there is no way into the job's frame.

    Examples
    --------
    >>> import pandas as pd
    >>> from geoqa.frames.systems.resolve import resolve
    >>> from geoqa.model.source import Source
    >>> points = pd.DataFrame({"easting": [2228000.0], "northing": [444000.0], "elevation": [1457.0]})
    >>> read = FileAsRead(role="shots", name="day1.csv", source=Source(layers={"shots": points}), key="day1")
    >>> reading = place_files([read], resolve("EPSG:6547")).files[0]
    >>> reading.meaning.unit.name, reading.assumed[0].answer
    ('ft', "assumed: the job's frame, NAD83(2011) / North Dakota South (ft)")
    """
    refuse_lost_points(files)
    stated = [as_stated(file) for file in files]
    candidates, own = ranking(stated) if frame is None or ranked else ((), {})
    readings = [replace(reading, candidate=own.get(reading.name, "")) for reading in stated]
    if frame is None:
        return Placement(frame=None, files=tuple(readings), candidates=candidates)
    carried = [_carried(reading, stated, frame, geoid) for reading in readings]
    doubts = frame_doubts(carried, frame)
    return Placement(
        frame=frame,
        files=tuple(
            replace(reading, doubts=tuple(doubt for doubt in doubts if doubt.file == reading.name))
            for reading in carried
        ),
        doubts=doubts,
    )


def _carried(reading: FileReading, stated: Sequence[FileReading], frame: Frame, geoid: GeoidGrid | None) -> FileReading:
    """A file in the job's frame; one that cannot lie there is refused with what it may be instead."""
    try:
        return in_frame(reading, frame, geoid)
    except AreaError as error:
        others = [other for other in stated if other.name != reading.name]
        raise AreaError("\n  ".join([str(error), *instead(reading, others, frame)])) from None


def in_frame(reading: FileReading, frame: Frame, geoid: GeoidGrid | None = None) -> FileReading:
    """A file in the job's frame.

    Raises
    ------
    AreaError
        Most of it lies outside the frame's area of use.
    FrameError
        As `place_files`.
    """
    file = reading.file
    if not any(name in COORDINATES or _drawn(name, table) for name, table in reading.tables.items()):
        return _scaled(reading, frame)
    meaning = settle(
        file.source,
        frame=frame,
        what=file.name,
        declared=file.declared,
        unit=file.unit,
        vertical=file.vertical,
        ellipsoid_heights=file.heights == "ellipsoid",
        accept=file.accept,
    )
    layers, moved = carry(
        file.source,
        meaning,
        frame=frame,
        heights=file.heights,
        geoid=geoid,
        ground=file.ground,
        epoch=file.epoch,
        accuracy_limit=file.accuracy_limit,
        accept_operation=file.accept_operation,
        what=file.name,
    )
    return replace(reading, meaning=meaning, layers=layers, assumed=(*meaning.evidence, *moved))


def _scaled(reading: FileReading, frame: Frame) -> FileReading:
    """A file that lies nowhere: its lengths, which are heights, in the job's unit."""
    lengths = {name: lengths_of(name) for name in reading.tables if name in TABLES and lengths_of(name)}
    if not lengths:
        return replace(reading, layers=dict(reading.tables))
    file = reading.file
    stated = UNITS.get(file.vertical or "", file.unit or file.source.unit)
    unit = stated or frame.unit
    factor = float(unit.metres / frame.unit.metres)
    layers = dict(reading.tables)
    for name, columns in lengths.items():
        layers[name] = layers[name].assign(**{each: layers[name][each] * factor for each in columns})
    assumed = Evidence(what="unit", answer=f"assumed: the job's unit ({unit.name})", because="nobody states it")
    return replace(reading, layers=layers, assumed=() if stated else (assumed,))


def _drawn(name: str, table: "pd.DataFrame") -> bool:
    return name == "design_lines" and "geometry" in table
