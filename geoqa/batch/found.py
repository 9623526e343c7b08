"""Which job files a batch is about, and what each is called in it."""

import hashlib
import os
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geoqa.errors import JobError
from geoqa.job.document.load import LARGEST, as_text

PARTS = "parts"
"""Folder of a batch in which what each job says is kept."""
_LONGEST = 60


@dataclass(frozen=True, kw_only=True)
class Found:
    """One job of a batch.

    Attributes
    ----------
    path : Path
        Its job file.
    label : str
        The same from the folder in which the folder of the batch stands: no path of a computer.
    key : str
        Name of its folder in the batch, made of its label.
    refused : str
        Why it is not run; empty where it is.
    """

    path: Path
    label: str
    key: str
    refused: str = ""


@dataclass(frozen=True, kw_only=True)
class Search:
    """Jobs in the order of their labels, and the TOML files that are none."""

    jobs: tuple[Found, ...]
    others: tuple[str, ...] = ()


def find_jobs(places: Iterable[Path], folder: Path) -> Search:
    """Look for job files: those that are named, and every one in or below a folder that is.

    Parameters
    ----------
    places : iterable of Path
        Job files and folders. A TOML file below a folder is a job if it has a table [job], or cannot be read: what is
        wrong with it is told when it is run. Folders whose name begins with a dot, and that of the batch, are left out.
    folder : Path
        Folder of the batch.

    Raises
    ------
    JobError
        A place is not there, or there is no job.
    """
    home = folder.resolve()
    named: dict[Path, None] = {}
    others: set[str] = set()
    for place in places:
        if place.is_dir():
            for each in _below(place.resolve(), home):
                if _may_be_a_job(each):
                    named[each] = None
                else:
                    others.add(_label(each, home.parent))
        elif place.exists():
            named[place.resolve()] = None
        else:
            raise JobError(
                f"There is no job file or folder {place.name} in {place.resolve().parent}. Name job files, or folders "
                "that hold some."
            )
    if not named:
        said = f" ({', '.join(sorted(others)[:3])}: no table [job])" if others else ""
        raise JobError(f"No job file was found{said}. Name folders that hold job files, or the job files themselves.")
    jobs = [Found(path=path, label=(label := _label(path, home.parent)), key=key_of(label)) for path in named]
    return Search(jobs=_apart(sorted(jobs, key=lambda each: each.label)), others=tuple(sorted(others)))


def key_of(label: str) -> str:
    """Name of a folder for a label: readable, short, and different for different labels.

    Examples
    --------
    >>> key_of("north/job.toml")
    'north-job-20c4807e'
    """
    plain = re.sub(r"[^A-Za-z0-9_]+", "-", label.removesuffix(".toml")).strip("-")[-_LONGEST:].strip("-")
    return f"{plain or 'job'}-{hashlib.sha256(label.encode('utf-8', 'replace')).hexdigest()[:8]}"


def _below(place: Path, home: Path) -> list[Path]:
    found = []
    for here, folders, files in os.walk(place):
        folders[:] = sorted(name for name in folders if not name.startswith(".") and Path(here, name) != home)
        found += [Path(here, name) for name in sorted(files) if name.endswith(".toml") and not name.startswith(".")]
    return found


def _label(path: Path, above: Path) -> str:
    try:
        return as_text(Path(os.path.relpath(path, above)).as_posix())
    except ValueError:  # on another drive
        return as_text(f"{path.parent.name}/{path.name}")


def _tables(path: Path) -> dict[str, Any] | None:
    """Tables of a TOML file; None where it cannot be read as one."""
    try:
        if path.stat().st_size > LARGEST:
            return None
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return None


def _may_be_a_job(path: Path) -> bool:
    tables = _tables(path)
    return tables is None or isinstance(tables.get("job"), dict)


def _apart(jobs: list[Found]) -> tuple[Found, ...]:
    """Jobs of which no two write into one folder: all but the first of such are refused before anything is run."""
    taken: dict[Path, str] = {}
    apart = []
    for job in jobs:
        place = _output_of(job.path)
        other = taken.setdefault(place, job.label)
        refused = ""
        if other != job.label:
            refused = f'it writes into the same folder as {other}; give one of them another: [outputs], folder = "…"'
        apart.append(Found(path=job.path, label=job.label, key=job.key, refused=refused))
    return tuple(apart)


def _output_of(path: Path) -> Path:
    outputs = (_tables(path) or {}).get("outputs")
    named = outputs.get("folder", "out") if isinstance(outputs, dict) else "out"
    try:
        return (path.parent / str(named).replace("\\", "/")).resolve()
    except (OSError, RuntimeError, ValueError):
        return path.parent / "out"
