"""What a run will compare, told before it: shots and design of each kind, and what will not be judged and why."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from geoqa.contract.tolerance_sentences import readings_idle
from geoqa.job.document.file import Job
from geoqa.job.execute import execute
from geoqa.job.expected_together import together
from geoqa.job.idle_readings import idle_readings
from geoqa.job.rule_kinds import rule_kind_lines
from geoqa.model.check import CONTROL
from geoqa.model.step import Step
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.surfaces import surfaces
from geoqa.model.words import LIMITS_OF_WORK, many, surfaces_not_compared

if TYPE_CHECKING:
    import pandas as pd

ASKED = ("kinds", "unknown-codes")
"""Steps that tell what each shot is of, and what an unknown code may stand for."""
LISTED = 12
"""Codes without a kind that are named; the count is always complete."""

INVERT = "invert"
"""Kind that inverts are judged under."""


@dataclass(frozen=True)
class Expected:
    """What a run will do.

    Attributes
    ----------
    compares : bool
        Whether a shot of some kind meets a design, or a mark, of that kind and a limit.
    of_work : bool
        Whether a shot of the work meets a design of its kind and a limit, or, where no design is read, a limit alone.
    lines : tuple of str
        A line for what is compared, and a line for each thing that is not, with why.
    """

    compares: bool
    lines: tuple[str, ...]
    of_work: bool = True


@dataclass(frozen=True, kw_only=True)
class _Kind:
    """One kind: its shots, its design, and whether a limit is given."""

    shots: int = 0
    lines: int = 0
    points: int = 0
    surface: bool = False
    limits: bool = False
    marks: bool = False

    @property
    def design(self) -> int:
        return self.lines + self.points + self.surface

    @property
    def compared(self) -> bool:
        return bool(self.shots and self.design and self.limits)


def expected(job: Job, layers: Layers, steps: tuple[Step, ...]) -> Expected:
    """Look up the kind of every shot, and hold kinds, design and tolerances against each other.

    Parameters
    ----------
    job : Job
    layers : Layers
        As they were taken in.
    steps : tuple of Step
        Of the run: those of them that look codes up are run.

    Returns
    -------
    Expected
    """
    looked_up = execute(layers, [step for step in steps if step.name in ASKED])
    shots = looked_up["shots"]
    with_kind = (
        shots["kind"].astype("str") if "kind" in shots else shots["code"].astype("str").where([False] * len(shots))
    )
    kinds = _kinds(job, layers, with_kind)
    judged = {kind: each for kind, each in kinds.items() if each.compared and not each.marks}
    pipes = _pipes(layers, kinds)
    several = together(looked_up, with_kind, steps=steps)
    lines = [_compared(judged)] if judged or not (pipes or several.judged) else []
    lines += [*pipes, *several.judged, *_of_control(kinds.get(CONTROL), with_kind, layers)]
    lines += [*several.left, *_not_judged(kinds, several.kinds)]
    lines += rule_kind_lines(job, layers)
    if (names := surfaces(layers)) and not _on_surface(layers):
        lines.append(surfaces_not_compared(names))
    lines += [
        readings_idle(Fact(**{key: value for key, value in row.items() if key != "note"}), "ft")
        for row in idle_readings(layers, judged=False)
    ]
    lines += _without_kind(looked_up, with_kind)
    on_marks = kinds.get(CONTROL, _Kind())
    others = bool(pipes or several.judged)
    designed = any(each.design and not each.marks for each in kinds.values())
    of_work = bool(judged) or (others and not designed)
    return Expected(bool(judged or others) or on_marks.compared, tuple(lines), of_work)


def _kinds(job: Job, layers: Layers, kind_of_shot: "pd.Series") -> dict[str, _Kind]:
    """Every kind that shots, design or tolerances speak of."""
    shots = kind_of_shot.dropna().value_counts()
    lines = layers["design_lines"]["kind"].astype("str").value_counts()
    points = layers["design_points"]["kind"].astype("str").value_counts()
    names = sorted({*map(str, shots.index), *map(str, lines.index), *map(str, points.index), *job.tolerance})
    on_surface = _on_surface(layers)
    found = {}
    for name in names:
        marks = name == CONTROL
        found[name] = _Kind(
            shots=int(shots.get(name, 0)),
            lines=int(lines.get(name, 0)),
            points=len(layers["control"]) if marks else int(points.get(name, 0)),
            surface=name in on_surface,
            limits=name in job.tolerance,
            marks=marks,
        )
    found.pop(LIMITS_OF_WORK, None)
    return found


def _on_surface(layers: Layers) -> set[str]:
    """Kinds that are held against the surfaces that were read."""
    limits = layers["limits"]
    return set(map(str, limits.loc[limits["check"] == "surface", "kind"])) if surfaces(layers) else set()


def _pipes(layers: Layers, kinds: dict[str, _Kind]) -> list[str]:
    """What is judged of pipes by the notes of structures; their kinds need no shot of their own."""
    if "structure_notes" not in layers or not layers["structure_notes"]["pipe"].notna().any():
        return []
    notes = layers["structure_notes"]
    lines = layers["design_lines"]
    noted = set(notes["pipe"].dropna())
    for kind in {INVERT, *lines.loc[lines["line"].isin(noted), "kind"], *notes["kind"].dropna()}:
        if kind in kinds and not kinds[kind].shots:
            kinds.pop(kind)
    ends = int((notes["pipe"].notna() & notes["structure"].notna()).sum())
    return [f"to be judged: {many(ends, 'end')} of {many(len(noted), 'pipe')} by the notes of structures"]


def _compared(judged: dict[str, _Kind]) -> str:
    if not judged:
        return "nothing will be compared with design: no kind has shots, design and a tolerance at once"
    shots = sum(each.shots for each in judged.values())
    lines, points = (sum(getattr(each, name) for each in judged.values()) for name in ("lines", "points"))
    against = " and ".join(
        each
        for each in (
            many(lines, "line") if lines else "",
            many(points, "point") if points else "",
            "a surface" if any(each.surface for each in judged.values()) else "",
        )
        if each
    )
    listed = ", ".join(f"{kind} {each.shots} on {each.design}" for kind, each in judged.items())
    return (
        f"to be compared: {many(shots, 'shot')} of {many(len(judged), 'kind')} against {against} of design ({listed})"
    )


def _of_control(control: _Kind | None, kind_of_shot: "pd.Series", layers: Layers) -> Iterator[str]:
    marks = len(layers["control"])
    if control is None or not (control.shots or marks):
        return
    if control.compared:
        yield f"to be compared: {many(control.shots, 'check shot')} against {many(marks, 'mark')} of control"
    elif control.shots and marks:
        yield (
            f"not judged: {many(control.shots, 'check shot')} on {many(marks, 'mark')} of control: no tolerance; "
            f'add [tolerance.{CONTROL}] with its limits and reference = "…"'
        )
    elif not marks:
        yield f"not judged: {many(control.shots, 'check shot')}: no [control] names a file of marks"


def _not_judged(kinds: dict[str, _Kind], of_several: Collection[str]) -> Iterator[str]:
    """A line a kind, with what it lacks and the line of the job that settles it; `of_several` have such limits."""
    for kind, each in kinds.items():
        if each.marks or each.compared:
            continue
        design = many(each.lines, "line") if each.lines else many(each.points, "point")
        if each.shots and not each.design and kind in of_several:
            yield f"not compared with design: {many(each.shots, 'shot')} of kind {kind}: no design of this kind"
        elif each.shots and not each.design:
            yield f"not judged: {many(each.shots, 'shot')} of kind {kind}: no design of this kind"
        elif each.shots:
            yield (
                f"not judged: {many(each.shots, 'shot')} of kind {kind} on {design} of design: "
                f'no tolerance; add [tolerance.{kind}] with its limits and reference = "…"'
            )
        elif each.design and each.limits:
            yield f"not shot: {design} of kind {kind}: no code of these shots stands for it"
        elif each.design:
            yield f"not judged: {design} of kind {kind}: neither a shot nor a tolerance"
        elif kind not in of_several:
            yield f"[tolerance.{kind}] judges nothing: neither a shot nor a line of design is of this kind"


def _without_kind(layers: Layers, kind_of_shot: "pd.Series") -> Iterator[str]:
    """Shots whose code stands for nothing, code by code, with what each may be meant for."""
    shots = layers["shots"]
    strange = shots["code"].astype("str").str.strip().fillna("")[kind_of_shot.isna().to_numpy(bool)]
    if not len(strange):
        return
    if not len(layers["codes"]):
        yield (
            f"not judged: {many(len(strange), 'shot')}: no [codes] says which kind a code stands for; "
            "add [codes] with file = a list of code and kind"
        )
        return
    proposed = _proposals(layers)
    counts = strange.value_counts()
    for code, count in sorted(counts.items(), key=lambda each: (-each[1], str(each[0])))[:LISTED]:
        named = f"code '{code}'" if code else "no code"
        said = proposed.get(
            str(code), "add a row for it to the code list" if code else "a shot without a code has no kind"
        )
        yield f"not judged: {many(int(count), 'shot')} with {named}, which the code list does not hold: {said}"
    if (more := len(counts) - LISTED) > 0:
        yield f"not judged: shots of {many(more, 'more code')} that the code list does not hold"


def _proposals(layers: Layers) -> dict[str, str]:
    """What each unknown code may stand for, as the run will say it."""
    if "findings" not in layers or "remedy" not in layers["findings"]:
        return {}
    found = layers["findings"]
    found = found[(found["check"] == "unknown-code").to_numpy(bool)]
    if not len(found):
        return {}
    key = "subject" if "subject" in found else "feature"
    return {str(code).strip(): str(remedy) for code, remedy in zip(found[key], found["remedy"], strict=True)}
