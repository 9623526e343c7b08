"""Which files of the output folder a run has written, in the words of the terminal."""

import os
from pathlib import Path

from geoqa.job.earlier import left, made
from geoqa.job.read_me import READ_ME

OLD_NAMED = 6


def first_written(folder: Path, phrases: dict[str, str]) -> str:
    """What to say of the first of some files that was written; nothing where none was."""
    written = made(folder)
    return next((words for name, words in phrases.items() if name in written), "")


def where(folder: Path) -> str:
    """What to open of the newest run, and what in the folder is not of it."""
    written, old = made(folder), left(folder)
    page = next((folder / name for name in ("map.html", "tilt.html") if name in written), None)
    said = [f"Open {os.path.relpath(page)}" if page else f"Written to {os.path.relpath(folder)}"]
    if len(written) > 3 and READ_ME in written:  # more than one output, the record and itself
        said.append(f"{READ_ME} there says what each file is")
    if old:
        more = f" and {len(old) - OLD_NAMED} more (earlier_run.txt)" if len(old) > OLD_NAMED else ""
        verb = "is" if len(old) == 1 else "are"
        said.append(f"Of an earlier run {verb}: {', '.join(old[:OLD_NAMED])}{more}")
    return "\n".join(said)
