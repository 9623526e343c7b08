"""Look before running: first the job file alone, then the head of each file it names, then where they lie."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from geoqa.contract.file_sentences import rows_not_read
from geoqa.contract.words import all_words
from geoqa.errors import GeoqaError
from geoqa.frames.files.reading import frame_lines
from geoqa.job.document.load import LoadedJob
from geoqa.job.expected import Expected, expected
from geoqa.job.inputs.intake import Intake, take_in_files
from geoqa.job.inputs.named_files import Input, job_files, read_frame
from geoqa.job.inputs.reading import local_origin
from geoqa.job.inputs.unframed import load_framed
from geoqa.job.lacking import lacks
from geoqa.job.listed_again import asks_what_precisions_mean, listed_again
from geoqa.job.plan import default_steps
from geoqa.model.source import Evidence
from geoqa.model.tables.fact import Fact


@dataclass(frozen=True)
class Checked:
    """What a look at a job says: problems stop a run; remarks, and doubts of what the files are in, do not."""

    loaded: LoadedJob
    problems: tuple[str, ...]
    remarks: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    run: tuple[str, ...] = ()
    """What the run will compare, and what it will not, with why."""
    compares: bool = True
    """Whether the run will compare anything at all."""
    of_work: bool = True
    """Whether any shot of the work will be compared with a design, or with a limit where there is no design."""
    unread: str = ""
    """How many rows of the files are not read, and where; empty where all are."""


def check(path: str | Path) -> Checked:
    """Check a job in two stages.

    The job file alone comes first: all its problems at once, and no data is opened. Only if it is
    clean is the head of each file looked at, and what cannot be checked is said, with the column it lacks.
    Where the heads are clean, too, the files are read and held against each other: a declared frame that
    disagrees with control or design is told with both readings as numbers, and it is said how many shots the run
    will compare with what, and which it will not, and why.

    Raises
    ------
    JobError
        Stage one found problems.
    CheckError, PluginError
        A package declares its checks, flags or notes wrongly.
    """
    loaded = load_framed(path)
    all_words()
    steps = default_steps(loaded.job.steps, loaded.job.outputs.every)
    problems: list[str] = []
    remarks: list[str] = []
    unsettled: dict[str, str] = {}
    doubts: tuple[str, ...] = ()
    coming, unread = Expected(True, ()), ""
    remarks += [rules.in_force(kinds) for rules, kinds in loaded.job.rules_in_force()]
    try:
        frame = read_frame(loaded)
        remarks.append(f"frame: {frame.describe()}")
    except GeoqaError as error:
        problems.append(str(error))
    heads: list[tuple[str, tuple[str, ...]]] = []
    files, declared = job_files(loaded), loaded.job.uncertainty
    for each in files.every:
        if not each.in_memory and not each.path.is_file():
            problems.append(
                f"{each.shown}: is not a file; name the file itself."
                if each.path.exists()
                else f"{each.shown}: there is no such file. Paths start from the job file's folder."
            )
            continue
        try:
            peek = each.table.reader.peek(each.path)
        except GeoqaError as error:
            problems.append(str(error))
            continue
        for item in peek.evidence:
            remarks.append(f"{each.shown}: {_with_the_job(item, each)}")
            if item.what == "order of columns":
                unsettled[each.shown] = remarks[-1]
        if (local := local_origin(each.table)) is not None:
            remarks.append(f"{each.shown}: {local.evidence()}")
        if peek.doubt and each.role in ("shots", "control"):
            remarks.append(f"{each.shown}: {peek.doubt}")
        heads.append((each.role, peek.holds or peek.columns))
        if each.role == "shots" and (asked := asks_what_precisions_mean(peek.columns, each.table, declared)):
            remarks.append(f"{each.shown}: {asked}")
    if not problems:
        remarks += lacks(loaded.job, steps, heads)
        try:
            intake = take_in_files(loaded, frame, files)
            remarks += listed_again(intake.placement.files, intake.placement.frame).values()
            doubts = frame_lines(intake.placement)
            unread = _not_read(intake)
            remarks = _settled(remarks, intake, unsettled)
            remarks += intake.descriptions
            remarks += (*intake.asked, *intake.troubles)
            coming = expected(loaded.job, intake.layers, steps)
        except GeoqaError as error:
            problems.append(str(error))
    return Checked(
        loaded,
        tuple(problems),
        tuple(dict.fromkeys(remarks)),
        doubts,
        coming.lines,
        coming.compares,
        coming.of_work,
        unread,
    )


def _with_the_job(item: Evidence, file: Input) -> Evidence:
    """What a file says of itself, but for a unit that it leaves open and the job states."""
    unit = getattr(file.table, "unit", None)
    if item.what != "unit" or item.answer != "not stated" or not unit:
        return item
    return Evidence(what="unit", answer=str(unit), because="stated in the job; the file states none to go by")


def _settled(remarks: list[str], intake: Intake, unsettled: Mapping[str, str]) -> list[str]:
    """Remarks in which an order of columns that the other files settle is no question any more."""
    told = {}
    for reading in intake.placement.files:
        if (open_order := unsettled.get(reading.file.name)) is not None:
            for item in reading.file.source.evidence:
                if item.what == "columns":
                    told[open_order] = f"{reading.file.name}: {item}"
    return [told.get(each, each) for each in remarks]


def _not_read(intake: Intake) -> str:
    """Rows of the files that no verdict can tell of, or nothing."""
    if not intake.left_out:
        return ""
    return rows_not_read(Fact(name="rows-left-out", count=len(intake.left_out), place="; ".join(intake.unread)))
