"""Look before running: first the job file alone, then the head of each file it names, then where they lie."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from geoqa.errors import GeoqaError
from geoqa.frames.files.reading import frame_lines
from geoqa.job.background import background_inputs
from geoqa.job.inputs import inputs
from geoqa.job.intake import read_frame, take_in
from geoqa.job.load import LoadedJob
from geoqa.job.plan import default_steps, plan
from geoqa.job.unframed import load_framed
from geoqa.model.columns import TABLES, columns_of
from geoqa.model.step import Step


@dataclass(frozen=True)
class Checked:
    """What a look at a job says: problems stop a run; remarks, and doubts of what the files are in, do not."""

    loaded: LoadedJob
    problems: tuple[str, ...]
    remarks: tuple[str, ...]
    doubts: tuple[str, ...] = ()


def check(path: str | Path) -> Checked:
    """Check a job in two stages.

    The job file alone comes first: all its problems at once, and no data is opened. Only if it is
    clean is the head of each file looked at, and what cannot be checked is said, with the column it lacks.
    Where the heads are clean, too, the files are read and held against each other: a declared frame that
    disagrees with control or design is told with both readings as numbers.

    Raises
    ------
    JobError
        Stage one found problems.
    """
    loaded = load_framed(path)
    default_steps(loaded.job.steps)
    problems: list[str] = []
    remarks: list[str] = []
    doubts: tuple[str, ...] = ()
    try:
        frame = read_frame(loaded)
        remarks.append(f"frame: {frame.describe()}")
    except GeoqaError as error:
        problems.append(str(error))
    there: set[str] = set()
    for each in (*inputs(loaded), *background_inputs(loaded)):
        if not each.path.is_file():
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
        remarks += [f"{each.shown}: {item}" for item in peek.evidence]
        there |= _tables(each.role, peek.holds or peek.columns)
    if not problems:
        remarks += _missing(loaded, there)
        try:
            doubts = frame_lines(take_in(loaded).placement)
        except GeoqaError as error:
            problems.append(str(error))
    return Checked(loaded, tuple(problems), tuple(remarks), doubts)


def _tables(role: str, columns: tuple[str, ...]) -> set[str]:
    names = {"design": ("design_lines", "design_elements", "design_points")}.get(role, (role,))
    found = set(names)
    for name in names:
        if name in TABLES and name != "shots":
            found |= {f"{name}.{each.name}" for each in columns_of(name)}
    if role == "shots":
        found |= {f"shots.{column}" for column in columns}
    return found


_TABLES = {
    "design_lines": "[[design]]",
    "design_elements": "[[design]]",
    "design_points": "[[design]]",
    "control": "[control]",
    "codes": "[codes]",
}
"""Where the job file names what a layer is read from."""


def _roots(step: str, steps: tuple[Step, ...], lacking: Mapping[str, tuple[str, ...]]) -> set[str]:
    """What the job lacks for a step: a file, where the step waits for another that lacks it."""
    roots: set[str] = set()
    for need in lacking[step]:
        layer = need.partition(".")[0]
        makers = [each.name for each in steps if (each.name in lacking and need in each.makes()) or layer in each.gives]
        waits = [each for each in makers if each in lacking and each != step]
        for maker in waits:
            roots |= _roots(maker, steps, lacking)
        if not waits:
            roots.add(_TABLES.get(layer, need))
    return roots


def _missing(loaded: LoadedJob, there: set[str]) -> Iterator[str]:
    """Steps that will not run, log columns that are not there, and kinds without a tolerance."""
    every = {f"shots.{each.name}" for each in columns_of("shots", made_by="")}
    made = ("limits", "precision", "screening", "check_policy", "sources")
    always = {*made} | every
    always |= {f"{name}.{each.name}" for name in made for each in columns_of(name)}
    idle: dict[tuple[str, ...], list[str]] = {}
    steps = default_steps(loaded.job.steps)
    lacking = plan(steps, there | always).lacking
    for step in sorted(lacking):
        idle.setdefault(tuple(sorted(_roots(step, steps, lacking))), []).append(step)
    for roots, names in sorted(idle.items()):
        yield f"without {' and '.join(roots)}, {'these steps' if len(names) > 1 else 'one step'} will not run: " + (
            ", ".join(names)
        )
    log = ("solution", "pdop", "satellites", "correction_age", "tilt", "reported_h", "reported_v", "time", "rod_height")
    if absent := [column for column in log if f"shots.{column}" not in there]:
        yield f"the shots carry no {', '.join(absent)}: what depends on them cannot be checked"
    if not loaded.job.tolerance:
        yield "no [tolerance.KIND] is given: nothing can be judged, only shown"
