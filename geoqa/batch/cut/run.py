"""One very large job in parts: read, cut, judge, and put together."""

import hashlib
import json
import shutil
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from importlib.resources import files
from itertools import groupby
from pathlib import Path
from typing import Any

from geoqa import plugins
from geoqa.batch.cluster import Call, Engine
from geoqa.batch.cut.apart import Seen, cut
from geoqa.batch.cut.gathered import Pieces
from geoqa.batch.cut.kept import read_tables, write_tables
from geoqa.batch.cut.lines import designs_of, lines_of
from geoqa.batch.cut.room import GIGABYTE, room
from geoqa.batch.cut.told import told_whole
from geoqa.batch.cut.whole import Whole
from geoqa.batch.cut.work import BASE, DESIGN, FILES, Place, begin, deliver_part, look, run_alone, written
from geoqa.batch.one import refused_or
from geoqa.batch.part import fingerprint
from geoqa.errors import JobError, OutputError
from geoqa.job.decided import register_facts
from geoqa.job.document.load import LoadedJob
from geoqa.job.execute import in_order
from geoqa.job.inputs.intake import take_in_files
from geoqa.job.inputs.named_files import job_files, read_frame
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.plan import default_steps, plan
from geoqa.job.record import versions
from geoqa.job.workplace import new_workplace, sweep
from geoqa.model.frame import Frame
from geoqa.model.step import Step
from geoqa.model.tables.finding import DIGITS
from geoqa.model.tables.layer import Layers
from geoqa.model.words import many
from geoqa.version import VERSION

LARGEST = 250_000
"""Shots of a part, as many as one process judges in two gigabytes."""
LIBRARIES = ("numpy", "scipy", "pandas", "geopandas", "shapely", "pyproj", "pyarrow")
"""Work of another version of these is not gone on with."""
NO_DESIGN = frozenset({"kinds", "motion", "spikes", "usable-shots"})
"""Steps that run in parts and take no elevation of the design."""
SUMMARY = "summary.json"
Rounds = Callable[[Sequence[Call]], Iterator[tuple[str, dict[str, Any]]]]
Told = Callable[[str, int, int], None]


@dataclass(frozen=True, kw_only=True)
class InParts:
    """What became of a job in parts.

    Attributes
    ----------
    folder : Path
        With a folder for each part, one for the whole, and the summary.
    parts : tuple of tuple of str
        Files of each part, by the name of their `[[shots]]`.
    shots : tuple of int
        Of each part.
    counts : mapping of str to int
        Findings by verdict.
    left_out : int
        Rows that could not be read.
    """

    folder: Path
    parts: tuple[tuple[str, ...], ...]
    shots: tuple[int, ...]
    counts: dict[str, int]
    left_out: int


@dataclass(frozen=True, kw_only=True, eq=False)
class _Cut:
    """A job that is read and cut: what every later stage goes by."""

    work: Path
    frame: Frame
    files: tuple[tuple[str, ...], ...]
    shots: tuple[int, ...]
    steps: tuple[Step, ...]
    alone: frozenset[int]
    first: tuple[str, ...]
    left_out: int

    @property
    def parts(self) -> tuple[str, ...]:
        """Name of the folder of each part."""
        return tuple(f"part-{number:04d}" for number in range(1, len(self.files) + 1))

    @property
    def places(self) -> tuple[Place, ...]:
        """Each part as a worker is told of it."""
        return tuple(Place(work=str(self.work), name=name, frame=self.frame, steps=self.steps) for name in self.parts)

    @property
    def pieces(self) -> Pieces:
        """All that the whole is put together from."""
        return Pieces(
            work=self.work, parts=self.parts, frame=self.frame, steps=self.steps, alone=self.alone, first=self.first
        )


def run_in_parts(
    job: Path,
    folder: Path,
    *,
    most: int = LARGEST,
    at_once: int | None = None,
    engine: Engine | None = None,
    told: Told = lambda what, done, of: None,
    said: Callable[[str], None] = lambda sentence: None,
) -> InParts:
    """Judge one very large job in parts, with the findings of a single run.

    Parameters
    ----------
    job : Path
    folder : Path
        Made where it is missing.
    most : int
        Shots of a part. Files of shots that share a session, a string or a design line, or lie close, stay together.
    at_once : int, optional
        Shots of the whole job up to which steps that look at all of them are run, in this process. Without it they are
        run where there is memory enough for them.
    engine : Engine, optional
        Runs the parts; one process for each processor of this machine without.
    told : callable
        Called with a stage, how many of its parts are done, and how many there are.
    said : callable
        Called with what is said once: how much memory it takes.

    Raises
    ------
    JobError
        The job asks for what is not judged in parts, or for more memory than there is.
    OutputError
        A part could not be judged; what was done is kept for the next time.
    """
    loaded = load_framed(job)
    _refuse(loaded)
    token = _token(loaded, most)
    work = folder / f"work-{token}"
    _begin_folder(folder, work)
    engine = engine or Engine()
    with engine.opened(len(loaded.job.shots)) as run:
        fits = partial(_refuse_too_many, loaded, at_once=at_once, engine=engine, said=said)
        made = _cut(loaded, job.resolve(), work, run, most, fits, told)
        spool = new_workplace(work)
        try:
            whole = Whole(replace(made.pieces, spool=spool))
            _judge(made, whole, run, told)
            return _deliver(made, whole, run, folder, loaded, told)
        finally:
            shutil.rmtree(spool, ignore_errors=True)


def presets() -> tuple[frozenset[str], float]:
    """Names of the steps that may run on a part by itself, and how far in feet their sight reaches."""
    said = tomllib.loads((files("geoqa") / "presets" / "parts.toml").read_text(encoding="utf-8"))
    return frozenset(said["alone"]), float(said["reach"])


def _refuse(loaded: LoadedJob) -> None:
    """What would be another answer in parts, or none."""
    job = loaded.job
    why = ""
    if loaded.job.rules_in_force():
        why = "several rule sets hold, and which of two verdicts stands is said over the whole of it"
    elif job.job.previous is not None:
        why = "it names a round before, and what changed is told of the whole of it"
    elif register_facts(loaded.path):
        why = "decisions were taken on it, by numbers that a run of the whole gave"
    elif any(getattr(each.reader, "in_memory", False) for each in job.shots):
        why = "its shots are held in memory, and not in files"
    if why:
        raise JobError(f"{loaded.name} is not judged in parts: {why}. Use geoqa run.")


def _token(loaded: LoadedJob, most: int) -> str:
    """Name of everything that decides what is made: work of another name is not believed."""
    installed = plugins.declared("steps")
    steps = [
        [each.name, each.model_dump_json(), plugins.owner("steps", each.name) if each.name in installed else ""]
        for each in default_steps(loaded.job.steps)
    ]
    said = json.dumps([VERSION, DIGITS, dict(versions(LIBRARIES)), sorted(fingerprint(loaded).items()), steps, most])
    return hashlib.sha256(said.encode("utf-8")).hexdigest()[:12]


def _begin_folder(folder: Path, work: Path) -> None:
    """Folder of the work; that of other inputs is taken away."""
    try:
        work.mkdir(parents=True, exist_ok=True)
        for other in folder.glob("work-*"):
            if other != work and (other / FILES).is_dir():
                shutil.rmtree(other, ignore_errors=True)
        for place in (folder, work, *work.iterdir()):
            sweep(place)
    except OSError as error:
        raise OutputError(f"The folder {folder.name} cannot be written to: {error.strerror or error}.") from error


def _all(run: Rounds, calls: Sequence[tuple[str, str, Any, tuple[Any, ...]]], told: Told, stage: str) -> dict[str, Any]:
    """What every call gives, by its name; refused with the first that is, once the others have ended.

    Parameters
    ----------
    run : callable
    calls : sequence of (name, what it is called in words, function, arguments)
    told : callable
    stage : str
    """
    words = {name: said for name, said, _, _ in calls}
    made: dict[str, Any] = {}
    refused: dict[str, Any] = {}
    asked = [(f"{stage}-{name}", refused_or, (of, *given)) for name, _, of, given in calls]
    for done, (key, outcome) in enumerate(run(asked), start=1):
        name = key.removeprefix(f"{stage}-")
        (refused if outcome["trouble"] else made)[name] = outcome
        told(stage, done, len(calls))
    if refused:
        first = min(refused)
        more = f" ({len(refused)} parts in all)" if len(refused) > 1 else ""
        raise OutputError(
            f"{words[first]}{more}: {refused[first]['trouble']} What was done is kept: run the same command again."
        )
    return made


def _cut(
    loaded: LoadedJob, job: Path, work: Path, run: Rounds, most: int, fits: Callable[[_Cut], None], told: Told
) -> _Cut:
    """Read every file, find where the job may be cut, and put the shots of each part together."""
    frame, (may, reach) = read_frame(loaded), presets()
    every = job_files(loaded)
    sources = [each.source for each in every.tables if each.role == "shots"]
    shown = {each.source: each.shown for each in every.tables if each.role == "shots"}
    looked = _all(
        run, [(each, shown[each], look, (str(job), str(work), each, reach)) for each in sources], told, "read"
    )
    seen: list[Seen] = [looked[each]["seen"] for each in sources]
    rest = tuple(each for each in every.tables if each.role != "shots")
    intake = take_in_files(loaded, frame, replace(every, tables=rest, background=None))
    base = {name: table for name, table in intake.layers.items() if name != "shots"}
    base["sources"] = _sources(base["sources"], [work / FILES / each for each in sources], frame)
    base = {name: table for name, table in base.items() if name not in ("findings", "evidence", "flags", "notes")}
    side = reach * 0.3048 / frame.unit.metres_float
    part, of_line = cut(seen, lines_of(base, side), most=most)
    first = read_tables(work / FILES / sources[0], frame, ["shots"])["shots"]
    available = {"shots", *base, *(f"shots.{column}" for column in first.columns)}
    available |= {f"{name}.{column}" for name, table in base.items() for column in table.columns}
    order = plan(default_steps(loaded.job.steps), available).order
    files = tuple(
        tuple(name for name, at in zip(sources, part, strict=True) if at == each) for each in range(max(part) + 1)
    )
    shots = {each.source: each.shots for each in seen}
    alone = may if zeros_are_of_the_line(base) else may & NO_DESIGN
    made = _Cut(
        work=work, frame=frame, files=files, steps=order, first=tuple(base),
        shots=tuple(sum(shots[name] for name in names) for names in files),
        alone=frozenset(number for number, step in enumerate(order) if step.name in alone),
        left_out=sum(each["left_out"] for each in looked.values()),
    )  # fmt: skip
    fits(made)
    write_tables(base, work / BASE)
    for name, design in zip(made.parts, designs_of(base, of_line, len(made.parts)), strict=True):
        write_tables(design, work / name / DESIGN)
    calls = [(place.name, _said(made, number), begin, (place, made.files[number]))
             for number, place in enumerate(made.places)]  # fmt: skip
    _all(run, calls, told, "begin")
    return made


def zeros_are_of_the_line(base: Any) -> bool:
    """Whether no design point lies at exactly 0: what that means is said by all points of the job together."""
    return not (base["design_points"]["elevation"] == 0).any()


def _refuse_too_many(
    loaded: LoadedJob, made: _Cut, *, at_once: int | None, engine: Engine, said: Callable[[str], None]
) -> None:
    """What the whole is asked about must fit into one process, beside those that judge the parts."""
    asked = [step.name for number, step in enumerate(made.steps) if number not in made.alone]
    need, there = room(made.shots, engine.processes()), engine.memory()
    said(f"It takes {need.said()}; there are {there / GIGABYTE:.0f} GB.")
    if not asked:
        return
    if at_once is None and need.whole > there:
        why = f"that takes {need.said()}, and there are {there / GIGABYTE:.0f} GB"
    elif at_once is not None and need.shots > at_once:
        why = f"that is done up to {at_once:,}"
    else:
        return
    raise JobError(
        f"{loaded.name} has {many(need.shots, 'shot')}, and {many(len(asked), 'step looks', 'steps look')} "
        f"at all of them at once ({', '.join(asked)}); {why}. "
        'Switch off those that are not needed ([[steps]] use = "…", off = true), judge it as several jobs, '
        "use fewer --workers or smaller parts (--shots), or say with --at-once up to how many it is tried all the same."
    )


def _sources(base: Any, places: list[Path], frame: Frame) -> Any:
    """Table `sources` of all files, those of shots first, as in the job."""
    import pandas as pd

    own = [read_tables(each, frame, ["sources"])["sources"] for each in places]
    whole = pd.concat([*own, base], ignore_index=True)
    return whole.astype(base.dtypes.to_dict())


def _said(made: _Cut, number: int) -> str:
    """A part in words."""
    names = made.files[number]
    return (
        f"{made.parts[number]} ({names[0]} to {names[-1]})" if len(names) > 1 else f"{made.parts[number]} ({names[0]})"
    )


def _judge(made: _Cut, whole: Whole, run: Rounds, told: Told) -> None:
    """Every step in its order: those that may, in all parts at once; the others here, on the whole."""
    for alone, numbers in groupby(range(len(made.steps)), key=lambda number: number in made.alone):
        stretch = list(numbers)
        if not alone:
            for number in stretch:
                told(made.steps[number].name, number, len(made.steps))
                whole.run(number)
            continue
        first, last = stretch[0], stretch[-1] + 1
        calls = [(place.name, _said(made, number), run_alone, (place, first, last))
                 for number, place in enumerate(made.places)]  # fmt: skip
        outcome = _all(run, calls, told, f"steps-{first}-{last}")
        for number in sorted({each for one in outcome.values() for each in one["noted"]}):
            whole.count(number)
    whole.refuse_twice()


def _deliver(made: _Cut, whole: Whole, run: Rounds, folder: Path, loaded: LoadedJob, told: Told) -> InParts:
    """Write the tables of every part, what the whole says, and the summary last."""
    head, of_whole, of_part = loaded.job.job, *told_whole(made.pieces)
    personal = loaded.job.outputs.personal
    (folder / SUMMARY).unlink(missing_ok=True)  # written last: with it, all of it is there
    for left in folder.glob("part-*"):
        if left.name not in made.parts and (left / "shots.parquet").is_file():
            shutil.rmtree(left, ignore_errors=True)
    calls = [(place.name, _said(made, number), deliver_part, (place, str(folder), of_part, personal))
             for number, place in enumerate(made.places)]  # fmt: skip
    outcome = _all(run, calls, told, "write")
    done = len(made.steps)
    tables = {name: whole.rest(name) if name in of_part else whole.table(name, done)[0] for name in of_whole}
    tally = written(in_order(Layers(tables, frame=made.frame)), folder / "whole", list(tables), personal)
    tallies = [tally, *(outcome[name]["tally"] for name in made.parts)]
    counts = _added(tallies)
    by_verdict: dict[str, int] = {}
    for (_, _, verdict), count in counts.items():
        by_verdict[verdict] = by_verdict.get(verdict, 0) + count
    text = {
        "name": head.name, "geoqa": VERSION, "shots": sum(made.shots), "rows_left_out": made.left_out,
        "every_number": dict(sorted(by_verdict.items())),
        "by_kind": [{"check": key[0], "kind": key[1], "verdict": key[2], "count": count}
                    for key, count in sorted(counts.items())],
        "parts": [{"part": name, "files": list(files), "shots": shots}
                  for name, files, shots in zip(made.parts, made.files, made.shots, strict=True)],
        "in_parts": [step.name for number, step in enumerate(made.steps) if number in made.alone],
        "on_the_whole": [step.name for number, step in enumerate(made.steps) if number not in made.alone],
    }  # fmt: skip
    for place in (folder, made.work, *made.work.iterdir()):  # of workers that were lost
        sweep(place)
    (folder / SUMMARY).write_text(json.dumps(text, indent=1, ensure_ascii=False) + "\n", encoding="utf-8", newline="\n")
    return InParts(folder=folder, parts=made.files, shots=made.shots, counts=by_verdict, left_out=made.left_out)


def _added(tallies: Sequence[list[Any]]) -> dict[tuple[str, str, str], int]:
    """Counts of all parts together."""
    counts: dict[tuple[str, str, str], int] = {}
    for tally in tallies:
        for check, kind, verdict, count in tally:
            counts[check, kind, verdict] = counts.get((check, kind, verdict), 0) + count
    return counts
