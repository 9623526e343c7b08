"""The campaign over what comes after a run: files of decisions, delivered folders, and arguments of commands."""

import contextlib
import json
import os
import random
import shutil
import tempfile
import traceback
import warnings
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from fuzz.damage import bytes_damaged
from fuzz.outcome import SECONDS, End, Hang, Outcome, at_most, unclear
from geoqa.cli import main
from geoqa.contract.decisions import check_value
from geoqa.errors import GeoqaError
from geoqa.job.decided import register_path
from geoqa.job.run import run
from geoqa.review.decide import decide
from geoqa.review.verify import verify
from tests.review import job_of_four
from tests.review.files_of_reviewers import save

NOW = datetime(2026, 5, 21, 8, 0, tzinfo=UTC)
ODD: tuple[Any, ...] = (
    None,
    "",
    5,
    -1,
    True,
    [],
    {},
    "x",
    "1e999",
    "2026-13-45",
    "2100-01-01T00:00:00Z",
    "x" * 4000,
    "\u202e",
    [1],
    {"a": 1},
    1e308,
    "accept",
    "\x00",
)


@contextlib.contextmanager
def ready() -> Iterator[Path]:
    """A folder with the small job, three of its valves out, run once."""
    with tempfile.TemporaryDirectory() as place, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        folder = Path(place) / "job"
        folder.mkdir()
        job = job_of_four.write(folder)
        log = folder / "log.csv"
        text = log.read_text("utf-8").replace("500010.004", "500010.604").replace("500030.001", "500030.501")
        log.write_text(text, "utf-8")
        run(job)
        yield job


def _guarded(case: str, folder: Path, work: Callable[[], tuple[End, str]]) -> Outcome:
    try:
        with at_most(3 * SECONDS):
            end, words = work()
    except GeoqaError as error:
        lack = unclear(str(error), "", str(folder))
        end, words = (End.SILENT if lack else End.REFUSED), f"{lack}: {error}" if lack else str(error)
    except Hang:
        end, words = End.HANG, "time is up"
    except Exception:
        end, words = End.CRASH, traceback.format_exc(limit=-6)
    return Outcome(case=case, end=end, words=words)


def _spots(held: Any) -> list[tuple[Any, Any]]:
    """Every place of a JSON text that may be put to something else."""
    found = []
    items = list(held.items()) if isinstance(held, dict) else list(enumerate(held)) if isinstance(held, list) else []
    for key, value in items:
        found.append((held, key))
        found += _spots(value)
    return found


def _decision_file(draw: random.Random, sound: bytes) -> tuple[str, bytes]:
    if draw.random() < 0.4:
        return bytes_damaged(draw, sound)
    held = json.loads(sound)
    where, key = draw.choice(_spots(held))
    how = draw.choice(("value changed", "value changed", "key gone", "key more", "twice"))
    if how == "value changed":
        where[key] = draw.choice(ODD)
    elif how == "key gone":
        del where[key]
    elif how == "key more" and isinstance(where, dict):
        where["more"] = draw.choice(ODD)
    elif isinstance(where, list):
        where.append(where[key])
    if draw.random() < 0.5:
        how += ", sealed again"
        held["check"] = check_value({name: value for name, value in held.items() if name != "check"})
    return how, json.dumps(held).encode()


def damaged_decisions(first: int, count: int) -> list[Outcome]:
    """Outcomes of so many files of decisions; every fifth case damages the register beside the job instead."""
    made = []
    with ready() as job:
        file = save(job, "a.json", "A. Reviewer", {"V-1": "accept", "V-2": "re-measure", "V-3": "fix"})
        sound = file.read_bytes()
        meant = decide(job, [file], now=NOW)
        kept = register_path(job).read_bytes()
        for number in range(first, first + count):
            draw = random.Random(f"decisions {number}")
            register_path(job).unlink(missing_ok=True)
            if number % 5 == 4:
                how, data = bytes_damaged(draw, kept)
                register_path(job).write_bytes(data)

                def work(data: bytes = data) -> tuple[End, str]:
                    found = decide(job, [], now=NOW)
                    if found.standing == meant.standing:
                        return End.SAME, ""
                    return End.SILENT, f"a register that was changed is taken: {data[:80]!r}"

                made.append(_guarded(f"decisions {number}, register: {how}", job.parent, work))
                continue
            how, data = _decision_file(draw, sound)
            file.write_bytes(data)
            made.append(_guarded(f"decisions {number}: {how}", job.parent, lambda h=how: _decided(job, file, meant, h)))
    return made


def _decided(job: Path, file: Path, meant: Any, how: str) -> tuple[End, str]:
    found = decide(job, [file], now=NOW)
    if found.refused:
        words = "; ".join(each.why for each in found.refused)
        lack = unclear(words, "", str(job.parent))
        return (End.SILENT, f"{lack}: {words}") if lack else (End.REFUSED, words)
    if found.standing == meant.standing:
        return End.SAME, ""
    return (End.AS_WRITTEN, "") if how.endswith("sealed again") else (End.SILENT, "a changed file is applied")


def damaged_outputs(first: int, count: int) -> list[Outcome]:
    """Outcomes of so many looks at an output folder in which one file was damaged: `verify` must say so."""
    made = []
    with ready() as job:
        out = job.parent / "out"
        files = sorted(each for each in [*out.iterdir(), *job.parent.glob("*.csv")] if each.is_file())
        held = {each: each.read_bytes() for each in files}
        for number in range(first, first + count):
            draw = random.Random(f"outputs {number}")
            path = draw.choice(files)
            how, data = bytes_damaged(draw, held[path])
            if draw.random() < 0.1:
                how, data = "gone", b""
                path.unlink()
            else:
                path.write_bytes(data)

            def work(path: Path = path, data: bytes = data, how: str = how) -> tuple[End, str]:
                same = how != "gone" and data == held[path]
                found = verify(out)
                if found.identical:
                    return (
                        (End.SAME, "")
                        if same or path.name == "READ_ME.txt"
                        else (End.SILENT, f"{path.name} is taken as it was")
                    )
                return End.SAID, ""

            made.append(_guarded(f"outputs {number}, {path.name}: {how}", job.parent, work))
            path.write_bytes(held[path])
    return made


PATHS = (
    "four.toml",
    "nowhere.toml",
    ".",
    "",
    "out",
    "log.csv",
    "picture.bin",
    "x" * 300,
    "..",
    "out/record.json",
    "é名.toml",
    "-",
    "--",
    "a b.toml",
    "empty.toml",
    "marks.csv",
    "out/findings.csv",
    "four.toml/x",
    "~",
    "*",
)
WORDS = (
    "",
    "x",
    "-1",
    "0",
    "1e999",
    "nan",
    "EPSG:6547",
    "EPSG:0",
    "0.1 ft",
    "1 m",
    "-0.1 ft",
    "0,1 ft",
    "½",
    "é",
    "x" * 500,
    "shot,easting",
    "time_zone",
    'session = "A"',
    "point,easting,northing,elevation,code",
    "F0000000",
    "1",
    "offset",
    "[]",
)
OPTIONS = {
    "init": ("--frame=", "--name=", "--force", "--add", "PATH"),
    "check": ("PATH",),
    "day": (
        "--frame=",
        "--columns=",
        "--line=",
        "--control=PATH",
        "--codes=PATH",
        "--design=PATH",
        "--screening=PATH",
        "--policy=PATH",
        "--out=PATH",
        "PATH",
    ),
    "run": ("--allow-undecided", "--exit-zero", "--quiet", "PATH"),
    "batch": ("--out=PATH", "--workers=", "--quiet"),
    "capability": ("--tilt=", "PATH"),
    "sensitivity": ("--rod=", "--geoid=", "--all", "PATH"),
    "trace": ("PATH", "WORD"),
    "decide": ("--take-back=", "--by=", "PATH", "PATH"),
    "compare": ("--quiet", "PATH", "PATH"),
    "verify": ("--job=PATH", "PATH"),
    "steps": ("--json", "WORD"),
    "formats": (),
    "schema": (),
    "explain": ("WORD",),
    "nonsense": ("WORD",),
    "demo": ("--seed=", "--zone=x"),
}
"""Arguments by command; a demo is never made, and no batch starts its workers, so both are refused here."""


def _arguments(draw: random.Random) -> list[str]:
    command = draw.choice(list(OPTIONS))
    made = [command]
    for option in OPTIONS[command]:
        if draw.random() < 0.35 and option.startswith("--"):
            made.append(
                option.replace("PATH", draw.choice(PATHS))
                if "PATH" in option
                else option + draw.choice(WORDS) * ("=" in option)
            )
        elif option == "PATH" and draw.random() < 0.9:
            dear = command == "sensitivity"  # runs the job many times
            made.append("four.toml" if draw.random() < 0.4 and not dear else draw.choice(PATHS[dear:]))
        elif option == "WORD" and draw.random() < 0.9:
            made.append(draw.choice(WORDS))
    if draw.random() < 0.2:
        made.insert(
            draw.randrange(len(made) + 1),
            draw.choice(("--nonsense", "-x", "--help", "--debug", "--version", "", *WORDS)),
        )
    return made


def odd_arguments(first: int, count: int) -> list[Outcome]:
    """Outcomes of so many lines of commands, each in a folder of its own."""
    made = []
    before = os.getcwd()
    with ready() as job:
        (job.parent / "picture.bin").write_bytes(b"\x89PNG" + bytes(range(256)))
        (job.parent / "empty.toml").write_bytes(b"")
        try:
            for number in range(first, first + count):
                arguments = _arguments(random.Random(f"arguments {number}"))
                place = job.parent.parent / "case"
                shutil.copytree(job.parent, place)
                os.chdir(place)
                made.append(
                    _guarded(
                        f"arguments {number}: geoqa {' '.join(each[:30] for each in arguments)!a}",
                        place,
                        lambda given=arguments: _answered(given),
                    )
                )
                os.chdir(before)
                shutil.rmtree(place)
        finally:
            os.chdir(before)
    return made


def _answered(arguments: list[str]) -> tuple[End, str]:
    answer = CliRunner().invoke(main, arguments)
    if answer.exception is not None and not isinstance(answer.exception, SystemExit):
        return End.CRASH, "".join(traceback.format_exception(answer.exception)[-6:])
    if answer.exit_code == 4 or ("Traceback" in answer.output and "--debug" not in arguments):
        return End.CRASH, answer.output[-900:]
    if answer.exit_code in (2, 3):
        lack = "" if "--debug" in arguments else unclear(answer.output, "", "/case/")
        return (End.SILENT, f"{lack}: {answer.output}") if lack else (End.REFUSED, answer.output)
    return (End.SAID, "") if answer.exit_code == 1 else (End.AS_WRITTEN, "")
