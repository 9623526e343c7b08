"""The files a job names: where they are, and each as it was read."""

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoqa.errors import GeoqaError, SourceError
from geoqa.job.seen import Seen
from geoqa.model.quantity import length_unit
from geoqa.model.source import Source

if TYPE_CHECKING:
    from geoqa.job.load import LoadedJob


@dataclass(frozen=True)
class Input:
    """One file of the job: its role, its table in the job file, and where it is."""

    role: str
    source: str
    path: Path
    shown: str
    table: Any


def inputs(loaded: "LoadedJob") -> Iterator[Input]:
    """Every file a job names, in the order of the job file's tables."""
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


def seen_of(each: Input, source: Source) -> Seen:
    """A file as read, with what the job declares for it."""
    unit = length_unit(each.table.unit) if each.table.unit else None
    return Seen(
        role=each.role,
        name=each.shown,
        source=source,
        key=each.source,
        declared=each.table.frame,
        unit=unit,
        ground=each.table.ground,
    )


def read_seen(listed: list[Input], *, but: str = "") -> list[Seen]:
    """Every file that says something of the frame, `but` one; a file that cannot be read says nothing."""
    found = []
    for each in listed:
        if each.shown != but and each.role not in ("screening", "check_policy"):
            with suppress(GeoqaError):
                found.append(seen_of(each, read_one(each)))
    return found
