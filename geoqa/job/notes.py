"""Notes that no step can make: what was read, which steps did not run, and what the whole of the layers lacks."""

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

from geoqa.contract.drainage import REVEAL
from geoqa.contract.evidence import COVERAGE, UNKNOWN_CODE
from geoqa.contract.walks import CLEAR_WIDTH, CROSS_SLOPE, PASSING_SPACE, RUNNING_SLOPE
from geoqa.contract.work import EXTRA
from geoqa.frames.moving.lonlat import on_earth
from geoqa.job.idle_readings import idle_readings
from geoqa.job.inputs.intake import Intake
from geoqa.job.plan import Plan
from geoqa.model import words
from geoqa.model.check import CONTROL
from geoqa.model.tables.columns import conform
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.register import register, several_revisions
from geoqa.model.tables.shot_flags import once
from geoqa.model.tables.surfaces import surfaces

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]
WALK_KEYS = tuple(check.name for check in (CROSS_SLOPE, RUNNING_SLOPE, CLEAR_WIDTH, PASSING_SPACE))
"""Checks of a walk that are made of both of its edges."""


def with_notes(layers: Layers, rows: Iterable[Row]) -> Layers:
    """Layers with notes of the job itself, after those of its steps.

    Parameters
    ----------
    layers : Layers
    rows : iterable of mapping
        `note`, its name, and columns of `geoqa.model.tables.fact.FACT`.
    """
    import pandas as pd

    made = list(rows)
    if not made:
        return layers
    own = conform("notes", pd.DataFrame(made).assign(step="job"))
    old = layers["notes"]
    whole = own if not len(old) else pd.concat([old, own], ignore_index=True)
    return Layers({**layers, "notes": whole}, frame=layers.frame)


def job_notes(intake: Intake, layers: Layers, done: Plan) -> Iterator[Row]:
    """What a reader of a judged job must know, beside what its steps say."""
    yield from _doubts_left(intake, layers)
    known = register(layers["sources"])
    for sheet, files in several_revisions(layers["sources"]).items():
        listed = "; ".join(f"{file} ({known[file]})" for file in files)
        yield {"note": "design-revisions", "subject": sheet, "count": len(files), "written": listed}
    yield from ({"note": "assumed-unit", "written": item} for item in intake.assumed)
    if not on_earth(layers.frame):
        yield {"note": "nowhere-on-earth", "written": layers.frame.horizontal_name}
    yield from asked(intake)
    lost = intake.left_out
    yield from rows_left_out(intake)
    if not (layers["findings"]["check"] != UNKNOWN_CODE.name).any():
        yield {"note": "nothing-judged"}
    yield from _unprovable(layers)
    yield from _not_judged(layers)
    yield from _no_design(layers)
    yield from idle_readings(layers, judged=True)
    yield from _not_asked(layers)
    yield from without_spacing(layers)
    yield from (each for each in troubles(intake) if not each["written"].startswith(lost[:1]))
    yield from _budget(layers)
    for step, needs in sorted(done.lacking.items()):
        yield {"note": "step-left-out", "subject": step, "written": ", ".join(needs)}
    yield from _gaps(layers)


def doubts(intake: Intake) -> Iterator[Row]:
    """Files whose frame is in doubt."""
    yield from (
        {"note": "frame-doubt", "subject": each.file, "written": each.words, "proposal": each.short}
        for each in intake.doubts
    )


def _doubts_left(intake: Intake, layers: Layers) -> Iterator[Row]:
    """Doubts of files, but for what a finding says of the unit of the same file."""
    notes = layers["notes"]
    told = set(notes.loc[notes["note"] == "other-foot", "subject"])
    yield from (each for each in doubts(intake) if each["subject"] not in told)


def rows_left_out(intake: Intake) -> Iterator[Row]:
    """Rows that are in no table: how many, the first as it is written, and the lines of all."""
    if intake.left_out:
        where = "; ".join(intake.unread)
        yield {"note": "rows-left-out", "count": len(intake.left_out), "written": intake.left_out[0], "place": where}


def asked(intake: Intake) -> Iterator[Row]:
    """What whole files ask."""
    yield from ({"note": "file-asks", "written": each} for each in intake.asked)


def troubles(intake: Intake) -> Iterator[Row]:
    """Rows that were not read whole."""
    yield from ({"note": "row-trouble", "written": trouble} for trouble in intake.troubles)


def _unprovable(layers: Layers) -> Iterator[Row]:
    """Tolerances tighter than this method can prove, once per kind and check, where no step told more of them."""
    findings = layers["findings"]
    tight = findings[findings["why"] == "u-too-large"]
    notes = layers["notes"]
    said = notes[notes["note"] == "undecided"]
    told = set(zip(said["subject"], said["place"], strict=True))
    for (kind, check), rows in tight.groupby(["kind", "check"], sort=True):
        if (kind, check) in told:
            continue
        quantity = str(rows["quantity"].iloc[0])
        half = rows[["lower", "upper"]].abs().min(axis=1).min()
        yield {
            "note": "unprovable", "subject": kind, "place": check, "number": half, "u": rows["u"].median(),
            "unit": "job" if quantity == "length" else quantity, "count": len(rows),
        }  # fmt: skip


def _not_judged(layers: Layers) -> Iterator[Row]:
    """Kinds without a tolerance, and codes that nobody knows."""
    shots = once(layers["shots"])
    if "kind" not in shots:
        return
    judged = set(layers["limits"]["kind"])
    features = shots[(shots["role"] == "feature") & shots["kind"].notna()]
    idle = features.loc[~features["kind"].isin(judged), "kind"].value_counts().sort_index()
    paired, edges = _edges(layers)
    for kind, count in idle.items():
        if kind in edges and kind not in paired:
            yield {"note": "edges-without-pair", "subject": kind, "place": edges[kind], "count": count}
        elif kind not in paired:
            yield {"note": "no-tolerance", "subject": kind, "count": count}
    unknown = shots.loc[shots["kind"].isna(), "code"].fillna("no code").value_counts().sort_index()
    yield from ({"note": "unknown-codes", "written": code, "count": count} for code, count in unknown.items())


def _edges(layers: Layers) -> tuple[set[str], dict[str, str]]:
    """Kinds of lines that are judged as a pair; and those named like an edge of a walk, with the kind they name."""
    from geoqa.model.tables.edge_pairs import pair_kind, paired_kinds

    if "codes" not in layers:
        return set(), {}
    limits, codes = layers["limits"], layers["codes"]
    judged = set(limits["kind"])
    paired = {kind for both in paired_kinds(codes) if pair_kind(*both) in judged for kind in both}
    walks = set(limits.loc[limits["check"].isin(WALK_KEYS), "kind"])
    lines = sorted(set(codes.loc[codes["geometry"] == "line", "kind"].dropna()))
    named = {kind: max((each for each in walks if kind.startswith(f"{each}-")), key=len, default="") for kind in lines}
    return paired, {kind: walk for kind, walk in named.items() if walk}


def _judged_of_several(layers: Layers) -> set[str]:
    """Kinds of which something was judged that is no single shot against its design, such as the inverts of pipes."""
    found = layers["findings"]
    return set(found.loc[~found["check"].isin([EXTRA.name, COVERAGE.name]), "kind"].dropna())


def _no_design(layers: Layers) -> Iterator[Row]:
    """Kinds that have a tolerance, but shots without design, or no shots and no design; and surfaces, not compared."""
    names = surfaces(layers)
    shots, limits = once(layers["shots"]), layers["limits"]
    on_surface = set(limits.loc[limits["check"] == "surface", "kind"]) if names else set()
    read = words.surfaces_not_compared(names) if names and not on_surface else None
    if read:
        yield {"note": "surface-not-compared", "written": read}
    if "kind" not in shots:
        return
    designed = {*layers["design_lines"]["kind"], *layers["design_points"]["kind"]} | on_surface
    shot = shots.loc[shots["role"] == "feature", "kind"].value_counts()
    if designed or len(shot):  # where only the rod is tested, tolerances say what it has to prove
        notes = layers["notes"]  # of a reveal that no pair of codes makes its step has spoken
        told = set(notes.loc[notes["note"] == "reveal-without-pair", "subject"])
        told -= set(limits.loc[limits["check"] != REVEAL.name, "kind"])
        for kind in sorted(set(limits["kind"]) - designed - {CONTROL} - _judged_of_several(layers) - told):
            yield {"note": "unused-tolerance", "subject": kind, "count": shot.get(kind), "written": read}


def _not_asked(layers: Layers) -> Iterator[Row]:
    """Kinds that are matched to a design and have a tolerance, but none for one of the checks."""
    import numpy as np
    import pandas as pd

    limits, shots = layers["limits"], once(layers["shots"])
    for name, checks in (("line_matches", ("offset", "elevation")), ("point_matches", ("position", "elevation"))):
        if name not in layers or "kind" not in shots:
            continue
        matches = layers[name]
        chosen = pd.Index(matches.loc[matches["chosen"], "shot_key"].drop_duplicates())
        kinds = shots["kind"].take(np.flatnonzero(chosen.get_indexer(shots["shot_key"]) >= 0))
        kinds = kinds.value_counts().sort_index()
        for check in checks:
            set_for = set(limits.loc[limits["check"] == check, "kind"])
            for kind, count in kinds.items():
                if kind not in set_for:
                    yield {
                        "note": "no-tolerance-of-check", "variant": name, "place": check, "subject": kind,
                        "count": count,
                    }  # fmt: skip


def without_spacing(layers: Layers) -> Iterator[Row]:
    """Kinds whose lines are judged, but of which nobody says how long a reach may go without a shot."""
    limits, lines = layers["limits"], layers["design_lines"]
    spaced = set(limits.loc[limits["check"] == COVERAGE.name, "kind"])
    judged = set(limits["kind"]) - spaced
    for kind, count in lines.loc[lines["kind"].isin(judged), "kind"].value_counts().sort_index().items():
        yield {"note": "no-spacing", "subject": kind, "count": count}


def _budget(layers: Layers) -> Iterator[Row]:
    """Parts of each axis of every judged kind, as stated; kinds of one origin are told together. Marks are no part."""
    if "budget" not in layers or "limits" not in layers:
        return
    budget = layers["budget"]
    budget = budget[budget["part"] != "mark"]
    judged, taken = set(layers["limits"]["kind"]), _taken(layers)
    alike: dict[tuple[Any, ...], str] = {}
    for kind, mine in budget[budget["kind"].isin(judged)].groupby("kind", sort=True):
        sources = "; ".join(mine.loc[mine["part"] != "all", "source"].drop_duplicates().sort_values())
        axes = {axis: _parts(mine[mine["axis"] == axis]) for axis in ("h", "v")}
        there = tuple(bool(value) for parts in axes.values() for value in parts.values())
        group = alike.setdefault((*there, sources), str(len(alike) + 1))
        for axis, parts in axes.items():
            yield {
                "note": "budget", "variant": group, "subject": str(kind), "place": axis, "unit": "job",
                "reference": sources, "limit": taken.get((str(kind), axis), float("nan")), **parts,
            }  # fmt: skip


def _taken(layers: Layers) -> dict[tuple[str, str], float]:
    """Median 1 sigma of each kind and axis that verdicts take, where the data show more than is stated."""
    if "believed_parts" not in layers or not len(layers["believed_parts"]):
        return {}
    parts, kind = layers["believed_parts"], layers["shots"]["kind"].to_numpy(dtype=object)
    made: dict[tuple[str, str], float] = {}
    for axis in ("h", "v"):
        whole = (parts[f"u_{axis}_random"] ** 2 + parts[f"u_{axis}_common"] ** 2) ** 0.5
        made |= {(str(name), axis): float(u) for name, u in whole.groupby(kind).median().items()}
    return made


def _parts(rows: "pd.DataFrame") -> Row:
    """The whole and its parts; a median of several sources gives way to the largest; a part that is not there is 0."""
    parts = rows.groupby("part", sort=False)["u"].max()
    return {
        "number": float(parts["all"]),
        **{
            column: float(parts.get(part, 0.0))
            for column, part in (("second", "random"), ("third", "common"), ("fourth", "tilt"))
        },
    }


def _gaps(layers: Layers) -> Iterator[Row]:
    """What some shots lack; a field that no shot has is told once, by the step that lists missing fields."""
    lost = layers.get("impossible_checks")
    wholly = set() if lost is None else set(lost.loc[lost["shots"] == lost["of"], "field"])
    for note, name in (("diagnosis-gap", "diagnosis_gaps"), ("screening-gap", "screening_gaps")):
        for row in in_rows(layers[name]) if name in layers else ():
            if row["field"] not in wholly:
                yield {"note": note, "subject": row["field"], "count": row["shots"], "written": row["reason"]}
