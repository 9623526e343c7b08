"""The campaign over job files: lines lost, twice, misspelt, in another table, with odd values; and bytes."""

import random
import re
import tempfile
import tomllib
import traceback
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fuzz.damage import bytes_damaged
from fuzz.outcome import SECONDS, End, Hang, Outcome, at_most, unclear
from geoqa.errors import GeoqaError
from geoqa.job.check import check
from geoqa.job.document.load import load, parse
from tests.review import job_of_four

SAMPLE = Path(__file__).resolve().parents[2] / "sample_jobs" / "tannery_lane" / "tannery_lane.toml"
VALUES = (
    '""',
    '"x"',
    "0",
    "-1",
    "1.5",
    "true",
    "[]",
    "{}",
    '"0 ft"',
    '"-0.1 ft"',
    '"0.10"',
    '"1e999 ft"',
    '"nan ft"',
    "nan",
    "inf",
    "2026-02-30",
    '"0,10 ft"',
    '"EPSG:0"',
    '"EPSG:4326"',
    '"../../etc/passwd"',
    '"\\u0000"',
    '"½ in"',
    "[1, 2]",
    '{ low = "1 ft", high = "0.1 ft" }',
    '"9 parsec"',
    "9" * 30,
    '"' + "x" * 3000 + '"',
    '["", ""]',
    '"0.10 m"',
    "1979-05-27",
)
_KEY = re.compile(r"^(\s*)([\w-]+)(\s*=\s*)(.+)$")


def _damaged(draw: random.Random, text: str) -> tuple[str, bytes]:
    lines = text.splitlines()
    keys = [at for at, each in enumerate(lines) if _KEY.match(each)]
    heads = [at for at, each in enumerate(lines) if each.startswith("[")]
    at = draw.choice(keys)
    match = _KEY.match(lines[at])
    assert match
    how = draw.choice(
        (
            "key gone",
            "key twice",
            "key misspelt",
            "odd value",
            "odd value",
            "odd value",
            "in another table",
            "head gone",
            "head twice",
            "head misspelt",
            "quote gone",
            "bracket of a list",
            "a key more",
            "bytes",
            "other encoding",
            "odd table",
        )
    )
    if how == "key gone":
        del lines[at]
    elif how == "key twice":
        lines.insert(at, lines[at])
    elif how == "key misspelt":
        place = draw.randrange(len(match[2]))
        lines[at] = (
            match[1] + match[2][:place] + draw.choice(("", "x", "-")) + match[2][place + 1 :] + match[3] + match[4]
        )
    elif how == "odd value":
        lines[at] = match[1] + match[2] + match[3] + draw.choice(VALUES)
    elif how == "in another table":
        line = lines.pop(at)
        lines.insert(draw.choice(heads) + 1, line)
    elif how == "head gone":
        del lines[draw.choice(heads)]
    elif how == "head twice":
        lines.insert(at, lines[draw.choice(heads)])
    elif how == "head misspelt":
        place = draw.choice(heads)
        lines[place] = draw.choice(
            (lines[place].replace("[", "[x", 1), lines[place] + "]", "[" + lines[place] + "]", "[]")
        )
    elif how == "quote gone":
        lines[at] = lines[at].replace('"', "", 1)
    elif how == "bracket of a list":
        place = draw.choice(heads)
        lines[place] = lines[place].replace("[[", "[").replace("]]", "]")
    elif how == "a key more":
        name = draw.choice(("unit", "file", "frame", "colour", "use", "off", "vertical", "x"))
        lines.insert(at, f"{name} = {draw.choice(VALUES)}")
    elif how == "odd table":
        lines.append(
            draw.choice(
                ("[tolerance]", "[[steps]]", "[outputs.x]", "[[job]]", "[colours]", "[tolerance.''.x]", "[[frame]]")
            )
        )
    changed = "\n".join(lines) + "\n"
    if how == "bytes":
        return bytes_damaged(draw, changed.encode())
    return how, changed.encode(
        draw.choice(("utf-16", "cp1252", "utf-8-sig")) if how == "other encoding" else "utf-8", errors="replace"
    )


def _leaves(table: Any, at: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    items = table.items() if isinstance(table, dict) else enumerate(table) if isinstance(table, list) else ()
    if not isinstance(table, dict | list) or not table:
        yield at, table
    for key, value in items:
        yield from _leaves(value, (*at, key))


def _wrong(job: Any, base: Any, text: str, sound: str) -> tuple[End, str]:
    """Whether a job that is taken says what its file says: a statement without effect is a silent difference."""
    if parse(job.to_toml()) != job:
        return End.SILENT, "does not come back from its own text"
    said, before = (dict(_leaves(tomllib.loads(each))) for each in (text, sound))
    if job == base:
        new = [".".join(map(str, each)) for each in said if said[each] != before.get(each, object())]
        # what is stated as it stands by default changes nothing
        return (End.SILENT, f"without effect: {new}") if new and not _default(said, before) else (End.SAME, "")
    return (End.SILENT, "another job from the same statements") if repr(said) == repr(before) else (End.AS_WRITTEN, "")


def _default(said: dict[Any, Any], before: dict[Any, Any]) -> bool:
    """Whether all that is new is what holds anyway: false, nothing, or an empty list."""
    return all(said[each] in (False, "", [], {}, 0) for each in said if said[each] != before.get(each, object()))


def damaged_jobs(first: int, count: int) -> list[Outcome]:
    """Outcomes of so many job files; every second is of a job whose files are there, which are then looked at."""
    made = []
    with tempfile.TemporaryDirectory() as place, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        folder = Path(place)
        job_of_four.write(folder)
        texts = (job_of_four.JOB, SAMPLE.read_text(encoding="utf-8"))
        jobs = [parse(each, folder=(folder, SAMPLE.parent)[nth]) for nth, each in enumerate(texts)]
        for number in range(first, first + count):
            which = number % 2
            how, data = _damaged(random.Random(f"job {number}"), texts[which])
            case = f"job file {number}: {how}"
            path = folder / "job.toml"
            path.write_bytes(data)
            made.append(_ended(case, path, texts[which], jobs[which], looked_at=which == 0))
    return made


def _ended(case: str, path: Path, sound: str, base: Any, *, looked_at: bool) -> Outcome:
    try:
        with at_most():
            loaded = load(path)
            end, words = _wrong(loaded.job, base, loaded.text, sound)
            if end is not End.SILENT and looked_at:
                seen = check(path)
                if seen.problems:
                    end, words = End.REFUSED, "\n".join(seen.problems)
    except GeoqaError as error:
        end, words = End.REFUSED, str(error)
    except Hang:
        return Outcome(case=case, end=End.HANG, words=f"over {SECONDS:.0f} s")
    except Exception:
        return Outcome(case=case, end=End.CRASH, words=traceback.format_exc(limit=-6))
    if end is End.REFUSED and (lack := unclear(words, "", str(path.parent))):
        return Outcome(case=case, end=End.SILENT, words=f"{lack}: {words}")
    return Outcome(case=case, end=end, words=words)
