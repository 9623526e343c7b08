"""The folder inside an output folder in which a run makes its files before any of them goes into place."""

import hashlib
import os
import platform
import shutil
import tempfile
import time
from contextlib import suppress
from pathlib import Path

PREFIX = ".geoqa-unfinished-"
LONGEST_RUN = 86400.0
"""Seconds after which a left-over folder is swept where its owner cannot be asked for."""


def new_workplace(folder: Path) -> Path:
    """Make a folder whose name says whose it is."""
    return Path(tempfile.mkdtemp(prefix=f"{PREFIX}{_machine()}-{os.getpid()}-", dir=folder))


def sweep(folder: Path) -> None:
    """Remove what a killed run left behind; a run that is still at work keeps its own."""
    for left in folder.glob(f"{PREFIX}*"):
        if not at_work(left):
            shutil.rmtree(left, ignore_errors=True)


def at_work(workplace: Path, *, longest: float = LONGEST_RUN) -> bool:
    """Whether the run that made a workplace may be alive.

    Parameters
    ----------
    workplace : Path
    longest : float
        Seconds without a sign of life after which it is not, where its process cannot be asked: on another machine, or
        on a system that has no harmless question.
    """
    machine, _, rest = workplace.name.removeprefix(PREFIX).partition("-")
    owner = rest.partition("-")[0]
    if os.name != "posix" or machine != _machine() or not owner.isdigit():
        return time.time() - _newest(workplace) < longest
    try:
        os.kill(int(owner), 0)
    except (ProcessLookupError, OverflowError):
        return False
    except PermissionError:
        return True
    return int(owner) != os.getpid()


def _machine() -> str:
    """A short name of this machine: a shared folder may hold the work of another, whose processes cannot be asked."""
    return hashlib.sha256(platform.node().encode("utf-8", "replace")).hexdigest()[:10]


def _newest(folder: Path) -> float:
    """When something in a folder was last written."""
    times = []
    for each in (folder, *folder.rglob("*")):
        with suppress(OSError):  # swept, or moved into its place, in the meantime
            times.append(each.stat().st_mtime)
    return max(times, default=0.0)
