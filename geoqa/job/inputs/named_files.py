"""What a job names: its frame, and its files with where they are; none is opened."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoqa.frames.systems.resolve import resolve
from geoqa.job.document.load import LoadedJob
from geoqa.model.frame import Frame


@dataclass(frozen=True)
class Input:
    """One file of the job: its role, its table in the job file, and where it is.

    A table in memory has a name where others have a path.
    """

    role: str
    source: str
    path: Path
    shown: str
    table: Any

    @property
    def in_memory(self) -> bool:
        """It is a table in memory, and no file."""
        return bool(getattr(self.table.reader, "in_memory", False))


@dataclass(frozen=True)
class JobFiles:
    """Every file a job reads, found once.

    Attributes
    ----------
    tables : tuple of Input
        Those that are read into tables, in the order of the job file.
    background : Input or None
        The picture under the map.
    geoid : Path or None
        The grid that makes elevations of ellipsoid heights.
    rules : tuple of Path
        Rule files; they were read with the job file.
    """

    tables: tuple[Input, ...]
    background: Input | None
    geoid: Path | None
    rules: tuple[Path, ...] = ()

    @property
    def every(self) -> tuple[Input, ...]:
        """The tables, and the background where there is one."""
        return self.tables if self.background is None else (*self.tables, self.background)

    @property
    def paths(self) -> tuple[Path, ...]:
        """Where the files are."""
        files = (each.path for each in self.every if not each.in_memory)
        return (*files, *(() if self.geoid is None else (self.geoid,)), *self.rules)


def read_frame(loaded: LoadedJob) -> Frame:
    """Resolve the job's frame."""
    table = loaded.job.frame
    return resolve(
        table.horizontal,
        table.vertical,
        realization=table.realization,
        epoch=table.epoch,
        combined_factor=table.combined_factor,
        ground_origin=table.ground_origin,
        ground_shift=table.ground_shift,
        ground_reference=table.ground_reference,
        geoid_name=table.geoid.name if table.geoid else None,
    )


def job_files(loaded: LoadedJob) -> JobFiles:
    """Find every file a job names; none is opened."""
    picture, geoid = loaded.job.background, loaded.job.frame.geoid
    return JobFiles(
        tables=tuple(inputs(loaded)),
        background=None
        if picture is None
        else Input("background", "background", loaded.resolve(picture.file), picture.file, picture),
        geoid=None if geoid is None else loaded.resolve(geoid.file),
        rules=tuple(loaded.resolve(each.file) for each in loaded.job.rules),
    )


def inputs(loaded: LoadedJob) -> Iterator[Input]:
    """Every file a job reads into tables, in the order of the job file's tables."""
    job = loaded.job
    tables = [("shots", each) for each in job.shots]
    tables += [(role, each) for role, each in (("control", job.control), ("codes", job.codes)) if each is not None]
    rules = (("screening", job.screening), ("check_policy", job.check_policy))
    tables += [(role, each) for role, each in rules if each is not None]
    several = (
        ("levels", job.levels),
        ("readings", job.readings),
        ("structures", job.structures),
        ("design", job.design),
    )
    tables += [(role, each) for role, listed in several for each in listed]
    along = (
        ("right_of_way", job.right_of_way),
        ("baseline", job.baseline),
        ("profile", job.profile),
        ("section", job.section),
    )
    tables += [(role, each) for role, each in along if each is not None]
    for role, table in tables:
        source = getattr(table, "source", role)
        held = getattr(table.reader, "in_memory", False)
        shown = table.file or f"[{role}] points"
        yield Input(role, source, Path(shown) if held else loaded.resolve(shown), shown, table)
