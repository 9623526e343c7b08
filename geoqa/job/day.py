"""The end of a field day: one file of shots, one frame, and a list of what to do before leaving."""

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from geoqa import plugins
from geoqa.contract.notes import OF_THE_DAY
from geoqa.contract.sentences import note_lines
from geoqa.errors import JobError, OrderError
from geoqa.frames.files.reading import frame_lines
from geoqa.job.begin.listing import not_text
from geoqa.job.deliver import deliver
from geoqa.job.discreet import contacts_left_out, discreet
from geoqa.job.document.load import LoadedJob, parse, resolved
from geoqa.job.document.quoted import quoted
from geoqa.job.execute import Progress, execute, silent
from geoqa.job.inputs.intake import Intake, originals, take_in
from geoqa.job.inputs.unframed import NOT_STATED, possible_frames
from geoqa.job.notes import Row, asked, rows_left_out, troubles, with_notes
from geoqa.job.plan import plan
from geoqa.job.record import make_record
from geoqa.job.summary import summarise
from geoqa.model.results import Results, Title
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.model.vocabulary import NOW
from geoqa.model.words import many

if TYPE_CHECKING:
    pass


STEPS = (
    "kinds", "uncertainty", "screening", "doubtful-records", "doubles", "motion", "spikes", "code-slips",
    "swapped-pairs", "string-faults", "weak-sky", "missing-fields", "check-policy", "identical-to-design",
    "match-lines", "match-points", "diagnosis", "usable-shots", "residual-tables", "day-items",
)  # fmt: skip
"""What is looked at; nothing is judged against a tolerance."""


@dataclass(frozen=True, kw_only=True)
class DayFiles:
    """What a day is checked with; only the shots and the frame are needed.

    `shots` is one file or several; `lines` are lines of a job file's ``[[shots]]``, as messages name them, for every
    file of shots, or with a file's name and a colon before them for that one.
    """

    shots: Path | Sequence[Path]
    lines: tuple[str, ...] = ()
    frame: str | None = None
    control: Path | None = None
    codes: Path | None = None
    design: Path | None = None
    screening: Path | None = None
    check_policy: Path | None = None

    @property
    def shot_files(self) -> tuple[Path, ...]:
        """The files of shots."""
        return (self.shots,) if isinstance(self.shots, Path) else tuple(self.shots)

    @property
    def title(self) -> str:
        """What the page is called."""
        first, *others = self.shot_files
        return first.name if not others else f"{first.name} and {many(len(others), 'other file')}"


def day(files: DayFiles, *, folder: Path | None = None, progress: Progress = silent) -> Results:
    """Look through a day's shots, and write ``day.html``.

    Parameters
    ----------
    files : DayFiles
    folder : Path, optional
        Where the page goes; nothing is written without.
    progress : callable

    Returns
    -------
    Results
        Its layer `day_items` is the list, most urgent first.

    Raises
    ------
    JobError
        No frame is given; the message says which are possible.
    SourceError, FrameError
        A file cannot be read, or does not fit the frame.
    """
    text = job_text(files)
    loaded = LoadedJob(resolved(files.shot_files[0]).parent / "day.toml", text, parse(text, name="day"))
    _refuse_offsets(loaded)
    try:
        if files.frame is None:
            candidates = possible_frames(loaded, needed=("shots",))
            raise JobError("\n  ".join(["--frame is needed, e.g. --frame EPSG:6547.", *candidates]))
        intake = take_in(loaded, progress=progress)
    except OrderError as error:
        either = "\n  or ".join(_said(order, files) for order in error.orders)
        raise OrderError(f"{error}\nHere that is\n  {either}", error.orders) from None
    layers = with_codes(intake.layers) if files.codes is None else intake.layers
    steps = [plugins.load("steps", name)() for name in STEPS]
    if files.control is None:  # without marks nobody can say what a check shot is
        steps = [step for step in steps if step.name not in ("check-policy", "residual-tables", "diagnosis")]
    done = plan(steps, layers.available())
    layers = execute(with_notes(layers, rows_left_out(intake)), steps, progress=progress)
    layers = discreet(with_notes(layers, [*_notes(files, intake), *contacts_left_out(layers)]))
    newest = layers["shots"]["time"].max()
    title = Title(name=files.title, date=newest.date().isoformat() if newest == newest else "")
    summary = summarise(title, layers) | {"urgent": int((layers["day_items"]["urgency"] == NOW).sum())}
    results = Results(
        title=title,
        layers=layers,
        summary=summary,
        record=make_record(loaded, intake, done),
        notes=note_lines(layers["notes"], layers.frame.unit.name, only=OF_THE_DAY),
    )
    if folder is not None:
        deliver(results, folder, [plugins.load("pages", "day")()], originals=originals(loaded), progress=progress)
    return results


def job_text(files: DayFiles) -> str:
    """The job file that a day stands for."""
    start = resolved(files.shot_files[0]).parent

    def named(path: Path) -> str:
        return quoted(Path(os.path.relpath(resolved(path), start)).as_posix())

    horizontal = NOT_STATED if files.frame is None else files.frame
    lines = ["[job]", f"name = {quoted(files.shot_files[0].stem)}", "[frame]", f"horizontal = {quoted(horizontal)}"]
    for path in files.shot_files:
        own = list(_lines_of(path, files))
        lines += ["[[shots]]", f"file = {named(path)}", *own, *_read_as("shots", path, own)]
    for role in ("control", "codes", "screening", "check_policy"):
        if (path := getattr(files, role)) is not None:
            own = list(_lines_of(path, files, shots=False))
            lines += [f"[{role}]", f"file = {named(path)}", *own, *_read_as(role, path, own)]
    if files.design is not None:
        lines += ["[[design]]", f"file = {named(files.design)}"]
    return "\n".join(lines) + "\n"


def _refuse_offsets(loaded: LoadedJob) -> None:
    """Refuse a table that only looks like shots, before anything is said of where it lies."""
    for table in loaded.job.shots:
        path = loaded.resolve(table.file)
        if getattr(table.reader, "columns", ()) is None and (doubt := table.reader.peek(path).doubt):
            raise JobError(f"'{table.file}': {doubt}. If they are shots, name its columns with --columns.")


def stated(columns: Sequence[str]) -> str:
    """The line of ``[[shots]]`` that states columns in file order.

    Examples
    --------
    >>> stated(["shot", "easting"])
    'columns = ["shot", "easting"]'
    """
    return f"columns = [{', '.join(map(quoted, columns))}]"


def _said(order: Sequence[str], files: DayFiles) -> str:
    """How the command is told an order of columns: of the shots, or of the list of marks."""
    if "mark" in order and files.control is not None:
        return f"--line '{files.control.name}: {stated(order)}'"
    return f"--columns {','.join(order)}"


def _lines_of(path: Path, files: DayFiles, *, shots: bool = True) -> Iterator[str]:
    """Lines that are said for a file: those with its name before them, and of shots those for all."""
    others = (files.control, files.codes, files.screening, files.check_policy)
    names = {each.name for each in (*files.shot_files, *others) if each is not None}
    for line in files.lines:
        name, colon, rest = line.partition(":")
        own = bool(colon) and name.strip() in names
        if own and name.strip() == path.name:
            yield rest.strip()
        elif shots and not own:
            yield line


def _read_as(role: str, path: Path, own: Sequence[str] = ()) -> Iterator[str]:
    """The line that reads a file as delimited text, where its ending says nothing and its first bytes are text.

    Raises
    ------
    JobError
        Its ending says nothing, and it is no text.
    """
    suffix, declared = path.suffix.lower().removeprefix("."), plugins.declared("readers")
    if f"{role}.{suffix}" in declared or any(line.partition("=")[0].strip() == "use" for line in own):
        return
    ending = f".{suffix}" if suffix else "a file without ending"
    if (reason := not_text(path)) is not None:
        known = ", ".join(f".{name.partition('.')[2]}" for name in declared if name.startswith(f"{role}."))
        raise JobError(f"'{path.name}': no reader for {role} takes {ending}, and {reason}; known: {known}.")
    yield f'use = "{role}.csv"'


def with_codes(layers: Layers) -> Layers:
    """Layers with a code list made of the codes that were used: each a kind of its own.

    A code whose shots mostly name control marks is one of check shots; one with line IDs and several shots a line
    is a line.
    """
    import pandas as pd

    shots, marks = layers["shots"], set(layers["control"]["mark"])
    rows = []
    for code, members in shots.groupby(shots["code"].str.strip(), sort=True):
        named = members["line_id"].str.strip().isin(marks) | members["shot"].str.strip().isin(marks)
        role = "check" if marks and named.mean() > 0.5 else "feature"
        long = members["line_id"].notna().mean() > 0.5 and members.groupby("line_id").size().max() >= 3
        geometry = "line" if long and role == "feature" else "point"
        rows.append({"code": code, "kind": str(code), "geometry": geometry, "role": role})
    columns = ["code", "kind", "geometry", "role"]
    tables: dict[str, pd.DataFrame] = dict(layers)
    tables["codes"] = conform("codes", pd.DataFrame(rows, columns=columns))
    return Layers(tables, frame=layers.frame)


def _notes(files: DayFiles, intake: Intake) -> Iterator[Row]:
    yield from ({"note": "frame-doubt", "written": line} for line in frame_lines(intake.placement))
    given = (("no-control", files.control), ("no-code-list", files.codes), ("no-design", files.design))
    yield from ({"note": note} for note, file in given if file is None)
    yield from asked(intake)
    yield from troubles(intake)
