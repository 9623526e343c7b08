"""The campaign over whole jobs: what a reader tells of a damaged file is told of the job, too."""

import csv
import random
import tempfile
import traceback
import warnings
from pathlib import Path
from typing import Any

from fuzz import tables
from fuzz.outcome import SECONDS, End, Hang, Outcome, at_most, unclear
from fuzz.reading import Reading, read, same
from fuzz.seeds import Seed
from geoqa import plugins
from geoqa.errors import GeoqaError
from geoqa.job.document.load import load
from geoqa.job.run import run
from tests.review import job_of_four

FILES = {"log.csv": "shots", "codes.csv": "codes", "marks.csv": "control", "design.csv": "design"}
SORTS = (tables.style, tables.cell, tables.row, tables.row, tables.headings, tables.whole)


def damaged_whole(first: int, count: int) -> list[Outcome]:
    """Outcomes of so many runs of the small job, one of whose files is damaged."""
    made = []
    with tempfile.TemporaryDirectory() as place, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        folder = Path(place)
        job = job_of_four.write(folder)
        base = _judged(job)
        for number in range(first, first + count):
            draw = random.Random(f"whole job {number}")
            name, role = draw.choice(list(FILES.items()))
            sound = (folder / name).read_bytes()
            reader = plugins.load("readers", f"{role}.csv")()
            before = read(reader, folder / name)
            rows = tuple(tuple(each) for each in csv.reader(sound.decode().splitlines()))
            damaged = draw.choice(SORTS)(draw, Seed(name=f"{role}.csv", rows=rows, one_to_one=True))
            damaged.write(folder)
            (folder / "a.csv").replace(folder / name)
            case = f"whole job {number}, {name}: {damaged.how}"
            made.append(_ended(case, job, name, reader, before, base))
            (folder / name).write_bytes(sound)
    return made


def _judged(job: Path) -> tuple[Any, list[str], int]:
    results = run(load(job), write=False)
    columns = ["check", "label", "measured", "deviation", "verdict", "why"]
    found = results.findings[columns].astype(str).to_numpy().tolist()
    return sorted(found), list(results.notes), results.summary["rows_left_out"]


def _ended(case: str, job: Path, name: str, reader: Any, before: Reading, base: tuple[Any, list[str], int]) -> Outcome:
    try:
        with at_most(3 * SECONDS):
            found, notes, left_out = _judged(job)
    except GeoqaError as error:
        lack = unclear(str(error), "", str(job.parent))
        return Outcome(case=case, end=End.SILENT if lack else End.REFUSED, words=f"{lack}: {error}")
    except Hang:
        return Outcome(case=case, end=End.HANG, words=f"over {3 * SECONDS:.0f} s")
    except Exception:
        return Outcome(case=case, end=End.CRASH, words=traceback.format_exc(limit=-6))
    now = _read_in_the_job(reader, job.parent / name)
    told = now is not None and bool(now.troubles - before.troubles)
    if told and not (left_out or any(name in note for note in notes if note not in base[1])):
        return Outcome(case=case, end=End.SILENT, words=f"not in the notes: {sorted(now.troubles)[:2] if now else ''}")
    if told:
        return Outcome(case=case, end=End.SAID)
    if found == base[0]:
        return Outcome(case=case, end=End.SAME)
    if now is not None and same(now, before):
        return Outcome(case=case, end=End.SILENT, words="other verdicts from the same tables")
    return Outcome(case=case, end=End.SAID if set(notes) - set(base[1]) else End.AS_WRITTEN)


def _read_in_the_job(reader: Any, path: Path) -> Reading | None:
    """What the reader alone makes of it; None where the order of columns is open, which the other files settle."""
    try:
        return read(reader, path)
    except GeoqaError:
        return None
