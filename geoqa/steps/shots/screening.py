"""Screening: whether what the log says about a shot is good enough to judge it."""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

import numpy as np
import pandas as pd

from geoqa.errors import JobError, QuantityError
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import SOLUTIONS, columns_of, conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import all_flags, flagged, noted

_SMALLEST = frozenset({"satellites", "epochs"})
"""Fields of which more is better."""

_NUMBER = re.compile(r"^\s*(-?\d+\.?\d*|-?\.\d+)\s*([A-Za-z°]*)\s*$")
_UNITS = {"s": "s", "deg": "deg", "°": "deg", "": ""}


@dataclass(frozen=True, kw_only=True)
class _Rule:
    kind: str
    field: str
    worst: str
    reject: bool
    reference: str
    allowed: frozenset[str]
    limit: float
    unit: str

    def fails(self, values: pd.Series) -> np.ndarray:
        """Which values are worse than the worst; a missing one is not."""
        if self.allowed:
            return (values.notna() & ~values.isin(self.allowed)).to_numpy(bool)
        number = values.to_numpy(float, na_value=np.nan)
        if self.field in _SMALLEST:
            return number < self.limit
        return np.abs(number) > self.limit

    def facts(self, values: pd.Series) -> dict[str, Any]:
        """What was in the log, and what is allowed."""
        shared: dict[str, Any] = {"written": self.worst, "reference": self.reference}
        if self.allowed:
            return shared | {"variant": "allowed", "other": values}
        side = "fewer" if self.field in _SMALLEST else "more"
        number = values.to_numpy(float, na_value=np.nan)
        return shared | {"variant": side, "number": number, "limit": self.limit, "unit": self.unit}


class Screening(Step):
    """Flag shots whose log is worse than the screening rules allow.

    A rule for a kind stands in place of the rule for all kinds with the same field and action. A
    shot that fails both to be warned of and to be rejected is rejected. A number the log
    does not hold is no failure: how many shots could not be screened by it is counted once. A rule for a kind that no
    code has, and a rule whose allowed words no shot bears, are told: they may be misspelt.
    """

    name = "screening"
    needs = ("screening", "shots.kind", "shots.role")
    wants = ("codes",)
    gives = ("screening_gaps",)
    adds = ("flags", "notes")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Hold each field against its rules."""
        shots, unit = layers["shots"], layers.frame.unit
        rules = [_rule(row, unit) for row in layers["screening"].to_dict("records")]
        flags, gaps = [], []
        for field in sorted({rule.field for rule in rules}):
            mine = [rule for rule in rules if rule.field == field]
            applies = {rule: _applies(rule, mine, shots) for rule in mine}
            flags += self._flags(shots, field, applies)
            missing = int((np.any(list(applies.values()), axis=0) & shots[field].isna().to_numpy()).sum())
            if missing:
                reason = f"the log holds no {field.replace('_', ' ')} for them"
                gaps.append({"field": field, "shots": missing, "reason": reason})
        listed = pd.DataFrame(gaps, columns=["field", "shots", "reason"])
        return {
            "screening_gaps": conform("screening_gaps", listed),
            "flags": all_flags(flags),
            "notes": noted(self.name, [*_strange_kinds(rules, layers), *_strange_words(rules, shots)]),
        }

    def _flags(self, shots: pd.DataFrame, field: str, applies: dict[_Rule, np.ndarray]) -> list[pd.DataFrame]:
        done = np.zeros(len(shots), dtype=bool)
        found = []
        for rule in sorted(applies, key=lambda each: not each.reject):
            rows = np.flatnonzero(applies[rule] & rule.fails(shots[field]) & ~done)
            done[rows] = True
            facts = rule.facts(shots[field].iloc[rows])
            found.append(flagged(shots, rows, flag=field, reject=rule.reject, step=self.name, **facts))
        return found


def _strange_kinds(rules: list[_Rule], layers: Layers) -> list[dict[str, Any]]:
    """Kinds of rules of the job that no code and no shot has; those of common practice name kinds of many jobs."""
    if (layers["screening"]["source"] == "preset").all():
        return []
    known = set(layers["shots"]["kind"].dropna())
    if "codes" in layers:
        known |= set(layers["codes"]["kind"].dropna())
    strange = sorted({rule.kind for rule in rules} - known - {"*"})
    near = {kind: get_close_matches(kind, sorted(known), 1) for kind in strange}
    return [{"note": "screening-rule", "variant": "kind", "subject": kind, "proposal": near[kind][0] if near[kind]
             else None, "count": sum(rule.kind == kind for rule in rules)} for kind in strange]  # fmt: skip


def _strange_words(rules: list[_Rule], shots: pd.DataFrame) -> list[dict[str, Any]]:
    """Rules none of whose allowed words stands in the log, which has others."""
    found: list[dict[str, Any]] = []
    for rule in rules:
        values = shots[rule.field].dropna() if rule.allowed else shots[rule.field].iloc[:0]
        if rule.field != "solution" and len(values) and not values.isin(rule.allowed).any():
            found.append({"note": "screening-rule", "variant": "words", "subject": rule.field, "written": rule.worst,
                          "other": str(values.value_counts().index[0])[:40]})  # fmt: skip
    return found


def _applies(rule: _Rule, rules: list[_Rule], shots: pd.DataFrame) -> np.ndarray:
    """Shots a rule is for: features and check shots of its kind, less the kinds with a rule of their own."""
    screened = shots["role"].isin(["feature", "check"]) | shots["kind"].isna()
    if rule.kind != "*":
        return (screened & (shots["kind"] == rule.kind)).to_numpy(bool)
    own = {each.kind for each in rules if each.reject == rule.reject and each.kind != "*"}
    return (screened & ~shots["kind"].isin(own)).to_numpy(bool)


def _rule(row: dict[str, Any], unit: LengthUnit) -> _Rule:
    field, worst = str(row["field"]), str(row["worst"]).strip()
    columns = {each.name: each for each in columns_of("shots", made_by="")}
    where = f"Screening rule for {row['kind']}, {field}"
    if row["action"] not in ("warn", "reject"):
        raise JobError(f"{where}: action '{row['action']}' is neither warn nor reject.")
    if field not in columns:
        raise JobError(f"{where}: shots have no column '{field}'; name one of {', '.join(columns)}.")
    text = columns[field].dtype == "str"
    allowed = frozenset(each.strip() for each in worst.split("|") if each.strip()) if text else frozenset()
    if field == "solution" and (strange := sorted(allowed - set(SOLUTIONS))):
        near = get_close_matches(strange[0], SOLUTIONS, 1)
        raise JobError(
            f"{where}: '{strange[0]}' is no solution; known are {', '.join(SOLUTIONS)}."
            + (f" Did you mean {near[0]}?" if near else "")
        )
    if text and not allowed:
        raise JobError(f"{where}: '{worst}' allows nothing; write the allowed words, joined by |.")
    limit = np.nan if text else _limit(worst, columns[field].unit, unit, where)
    return _Rule(
        kind=str(row["kind"]),
        field=field,
        worst=" or ".join(sorted(allowed)) if text else worst,
        reject=row["action"] == "reject",
        reference=str(row["reference"]),
        allowed=allowed,
        limit=limit,
        unit=columns[field].unit,
    )


def _limit(worst: str, meant: str, unit: LengthUnit, where: str) -> float:
    if meant == "job":
        try:
            return Length.parse(worst).to(unit)
        except QuantityError as error:
            raise JobError(f"{where}: {error}") from None
    match = _NUMBER.match(worst)
    wanted = meant if meant in ("s", "deg") else ""
    if match is None or _UNITS.get(match[2]) not in (wanted, ""):
        raise JobError(
            f"{where}: '{worst}' is not a limit; write a number{f' and its unit, {wanted}' if wanted else ''}."
        )
    if _UNITS[match[2]] != wanted:
        raise JobError(f"{where}: '{worst}' has no unit; write it as '{worst} {wanted}'.")
    return float(match[1])
