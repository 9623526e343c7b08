"""The files a job names: where they are, and each as it was read."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoqa.errors import SourceError
from geoqa.frames.files.reading import FileAsRead
from geoqa.frames.moving.convert import ACCURACY_LIMIT
from geoqa.job.load import LoadedJob
from geoqa.model.quantity import METRE, length_unit
from geoqa.model.source import Source


@dataclass(frozen=True)
class Input:
    """One file of the job: its role, its table in the job file, and where it is."""

    role: str
    source: str
    path: Path
    shown: str
    table: Any


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
    """

    tables: tuple[Input, ...]
    background: Input | None
    geoid: Path | None

    @property
    def every(self) -> tuple[Input, ...]:
        """The tables, and the background where there is one."""
        return self.tables if self.background is None else (*self.tables, self.background)

    @property
    def paths(self) -> tuple[Path, ...]:
        """Where they are."""
        return (*(each.path for each in self.every), *(() if self.geoid is None else (self.geoid,)))


def job_files(loaded: LoadedJob) -> JobFiles:
    """Find every file a job names; none is opened."""
    picture, geoid = loaded.job.background, loaded.job.frame.geoid
    return JobFiles(
        tables=tuple(inputs(loaded)),
        background=None
        if picture is None
        else Input("background", "background", loaded.resolve(picture.file), picture.file, picture),
        geoid=None if geoid is None else loaded.resolve(geoid.file),
    )


def inputs(loaded: LoadedJob) -> Iterator[Input]:
    """Every file a job reads into tables, in the order of the job file's tables."""
    job = loaded.job
    tables = [("shots", each) for each in job.shots]
    tables += [(role, each) for role, each in (("control", job.control), ("codes", job.codes)) if each is not None]
    rules = (("screening", job.screening), ("check_policy", job.check_policy))
    tables += [(role, each) for role, each in rules if each is not None]
    tables += [("design", each) for each in job.design]
    for role, table in tables:
        source = getattr(table, "source", role)
        yield Input(role, source, loaded.resolve(table.file), table.file, table)


def read_one(each: Input) -> Source:
    """Read one file, with its name in every message."""
    if not each.path.exists():
        raise SourceError(
            f"{each.shown}: there is no such file (looked for {each.path.name} in "
            f"{each.path.parent.name or each.path.parent}). Paths start from the job file's folder."
        )
    if not each.path.is_file():
        raise SourceError(f"{each.shown}: is not a file; name the file itself.")
    source: Source = each.table.reader.read(each.path, source=each.source)
    return source


def as_read(each: Input, source: Source) -> FileAsRead:
    """A file as read, with what the job declares for it."""
    table = each.table
    return FileAsRead(
        role=each.role,
        name=each.shown,
        source=source,
        key=each.source,
        declared=table.frame,
        unit=length_unit(table.unit) if table.unit else None,
        vertical=table.vertical,
        heights=getattr(table, "heights", "orthometric"),
        ground=table.ground,
        epoch=table.epoch,
        accuracy_limit=table.accuracy.to(METRE) if table.accuracy else ACCURACY_LIMIT,
        accept=table.accept,
        accept_operation=table.accept_operation,
    )
