"""Codes of several shots that the code list does not know: one question each, with the codes they may stand for."""

from collections import Counter
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.code_sentences import Meant, what_is_meant
from geoqa.contract.evidence import UNKNOWN_CODE
from geoqa.kernels.design.station import candidates
from geoqa.model import words
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.findings import evidence_of, findings_of
from geoqa.steps.shots.kinds import nearest_code
from geoqa.steps.shots.listings import counted

MOST = 0.6
"""Share of a code's shots, or of those that share its line ID, that must speak for one known code."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Known:
    """The code list, and the one code of each kind that is proposed for it."""

    codes: list[str]
    of_kind: dict[str, str]
    kind_of: dict[str, str]


class UnknownCodes(Step):
    """Ask once for each code that several shots bear and the code list does not know.

    What it may stand for is proposed from three things: a known code that is spelled alike; known codes of other shots
    with the same line ID, or a line ID that is or begins with the name of a design line or a code; and the kind of
    design that most of its shots lie on, within `close` in plan and elevation. A proposal is never applied.
    """

    name = "unknown-codes"
    needs = ("shots.kind", "codes")
    wants = ("design_elements", "design_lines", "design_points", "sources")
    adds = ("findings", "evidence")

    least: int = Field(3, ge=1, description="Fewest shots of one unknown code that make a finding of it")
    likeness: float = Field(0.5, ge=0, le=1, description="Least likeness of a code that is proposed by its spelling")
    close: Length = Field(Length.parse("0.40 ft"), description="Farthest from the design that a shot may be of")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Code by code, the most frequent first."""
        whole = counted(layers)
        shots, known = whole["shots"], _known(whole["codes"])
        strange = np.flatnonzero(shots["kind"].isna())
        written = shots["code"].iloc[strange].str.strip().fillna("").to_numpy(object)
        codes = [code for code, count in sorted(Counter(written).items()) if count >= self.least]
        if not codes or not known.codes:  # without a code list no code is like a known one
            return {"findings": empty("findings"), "evidence": empty("evidence")}
        rows_of_code = [strange[written == code] for code in codes]
        on = _kinds_beside(whole, np.concatenate(rows_of_code), self.close.to(layers.frame.unit))
        table, keys = [], []
        for code, rows in zip(codes, rows_of_code, strict=True):
            meant = self._meant(code, rows, shots, known, on, layers.frame.unit)
            table.append(_row(code, rows, shots, what_is_meant(meant)))
            keys.append(sorted(shots["shot_key"].iloc[rows]))
        made = pd.DataFrame(table).assign(shot=pd.Series([None] * len(table), dtype="str"))
        limits = layers["limits"] if "limits" in layers else empty("limits")
        findings = findings_of(made, check=UNKNOWN_CODE, limits=limits, unit=layers.frame.unit.name, keys=keys)
        named = zip(findings["finding"], keys, strict=True)
        parts = [evidence_of([name] * len(mine), mine, role="member", layer="shots") for name, mine in named]
        return {"findings": findings, "evidence": pd.concat(parts, ignore_index=True)}

    def _meant(
        self, code: str, rows: np.ndarray, shots: pd.DataFrame, known: _Known, on: dict[int, frozenset[str]],
        unit: LengthUnit,
    ) -> list[Meant]:  # fmt: skip
        """Known codes that something speaks for, the likeliest first."""
        found: dict[str, Meant] = {}

        def says(proposed: str, **reason: Any) -> None:
            found[proposed] = replace(found.get(proposed, Meant(code=proposed, shots=len(rows))), **reason)

        for kind, count in Counter(kind for row in rows.tolist() for kind in on.get(row, ())).items():
            if kind in known.of_kind and count >= MOST * len(rows):
                says(
                    known.of_kind[kind], on_design=count, kind=kind, close=words.length(self.close.to(unit), unit.name)
                )
        for proposed, line, count in _by_line_id(rows, shots, known):
            says(proposed, line=line, on_line=count)
        if code and (near := nearest_code(code, known.codes, self.likeness)):
            says(near, spelling=True)
        return sorted(found.values(), key=lambda each: each.rank)


def _known(codes: pd.DataFrame) -> _Known:
    feature = codes[codes["role"] == "feature"]
    names = feature["code"].str.strip()
    return _Known(
        codes=codes["code"].str.strip().tolist(),
        of_kind=dict(zip(feature["kind"][::-1], names[::-1], strict=True)),
        kind_of=dict(zip(names, feature["kind"], strict=True)),
    )


def _by_line_id(rows: np.ndarray, shots: pd.DataFrame, known: _Known) -> list[tuple[str, str, int]]:
    """Code that the line ID of most of the shots speaks for, with the line ID and how many bear it."""
    lines = Counter(shots["line_id"].iloc[rows].dropna().str.strip())
    if not lines:
        return []
    line, count = min(lines.items(), key=lambda each: (-each[1], each[0]))
    others = shots[(shots["line_id"].str.strip() == line) & shots["kind"].notna()]
    told = Counter(others["code"].str.strip())
    if told and max(told.values()) >= MOST * len(others):
        return [(min(told, key=lambda each: (-told[each], each)), line, count)]
    begins = [code for code in known.codes if code in known.kind_of and line.upper().startswith(code.upper())]
    return [(max(begins, key=len), line, count)] if begins else []


def _kinds_beside(layers: Layers, rows: np.ndarray, close: float) -> dict[int, frozenset[str]]:
    """Kinds of design that each shot lies on, in plan and, where both are known, in elevation."""
    shots = layers["shots"]
    place = shots[["easting", "northing"]].to_numpy(float)[rows]
    there = np.isfinite(place).all(axis=1)
    rows, place = rows[there], place[there]
    level = shots["elevation"].to_numpy(float)[rows]
    found: dict[int, set[str]] = {}
    if len(rows) and "design_elements" in layers and len(layers["design_elements"]):
        design = alignments(layers)
        beside = candidates(place, design.elements, reach=close, index=design.index(close, by_kind=False))
        off = np.abs(level[beside.point] - beside.elevation)
        for point, line in zip(beside.point[~(off > close)], beside.line[~(off > close)], strict=True):
            found.setdefault(int(rows[point]), set()).add(str(design.kinds[line]))
    if len(rows) and "design_points" in layers and len(layers["design_points"]):
        points = layers["design_points"]
        spots, kinds = points[["easting", "northing", "elevation"]].to_numpy(float), points["kind"].to_numpy(object)
        for row, at, high in zip(rows.tolist(), place, level, strict=True):
            near = np.hypot(*(spots[:, :2] - at).T) <= close
            near &= ~(np.abs(spots[:, 2] - high) > close)
            found.setdefault(row, set()).update(kinds[near].tolist())
    return {row: frozenset(kinds) for row, kinds in found.items()}


def _row(code: str, rows: np.ndarray, shots: pd.DataFrame, remedy: str) -> dict[str, object]:
    first = shots.iloc[rows[0]]
    count = float(len(rows))
    return {
        "kind": "unknown", "subject": code or "-", "source": "codes",
        "label": f"{words.many(len(rows), 'shot')} {f'with the code {code}' if code else 'without a code'}",
        "easting": first["easting"], "northing": first["northing"], "elevation": first["elevation"],
        "limit": -1, "lower": -np.inf, "upper": 0.0, "rule": "guarded", "design": 0.0, "measured": count,
        "deviation": count, "u_common": 0.0, "u_random": 0.0, "why": UNKNOWN_CODE.why("not-listed"),
        "reference": "every code stands in the code list", "remedy": remedy,
    }  # fmt: skip
