"""The campaign over files: every role in every format."""

import random
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path

from fuzz import books, tables, vectors
from fuzz.damage import Damaged, Table, written
from fuzz.judge import ended
from fuzz.outcome import Outcome
from fuzz.reading import Reading, read
from fuzz.seeds import Seed, seed


def sound_reading(held: Seed, folder: Path) -> Reading:
    """What is read of the sound file."""
    files = dict(held.files)
    if held.suffix == "xlsx":
        files = {"xlsx": books.sound(held)}
    elif held.rows:
        files = {held.suffix: Table.of(held.rows).text(tables.MARKS.get(held.suffix, ",")).encode()}
    return read(held.reader(), written(held.suffix, files)(folder))


def _sort(held: Seed, number: int) -> tuple[str, Callable[[random.Random, Seed], Damaged]]:
    if held.suffix == "xlsx":
        return "book", books.damaged
    if held.rows:
        sort = tables.SORTS[number % len(tables.SORTS)]
        return sort.__name__, sort
    return "file", vectors.damaged


def damaged_files(name: str, first: int, count: int) -> list[Outcome]:
    """Outcomes of so many cases of one reader, from a number on; a case is the same whichever share it is in."""
    made = []
    with tempfile.TemporaryDirectory() as place, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        folder = Path(place)
        held = seed(name, folder)
        sound = sound_reading(held, folder)
        reader = held.reader()
        for number in range(first, first + count):
            sort, make = _sort(held, number)
            damaged = make(random.Random(f"{name} {number}"), held)
            case = f"{name} {number}, {sort}: {damaged.how}"
            made.append(ended(case, damaged, sound, reader, folder, held.one_to_one))
    return made
