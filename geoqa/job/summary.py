"""Counts and the headline of a run, and what a reader must know first."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from geoqa.contract.checks import check_named
from geoqa.job.budget_notes import budget_notes, budget_rows
from geoqa.job.crew_notes import crew_notes, impossible_notes
from geoqa.job.intake import Intake
from geoqa.job.plan import Plan
from geoqa.model import words
from geoqa.model.check import CONTROL
from geoqa.model.layer import Layers
from geoqa.model.results import Title
from geoqa.model.signs import SIGNS

if TYPE_CHECKING:
    import pandas as pd

WORST_LISTED = 20
CODES_LISTED = 12


def summarise(title: Title, layers: Layers) -> dict[str, Any]:
    """Plain numbers and text, JSON-ready: counts by verdict, by check and kind, and the worst items."""
    import pandas as pd

    findings = layers["findings"]
    reported = pd.DataFrame(findings[_TOLD])[findings["run"].isna()]
    shots = layers["shots"]
    return {
        "name": title.name,
        "revision": title.revision,
        "date": title.date,
        "preliminary": title.preliminary,
        "frame": layers.frame.describe(),
        "grid_ground": _grid_ground(layers),
        "unit": layers.frame.unit.name,
        "shots": len(shots),
        "shots_rejected": int((~shots["use"]).sum()) if "use" in shots else 0,
        "reported": _counts(reported),
        "every_number": _counts(findings),
        "by_check": _tally(reported, ["check"]),
        "by_kind": _tally(reported, ["kind", "check"]),
        "budget": budget_rows(layers),
        "why_not_judged": _tally(reported[reported["verdict"] == "NO_DATA"], ["why"]),
        "worst": [_row(row, layers.frame.unit.name) for row in reported.head(WORST_LISTED).to_dict("records")],
    }


_TOLD = ["finding", "verdict", "check", "kind", "subject", "label", "deviation", "quantity", "why", "reference"]
"""Columns of findings that the summary tells of."""


def _grid_ground(layers: Layers) -> str:
    """What lies between grid and ground, in a sentence; nothing where it is not known."""
    if "grid_ground" not in layers or not len(layers["grid_ground"]):
        return ""
    return str(layers["grid_ground"]["words"].iloc[0])


def _counts(findings: "pd.DataFrame") -> dict[str, int]:
    found = findings["verdict"].value_counts()
    return {verdict: int(found.get(verdict, 0)) for verdict in SIGNS}


def _tally(findings: "pd.DataFrame", by: list[str]) -> list[dict[str, Any]]:
    if not len(findings):
        return []
    table = findings.groupby([*by, "verdict"], sort=True, dropna=False).size().unstack("verdict", fill_value=0)
    return [
        dict(zip(by, key if isinstance(key, tuple) else (key,), strict=True))
        | {verdict: int(row.get(verdict, 0)) for verdict in SIGNS}
        for key, row in table.iterrows()
    ]


def _row(finding: dict[str, Any], unit: str) -> dict[str, Any]:
    return {
        "finding": finding["finding"],
        "verdict": finding["verdict"],
        "check": finding["check"],
        "subject": finding["subject"],
        "label": finding["label"],
        "deviation": words.quantity(finding["deviation"], finding["quantity"], unit, signed=True),
        "why": finding["why"],
        "reference": finding["reference"],
    }


def first_notes(intake: Intake, layers: Layers, done: Plan) -> tuple[str, ...]:
    """What a reader must know before the numbers, worst first; what the log does not hold comes last."""
    notes = [*_diagnosed(layers), *(each.words for each in intake.doubts), *_tilt(layers)]
    notes += [*_assumed(intake), *_rows_left_out(intake), *_nothing_judged(layers)]
    notes += [*_unprovable(layers), *_not_judged(layers), *_no_design(layers), *_not_asked(layers)]
    notes += crew_notes(layers)
    notes += [f"Row not read whole: {trouble}" for trouble in intake.troubles]
    notes += [*budget_notes(layers), *_left_out(done), *_gaps(layers), *impossible_notes(layers)]
    return tuple(notes)


def _assumed(intake: Intake) -> Iterable[str]:
    """A unit that nobody stated and that is not the job's own: the dearest mistake there is."""
    for item in intake.evidence:
        if "unit of elevations: assumed" in item:
            yield f'{item}. If they are in another, state it in the table of that file, e.g. vertical = "ft".'


def _rows_left_out(intake: Intake) -> Iterable[str]:
    """Rows that are in no table, so that no verdict can tell of them."""
    rows = intake.left_out
    if rows:
        count = "1 row could not be read and is" if len(rows) == 1 else f"{len(rows)} rows could not be read and are"
        yield f"{count} left out of everything that follows; the first: {rows[0]}."


def _nothing_judged(layers: Layers) -> Iterable[str]:
    """A job in which no check was made is not a job without faults."""
    if not len(layers["findings"]):
        yield (
            "Nothing was judged. A shot is judged where its code stands in [codes], the design or control holds "
            "something of its kind, and a [tolerance.KIND] is given."
        )


def _tilt(layers: Layers) -> Iterable[str]:
    """What a tilt test says, where the job holds one."""
    if "tilt_test" in layers:
        yield from layers["tilt_test"]["conclusion"]


def _diagnosed(layers: Layers) -> Iterable[str]:
    """What the diagnosis of blunders says, with the change to make; nothing where no blunder shows."""
    if "causes" not in layers:
        return
    causes = layers["causes"]
    for row in causes[(causes["explanation"] == 1) & (causes["status"] != "none")].to_dict("records"):
        apart = f" To tell these apart: {row['separates']}." if row["separates"] else ""
        yield f"Survey blunder? {row['words']}.{apart} What to do: {row['remedy']}."


def _unprovable(layers: Layers) -> Iterable[str]:
    """Tolerances tighter than this method can prove, once per kind and check."""
    findings = layers["findings"]
    tight = findings[findings["why"] == "u-too-large"]
    unit = layers.frame.unit.name
    for (kind, check), rows in tight.groupby(["kind", "check"], sort=True):
        quantity = str(rows["quantity"].iloc[0])
        half = rows[["lower", "upper"]].abs().min(axis=1).min()
        yield (
            f"{kind}, {check_named(str(check)).title.lower()}: the tolerance of "
            f"{words.quantity(half, quantity, unit)} cannot be proven with this measurement "
            f"(1 sigma {words.quantity(rows['u'].median(), quantity, unit)}); {len(rows)} numbers stay undecided "
            "unless they are clearly out."
        )


def _left_out(done: Plan) -> Iterable[str]:
    for step, needs in sorted(done.lacking.items()):
        yield f"Step '{step}' did not run: it needs {', '.join(needs)}, which this job does not have."


def _gaps(layers: Layers) -> Iterable[str]:
    """What some shots lack; a field that no shot has is told once, by `impossible_notes`."""
    lost = layers.get("impossible_checks")
    wholly = set() if lost is None else set(lost.loc[lost["shots"] == lost["of"], "field"])
    for name, said in (
        ("diagnosis_gaps", "Diagnosis without {field} ({shots} shots): {reason}."),
        ("screening_gaps", "Screening by {field} was not possible for {shots} shots: {reason}."),
    ):
        for row in layers[name].to_dict("records") if name in layers else ():
            if row["field"] not in wholly:
                yield said.format(**row)


def _not_judged(layers: Layers) -> Iterable[str]:
    shots = layers["shots"]
    if "kind" not in shots:
        return
    judged = set(layers["limits"]["kind"])
    features = shots[(shots["role"] == "feature") & shots["kind"].notna()]
    idle = features.loc[~features["kind"].isin(judged), "kind"].value_counts().sort_index()
    if len(idle):
        listed = ", ".join(f"{kind} ({count})" for kind, count in idle.items())
        yield f"No tolerance is given for these kinds, so their shots are shown and not judged: {listed}."
    unknown = shots.loc[shots["kind"].isna(), "code"].fillna("no code").value_counts().sort_index()
    if len(unknown):
        listed = ", ".join(f"{code} ({count})" for code, count in unknown.head(CODES_LISTED).items())
        more = f" and {len(unknown) - CODES_LISTED} more" if len(unknown) > CODES_LISTED else ""
        total = int(unknown.sum())
        have = "1 shot has a code that is" if total == 1 else f"{total} shots have codes that are"
        yield f"{have} not in the code list, shown and not judged: {listed}{more}."


def _not_asked(layers: Layers) -> Iterable[str]:
    """Kinds that are matched to a design and have a tolerance, but none for one of the checks."""
    import numpy as np
    import pandas as pd

    limits, shots = layers["limits"], layers["shots"]
    for name, checks in (("line_matches", ("offset", "elevation")), ("point_matches", ("position", "elevation"))):
        if name not in layers or "kind" not in shots:
            continue
        matches = layers[name]
        chosen = pd.Index(matches.loc[matches["chosen"], "shot_key"].drop_duplicates())
        kinds = shots["kind"].take(np.flatnonzero(chosen.get_indexer(shots["shot_key"]) >= 0))
        kinds = kinds.value_counts().sort_index()
        for check in checks:
            set_for = set(limits.loc[limits["check"] == check, "kind"])
            idle = [f"{kind} ({count})" for kind, count in kinds.items() if kind not in set_for]
            if idle:
                yield f"No tolerance for {check_named(check).title.lower()} is given for: {', '.join(idle)}."


def _no_design(layers: Layers) -> Iterable[str]:
    """Kinds that have a tolerance, but shots without design, or no shots and no design at all."""
    shots, limits = layers["shots"], layers["limits"]
    if "kind" not in shots:
        return
    designed = {*layers["design_lines"]["kind"], *layers["design_points"]["kind"]}
    shot = shots.loc[shots["role"] == "feature", "kind"].value_counts()
    if designed or len(shot):  # where only the rod is tested, tolerances say what it has to prove
        yield from _unused(sorted(set(limits["kind"]) - designed - {CONTROL}), shot)


def _unused(kinds: Iterable[str], shot: Any) -> Iterable[str]:
    for kind in kinds:
        if kind in shot:
            yield (
                f"The design has nothing of kind {kind}, so {shot[kind]} shots cannot be compared with it. "
                "Is a layer or its kind misnamed?"
            )
        else:
            yield f"[tolerance.{kind}]: neither the shots nor the design have this kind. Is it misspelt?"
