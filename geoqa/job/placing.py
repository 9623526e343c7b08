"""All files of a run go into place, or none: a text in the folder says so for as long as they are on their way.

No system replaces many files in one move. A run that is killed between the first and the last leaves the text behind;
by it every reader knows that the files may be of two runs, and the next run puts the rest in place, for each of them
was whole before the first was moved.
"""

import os
import shutil
import time
from pathlib import Path

from geoqa.errors import OutputError
from geoqa.job.earlier import LEFT, inside, left, made, may_be_replaced
from geoqa.job.workplace import PREFIX, at_work

MARKER = "UNFINISHED_RUN.txt"
_HEAD = (
    "A run of geoqa is putting its files into this folder. If this text stays, the run was stopped: some files are of "
    "it and some of the run before. Use none of them; run the job again, which finishes this first."
)
LONGEST_MOVE = 600.0
"""Seconds that files are on their way at most, where the process that moves them cannot be asked."""
PATIENCE = 10.0
"""Seconds that a run waits for another one to put its files in place."""


def place_all(workplace: Path, folder: Path, names: tuple[str, ...]) -> None:
    """Put every file in its place, or all that stood there back.

    Raises
    ------
    OutputError
        One cannot be replaced, or another run is putting its files there and does not end.
    """
    _claim(workplace, folder, names)
    kept = workplace / ".previous"
    done: list[str] = []
    for name in names:
        try:
            _keep(folder / name, kept / name)
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            os.replace(workplace / name, folder / name)
        except OSError as error:
            back = _put_back(kept, folder, done)
            raise OutputError(
                f"{name} cannot be replaced: {error.strerror or error}. Is it open in another program? "
                f"Close it and run again. {back}"
            ) from error
        except BaseException:  # stopped by hand: half new and half old would be worse than neither
            _put_back(kept, folder, done if os.path.lexists(workplace / name) else [*done, name])
            raise
        done.append(name)
    _settle(folder)


def finish(folder: Path) -> bool:
    """Put into place what a run that was killed had still to put there; tell whether there was such a run.

    Raises
    ------
    OutputError
        A file cannot be replaced; the text that says so stays.
    """
    workplace = _workplace(folder)
    if workplace is None or at_work(workplace, longest=LONGEST_MOVE):
        return False
    for name in _names(folder):
        if not os.path.lexists(workplace / name):
            continue
        try:
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            os.replace(workplace / name, folder / name)
        except OSError as error:
            raise OutputError(
                f"A run was stopped while its files went into {folder.name}, and {name} cannot be replaced: "
                f"{error.strerror or error}. Is it open in another program? Close it and run again; "
                "until then use no file of that folder."
            ) from error
    _settle(folder)
    shutil.rmtree(workplace, ignore_errors=True)
    return True


def refuse_unfinished(folder: Path) -> None:
    """Read nothing from a folder whose files may be of two runs.

    Raises
    ------
    OutputError
        They may be.
    """
    if not _lines(folder):
        return
    workplace = _workplace(folder)
    if workplace is not None and at_work(workplace, longest=LONGEST_MOVE):
        raise OutputError(f"A run is putting its files into {folder.name} at this moment. Wait until it has ended.")
    raise OutputError(
        f"A run was stopped while its files went into {folder.name} ({MARKER} says so): some are of it and some of the "
        "run before. Run its job again, which finishes this first."
    )


def _claim(workplace: Path, folder: Path, names: tuple[str, ...]) -> None:
    """Lay the text into the folder; no other run has one there."""
    text, until = workplace / MARKER, time.monotonic() + PATIENCE
    text.write_text("\n".join([_HEAD, workplace.name, *names]) + "\n", encoding="utf-8", newline="\n")
    while not _laid(text, folder / MARKER):
        other = _workplace(folder)
        if other is None and (_lines(folder) or not (folder / MARKER).exists()):
            (folder / MARKER).unlink(missing_ok=True)  # what it tells of cannot be finished; this run replaces all
        elif other is None:
            raise OutputError(f"{MARKER} in {folder.name} is not geoqa's own; rename it. Nothing was replaced.")
        elif not finish(folder):
            if time.monotonic() > until:
                raise OutputError(
                    f"Another run is putting its files into {folder.name}. Run again when it has ended. "
                    "Nothing was replaced."
                )
            time.sleep(0.05)


def _laid(text: Path, place: Path) -> bool:
    """Give the text its place unless there is one: whole from the first moment."""
    try:
        os.link(text, place)
    except FileExistsError:
        return False
    except OSError:  # a disk without second names
        if place.exists():
            return False
        os.replace(text, place)
    return True


def _settle(folder: Path) -> None:
    """All files are of one run: take away the list of older files if it names none, and last the text."""
    if may_be_replaced(folder) and not set(left(folder)) - made(folder):
        (folder / LEFT).unlink(missing_ok=True)
    (folder / MARKER).unlink(missing_ok=True)


def _lines(folder: Path) -> list[str]:
    """Lines of the text after its first; none where there is no such text."""
    try:
        head, *lines = (folder / MARKER).read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError):
        return []
    return lines if head == _HEAD else []


def _workplace(folder: Path) -> Path | None:
    """Folder in which the rest of the files waits; None where there is none any more."""
    name = next(iter(_lines(folder)), "")
    place = folder / name
    own = name.startswith(PREFIX) and inside(name) and "/" not in name and "\\" not in name
    return place if own and place.is_dir() and not place.is_symlink() else None


def _names(folder: Path) -> list[str]:
    """Files on their way: names come from a text that anybody may have changed."""
    return [name for name in _lines(folder)[1:] if inside(name)]


def _keep(place: Path, copy: Path) -> None:
    """A second name, or a copy, of what is about to be replaced."""
    if not os.path.lexists(place):
        return
    copy.parent.mkdir(parents=True, exist_ok=True)
    try:
        os.link(place, copy, follow_symlinks=False)
    except (OSError, NotImplementedError):  # a disk without second names, or a system that follows every link
        shutil.copy2(place, copy, follow_symlinks=False)


def _put_back(kept: Path, folder: Path, names: list[str]) -> str:
    """Undo what was replaced so far; say how that ended. Where it fails the text in the folder stays."""
    try:
        for name in reversed(names):
            if os.path.lexists(kept / name):
                os.replace(kept / name, folder / name)
            else:
                (folder / name).unlink()
        (folder / MARKER).unlink(missing_ok=True)
    except OSError as error:
        return f"Putting back what was replaced failed ({error.strerror or error}): run again before using any file."
    return "Nothing was replaced; the previous output is still whole."
