"""Whether water runs along flow lines: their fall, reach by reach, and where water stands."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.drainage import GUTTER_FALL, PONDING
from geoqa.kernels.design.along_elements import point_at
from geoqa.kernels.drainage.falls import fall_reaches
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.quantity import Length, Slope
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import has_flag
from geoqa.steps.design.alignments import Alignments, alignments
from geoqa.steps.design.deviations import FIRST
from geoqa.steps.drainage.flow_lines import FlowLine, Method, flow_lines, stretches
from geoqa.steps.drainage.line_numbers import Number, fall, gaps, of_no_line, ponds
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, verdicts_of, with_limits
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, WANTS, observed

CHECKS = (GUTTER_FALL, PONDING)


class Gutters(Step):
    """Judge how flow lines fall, and find where water stands on them.

    Shots lie on their design line by station, so that neither the order of rows nor the direction in which a crew
    walked matters; strings that belong to no design line are taken along themselves. Several shots of one place are one
    value. Reaches without a usable shot for longer than the spacing are told, and nothing is said across them. The
    kinds are those with a fall or a ponding depth in the job.
    """

    name = "gutters"
    needs = ("limits", "design_lines", "design_elements", "design_points", "shots.kind", "shots.role", *NEEDS)
    wants = ("line_matches", "beyond_limits", *WANTS)
    adds = ("findings", "evidence")

    reach: Length = Field(Length.parse("50 ft"), description="Length of the reaches whose fall is judged")
    spacing: Length = Field(
        Length.parse("50 ft"), description="Farthest apart two shots may be, where the kind has no spacing of its own"
    )
    same_place: Length = Field(Length.parse("1 ft"), description="Shots this near along the line are of one place")
    inlet_reach: Length = Field(Length.parse("3 ft"), description="An inlet this near to a flow line drains it")
    curb_opening: Length | None = Field(
        None, description="Rims this far above the flow line are of openings in the curb"
    )
    curb_doubt: Length = Field(
        Length.parse("0.25 ft"),
        description="Without curb_opening, rims this far above the flow line may be of openings",
    )
    inlets: tuple[str, ...] = Field(("inlet", "catch-basin", "rim"), description="Kinds that water leaves the line by")
    break_of_grade: Slope = Field(
        Slope.parse("0.5 %"), description="No reach crosses a change of the design's grade larger than this"
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Falls, then standing water."""
        limits, unit = layers["limits"], layers.frame.unit
        kinds = set(limits.loc[limits["check"].isin([check.name for check in CHECKS]), "kind"])
        if not kinds:
            return {"findings": empty("findings"), "evidence": empty("evidence")}
        method = Method(
            same_place=self.same_place.to(unit), inlet_reach=self.inlet_reach.to(unit),
            curb_opening=self.curb_opening.to(unit) if self.curb_opening else np.inf,
            curb_doubt=np.inf if self.curb_opening else self.curb_doubt.to(unit),
            break_of_grade=float(self.break_of_grade), inlets=self.inlets,
        )  # fmt: skip
        lines = flow_lines(layers, kinds, method)
        made = [
            _judged(layers, lines, self._falls(layers, lines), check=GUTTER_FALL),
            _judged(layers, lines, self._water(layers, lines), check=PONDING),
        ]
        findings, evidence = zip(*made, strict=True)
        return {
            "findings": pd.concat(findings, ignore_index=True),
            "evidence": pd.concat(evidence, ignore_index=True),
        }

    def _spacing(self, layers: Layers, kind: str) -> float:
        limits = layers["limits"]
        own = limits.loc[(limits["check"] == "coverage") & (limits["kind"] == kind), "upper"]
        return float(own.max()) if len(own) else self.spacing.to(layers.frame.unit)

    def _falls(self, layers: Layers, lines: list[FlowLine]) -> list["Number"]:
        made: list[Number] = []
        for place, line in enumerate(lines):
            spacing = self._spacing(layers, line.kind)
            made += gaps(layers, line, place, spacing) if not line.loose else [of_no_line(line, place)]
            for first, last in stretches(line, spacing):
                mine = slice(first, last + 1)
                known = bool(np.isfinite(line.design[mine]).all())
                if last == first:
                    made.append(Number(place, first, last, why="too-few-on-line"))
                elif not known:
                    made.append(Number(place, first, last, why="no-flow-direction"))
                else:
                    ends = fall_reaches(
                        line.station[mine], breaks=line.turns.breaks, length=self.reach.to(layers.frame.unit)
                    )
                    made += [fall(line, place, first + a, first + b) for a, b in zip(*ends, strict=True)]
        return made

    def _water(self, layers: Layers, lines: list[FlowLine]) -> list["Number"]:
        made: list[Number] = []
        near = self.inlet_reach.to(layers.frame.unit)
        for place, line in enumerate(lines):
            spacing = self._spacing(layers, line.kind)
            made += gaps(layers, line, place, spacing) if not line.loose else [of_no_line(line, place)]
            for first, last in stretches(line, spacing):
                made += ponds(line, place, first, last, near, layers.frame.unit.name)
        return made


def _judged(
    layers: Layers, lines: list[FlowLine], numbers: list[Number], *, check: Check
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Findings of numbers, and their evidence."""
    limits, unit = layers["limits"], layers.frame.unit
    rows = pd.DataFrame({"nth": range(len(numbers)), "kind": [lines[number.line].kind for number in numbers]})
    rows = asked(with_limits(rows.astype({"kind": "str"}), limits, check=check)) if len(rows) else rows
    if not len(rows):
        return empty("findings"), empty("evidence")
    numbers = [numbers[nth] for nth in rows["nth"]]
    bound = limits["lower" if check.bound == "least" else "upper"].to_numpy(float)[rows["limit"].to_numpy()]
    rows = rows.assign(**_described(layers, lines, numbers))
    made = _measured(layers, lines, numbers, bound, check, unit.name)
    rows = pd.concat([rows.drop(columns="nth"), made], axis=1)
    if check is GUTTER_FALL:
        rows = _held_to_design(rows, bound)
    else:
        rows = _held_back(layers, lines, numbers, rows, limits)
        rows = rows[_told(rows, numbers, check, limits)].reset_index(drop=True)
    findings = findings_of(
        rows.drop(columns=["keys", "names"]), check=check, limits=limits, unit=unit.name, keys=rows["names"].tolist(),
        again="pass of these shots",
    )  # fmt: skip
    members = findings[["finding"]].assign(shot=rows["keys"]).explode("shot").dropna()
    return findings, evidence_of(members["finding"], members["shot"], role="member", layer="shots")


def _described(layers: Layers, lines: list[FlowLine], numbers: list[Number]) -> dict[str, Any]:
    """Where each number lies, and what it is called."""
    design: Alignments = alignments(layers)
    shots = observed(layers)
    place = shots[["easting", "northing"]].to_numpy(float)
    of = np.array([lines[number.line].of_design for number in numbers])
    at = np.array([number.at for number in numbers])
    drawn = np.full((len(numbers), 2), np.nan)
    mine = np.flatnonzero((of >= 0) & np.isfinite(at))
    spot = point_at(design.elements, of[mine], at[mine])
    drawn[mine] = np.column_stack([spot.easting, spot.northing])
    for nth in np.flatnonzero(np.isnan(drawn[:, 0])).tolist():
        rows = _of_shots(lines[numbers[nth].line], numbers[nth])[0]
        drawn[nth] = place[rows[0]] if len(rows) else np.nan
    return {
        "subject": [lines[number.line].name for number in numbers],
        "source": [lines[number.line].source for number in numbers],
        "shot": taken([], np.full(len(numbers), -1)),
        "label": [_label(lines[number.line], number) for number in numbers],
        "station": [number.start if np.isfinite(number.start) else _at(lines[number.line], number.first)
                    for number in numbers],
        "station_end": [number.end if np.isfinite(number.end) else _at(lines[number.line], number.last)
                        for number in numbers],
        "easting": drawn[:, 0],
        "northing": drawn[:, 1],
    }  # fmt: skip


def _at(line: FlowLine, place: int) -> float:
    return float(line.station[place]) if place >= 0 else float("nan")


def _label(line: FlowLine, number: Number) -> str:
    """What a number is called; with its shots, where passes of the line differ."""
    label = number.label or _span(line, number)
    return f"{label}, {line.passes}" if line.passes and number.why != "unshot-reach" else label


def _span(line: FlowLine, number: Number) -> str:
    return f"{words.station(_at(line, number.first))} to {words.station(_at(line, number.last))}"


def _measured(
    layers: Layers, lines: list[FlowLine], numbers: list[Number], bound: np.ndarray, check: Check, unit: str
) -> pd.DataFrame:
    """Numbers with their uncertainty, and what keeps each from being judged."""
    parts = [_of_shots(lines[number.line], number) for number in numbers]
    width = max((len(rows) for rows, _ in parts), default=1) or 1
    members, weights = np.full((len(parts), width), -1), np.zeros((len(parts), width))
    for nth, (rows, share) in enumerate(parts):
        members[nth, : len(rows)], weights[nth, : len(rows)] = rows, share
    value = np.array([number.value for number in numbers])
    beyond = np.nan_to_num(bound - value if check.bound == "least" else value - bound)
    if not len(observed(layers)):
        return _unmeasured(numbers, check)
    made = derived_rows(
        layers, members, {"elevation": weights}, value, beyond=beyond,
        show=lambda number: words.quantity(number, check.quantity, unit),
    )  # fmt: skip
    factor = np.array([_lasting(lines[number.line], number) * number.widening for number in numbers])
    factor[[number.share is None for number in numbers]] = np.nan
    made["u_random"], made["u_common"] = made["u_random"] * factor, made["u_common"] * factor
    made["design"] = [number.design for number in numbers]
    own = np.array([check.why(number.why) for number in numbers])
    made["why"] = np.where(own > 0, own, made["why"])
    tags = [[number.tag or number.why] if number.tag or number.why else [] for number in numbers]
    made["names"] = pd.Series([[*keys, *tag] for keys, tag in zip(made["keys"], tags, strict=True)], dtype=object)
    made["cause"] = made["cause"].where(made["cause"].notna(), [number.cause or None for number in numbers])
    made["remedy"] = _doubtful(layers, members, weights)
    return made


def _unmeasured(numbers: list[Number], check: Check) -> pd.DataFrame:
    """Rows of a job without any shot."""
    blank = dict.fromkeys(("measured", "design", "deviation", "u_common", "u_random"), np.nan)
    made = pd.DataFrame(blank | {"why": [check.why(number.why) for number in numbers]})
    text = taken([], np.full(len(made), -1))
    none: list[list[str]] = [[] for _ in numbers]
    names = [[number.tag or number.why] for number in numbers]
    return made.assign(
        cause=text, remedy=text, keys=pd.Series(none, dtype=object), names=pd.Series(names, dtype=object)
    )


def _of_shots(line: FlowLine, number: Number) -> tuple[np.ndarray, np.ndarray]:
    """Rows of `observed` that count in a number, and their shares."""
    if number.places is None or number.share is None:
        ends = [place for place in (number.first, number.last) if place >= 0]
        rows = line.shots if line.loose else line.shots[np.unique(line.errors.shots(ends))]
        return rows, np.zeros(len(rows))
    order = np.argsort(number.places, kind="stable")
    places, of_place = number.places[order], number.share[order]
    counts = of_place != 0
    places, of_place = places[counts], of_place[counts]
    inside = line.errors.shots(places)
    count = line.errors.start[places + 1] - line.errors.start[places]
    rows, share = line.shots[inside], np.repeat(of_place, count) * line.errors.weight[inside]
    return (np.append(rows, number.rim), np.append(share, 1.0)) if number.rim >= 0 else (rows, share)


def _lasting(line: FlowLine, number: Number) -> float:
    """By how much a number gains from what its shots have in common for minutes."""
    # a number with a rim in it is no difference of shots of the line
    if number.places is None or number.share is None or abs(float(number.share.sum())) > 0.5:
        return 1.0
    with_it, without = (each.of_sum(number.places, number.share) for each in (line.errors, line.errors.plain()))
    return float(np.sqrt(min(max(with_it, 0.0) / without, 1.0))) if without > 0 else 1.0


def _doubtful(layers: Layers, members: np.ndarray, weights: np.ndarray) -> pd.Series:
    """What is to be done first where a shot that counts may be a slip of measuring."""
    shots, row = layers["shots"], observed(layers)["row"].to_numpy()
    doubt = np.full(len(members), -1)
    counts = (members >= 0) & (weights != 0)
    for number, flag in enumerate(FIRST):
        hit = (has_flag(shots, flag)[row][np.where(members >= 0, members, 0)] & counts).any(axis=1)
        doubt[hit] = number
    return taken(list(FIRST.values()), doubt)


def _held_to_design(rows: pd.DataFrame, bound: np.ndarray) -> pd.DataFrame:
    """Where the design falls by less than the limit, the reach must not run backwards, and that is said."""
    flat = (rows["design"].to_numpy(float) < bound) & (bound > 0)
    if not flat.any():
        return rows
    said = [
        f"the design itself falls by {words.quantity(value, 'slope', '')} here, less than the limit of "
        f"{words.quantity(limit, 'slope', '')}: held to not running backwards"
        for value, limit in zip(rows["design"], bound, strict=True)
    ]
    own = pd.Series(said, dtype="str").where(flat & rows["cause"].isna().to_numpy(bool))
    return rows.assign(lower=np.where(flat, 0.0, np.nan), cause=rows["cause"].fillna(own))


def _held_back(
    layers: Layers, lines: list[FlowLine], numbers: list[Number], rows: pd.DataFrame, limits: pd.DataFrame
) -> pd.DataFrame:
    """Say nothing good of a stretch on which a blunder or a doubt lifts some shots and not others.

    What is too deep rests on two shots; that nothing is rests on all of them. What is too near to level to be decided
    says so: a fall would prove it with any uncertainty, and the depth alone does not tell how much is needed.
    """
    shots = observed(layers)
    lifted, setup = shots["blunder_elevation"].to_numpy(bool), shots["setup"].to_numpy()
    doubt, mixed = np.isfinite(shots["doubt_elevation"].to_numpy(float)), np.zeros((2, len(rows)), dtype=bool)
    known: dict[tuple[int, int, int], tuple[bool, bool]] = {}
    for nth, number in enumerate(numbers):
        key = (number.line, *number.stretch)
        if key not in known:
            start, (first, last) = lines[number.line].errors.start, number.stretch
            mine = lines[number.line].shots[start[first] : start[last + 1]]
            some = bool(len(mine) and lifted[mine].any() and not lifted[mine].all())
            known[key] = some, bool(len(mine) and doubt[mine].any() and len(np.unique(setup[mine])) > 1)
        mixed[:, nth] = known[key]
    verdict = verdicts_of(rows, check=PONDING, limits=limits)
    judged = (rows["why"] == 0).to_numpy(bool)
    good = (verdict != "OUT").to_numpy(bool) & judged
    curb = np.array([number.doubtful for number in numbers], dtype=bool) & (verdict == "OUT").to_numpy(bool) & judged
    reasons = ("open-blunder", "survey-doubt", "rim-or-opening", "nearly-level")
    level = good & (verdict == "UNDECIDED").to_numpy(bool)
    why = np.select(
        [good & mixed[0], good & mixed[1], curb, level], [PONDING.why(each) for each in reasons], rows["why"]
    )
    open_rows = level & (why == PONDING.why("nearly-level"))
    helps = taken([PONDING.reason("nearly-level").remedy], np.where(open_rows, 0, -1))
    return rows.assign(why=why, remedy=rows["remedy"].fillna(helps))


def _told(rows: pd.DataFrame, numbers: list[Number], check: Check, limits: pd.DataFrame) -> np.ndarray:
    """Every pond that is too deep as read, and of each stretch the worst of what is left."""
    verdict = verdicts_of(rows, check=check, limits=limits)
    rank = verdict.map({"UNDECIDED": 0, "IN": 1, "NO_DATA": 2}).fillna(3).to_numpy()
    never = [check.why(each) for each in ("unshot-reach", "too-few-on-line", "of-no-line", "rim-or-opening")]
    told = (verdict == "OUT").to_numpy() | rows["why"].isin(never).to_numpy(bool)
    left = pd.DataFrame(
        {"line": [number.line for number in numbers], "first": [number.stretch[0] for number in numbers],
         "limit": rows["limit"], "rank": rank, "depth": -rows["deviation"]}
    )[~told]  # fmt: skip
    best = left.sort_values(["rank", "depth"], kind="stable").drop_duplicates(["line", "first", "limit"])
    told[best.index.to_numpy()] = True
    return told
