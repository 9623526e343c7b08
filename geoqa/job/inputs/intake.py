"""From the files a job names to layers in one frame, and an account of what was read."""

from dataclasses import dataclass, field
from pathlib import Path

from geoqa.frames.files.place import place_files
from geoqa.frames.files.reading import FrameDoubt, Placement, evidence_lines
from geoqa.frames.moving.geoid import open_geoid
from geoqa.frames.systems.resolve import frame_evidence
from geoqa.job.document.load import LoadedJob
from geoqa.job.execute import Progress, silent
from geoqa.job.inputs.background import beside, take_background
from geoqa.job.inputs.descriptions import description_lines, patterns_of, with_descriptions
from geoqa.job.inputs.named_files import JobFiles, job_files, read_frame
from geoqa.job.inputs.reading import read_files, read_one
from geoqa.job.inputs.sources import questions, register_tables, sources_table, trouble_lines, unread_lines
from geoqa.job.inputs.tables import job_tables
from geoqa.model.background import Background
from geoqa.model.frame import Frame
from geoqa.model.tables.layer import Layers
from geoqa.model.words import listed

LISTED_FILES = 3
"""Files that are named where many have the same to say; of the others, how many."""


@dataclass(frozen=True)
class Intake:
    """Layers ready for the steps, and what a person should know about how they came to be."""

    layers: Layers
    placement: Placement
    """Every file with what it is in."""
    evidence: tuple[str, ...] = ()
    troubles: tuple[str, ...] = field(default_factory=tuple)
    asked: tuple[str, ...] = ()
    """What whole files ask, a line each."""
    left_out: tuple[str, ...] = field(default_factory=tuple)
    """Rows that could not be read at all: they are in no table, so nothing else can tell of them."""
    unread: tuple[str, ...] = ()
    """Where those rows lie, a file each."""
    background: Background | None = None
    descriptions: tuple[str, ...] = ()
    """What the descriptions of the shots become, or would become, a line each."""

    @property
    def doubts(self) -> tuple[FrameDoubt, ...]:
        """Where what a file is declared in disagrees with where it lies."""
        return self.placement.doubts

    @property
    def assumed(self) -> tuple[str, ...]:
        """Units that nobody stated and that are not the job's own: the dearest mistake there is."""
        files: dict[str, list[str]] = {}
        for file in self.placement.files:
            for item in file.assumed:
                if item.first:
                    files.setdefault(str(item), []).append(file.name)
        return tuple(f"{_named(names)}: {item}" for item, names in files.items())


def _named(files: list[str]) -> str:
    """Names of files with one and the same thing to say, the first of many and how many more."""
    more = [f"{len(files) - LISTED_FILES} more files"] if len(files) > LISTED_FILES + 1 else []
    return listed([*files[:LISTED_FILES], *more] if more else files)


def originals(loaded: LoadedJob) -> tuple[Path, ...]:
    """Every file a job reads, itself among them: none of them is ever written to."""
    return (loaded.path, *job_files(loaded).paths)


def take_in(loaded: LoadedJob, *, progress: Progress = silent) -> Intake:
    """Read every file of a job and bring it into the job's frame.

    Raises
    ------
    SourceError, FrameError
        A file is missing, is not what it should be, or does not fit the frame.
    """
    return take_in_files(loaded, read_frame(loaded), job_files(loaded), progress=progress)


def take_in_files(loaded: LoadedJob, frame: Frame, files: JobFiles, *, progress: Progress = silent) -> Intake:
    """Read the files of a job whose frame and files are found already; see `take_in`."""
    table = loaded.job.frame.geoid
    geoid = open_geoid(files.geoid, table.name, check=table.check) if table and files.geoid else None
    as_written = read_files(files.tables, frame, progress=progress)
    read = with_descriptions(as_written, patterns_of(loaded.job))
    picture = None
    if files.background is not None:
        progress(f"reading {files.background.shown}", len(files.tables), len(files.tables))
        picture = read_one(files.background)
    placement = place_files(read, frame, geoid=geoid)
    layers = job_tables(loaded.job, placement.files, frame)
    evidence = [f"frame: {item}" for item in frame_evidence(frame)]
    evidence += [line for reading in placement.files for line in evidence_lines(reading)]
    sources = [(each, file.source) for each, file in zip(files.tables, read, strict=True)]
    background = None
    if files.background is not None and picture is not None:
        sources += [(each, picture) for each in (files.background, *beside(files.background))]
        background = take_background(files.background, Layers(layers, frame=frame))
        seen = () if background is None else background.picture.evidence
        evidence += [f"{files.background.shown}: {item}" for item in (*picture.evidence, *seen)]
    layers["sources"] = sources_table(sources, loaded.job.own_rules.values())
    layers |= register_tables(loaded.job, layers["sources"])
    evidence += [f"{doubt.file}: {doubt.words}" for doubt in placement.doubts]
    return Intake(
        layers=Layers(layers, frame=frame),
        placement=placement,
        evidence=tuple(evidence),
        troubles=trouble_lines(read),
        asked=questions(read),
        left_out=tuple(f"{file.name}, {row}" for file in read for row in file.source.troubles if row.loses_row),
        unread=unread_lines(read),
        background=background,
        descriptions=description_lines(as_written, patterns_of(loaded.job)),
    )
