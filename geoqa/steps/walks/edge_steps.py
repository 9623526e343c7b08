"""Sections that are out because one edge steps, as a wrong rod from a shot on would make it."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.odds_sentences import one_edge_steps
from geoqa.steps.judging.findings import evidence_of
from geoqa.steps.linework.pairs import Pair
from geoqa.steps.walks.judged import Judgement

ROLE = "edge-step"
"""What the two shots of a step are to a finding."""
BESIDE = 3
"""Legs before and behind that tell the grade of an edge."""
STEPS, LEVEL = 4.0, 2.5
"""Standard uncertainties of the rise of a leg that a step takes at least, and that none takes at most."""
HOLDS = 0.8
"""Share of the shots behind a step that keep it: a rod stays wrong until it is put right, work comes back."""

NEAR = 2.0
"""Standard uncertainties of a section by which it may miss its limits without the step."""


@dataclass(frozen=True, kw_only=True)
class EdgeStep:
    """A step of one edge between two shots; the other edge keeps its grade there, and the step stays to the end.

    Attributes
    ----------
    line : int
        Number of the pair.
    rows : tuple of int
        Rows of the two shots, the one at the lower station first.
    station : float
        Halfway between both, along the first edge.
    rise : float
        From the first to the second row, beyond the grade.
    sign : float
        1 for the first edge, -1 for the second: how the slope of a section changes with it.
    """

    line: int
    rows: tuple[int, int]
    station: float
    rise: float
    sign: float


def edge_steps(shots: pd.DataFrame, pairs: list[Pair]) -> list[EdgeStep]:
    """The largest step of either edge of every pair, where there is one.

    Parameters
    ----------
    shots : DataFrame
        Of `observed`.
    pairs : list of Pair
        Their rows are places in it.
    """
    made = []
    for number, pair in enumerate(pairs):
        both = [_Edge.of(shots, pair, edge) for edge in (0, 1)]
        for edge, (own, other) in enumerate((both, both[::-1])):
            step = own.step(other)
            if step is not None:
                rows = (int(own.rows[step]), int(own.rows[step + 1]))
                made.append(EdgeStep(line=number, rows=rows, station=float(own.station[step : step + 2].mean()),
                                     rise=own.change(other, step), sign=1.0 - 2.0 * edge))  # fmt: skip
    return made


@dataclass(frozen=True, kw_only=True, eq=False)
class _Edge:
    """Shots of an edge by station, and how far each of its legs rises beyond the grade of those beside it."""

    rows: np.ndarray
    station: np.ndarray
    level: np.ndarray
    beyond: np.ndarray
    u: np.ndarray

    @classmethod
    def of(cls, shots: pd.DataFrame, pair: Pair, edge: int) -> "_Edge":
        laid = pair.sections
        mine = (laid.edge == edge) & np.isfinite(laid.station)
        rows, station = pair.row(laid.edge[mine], laid.shot[mine]), laid.station[mine]
        level, u = shots["elevation"].to_numpy(float)[rows], shots["u_v_random"].to_numpy(float)[rows]
        kept = np.isfinite(level) & np.isfinite(u)
        order = np.flatnonzero(kept)[np.argsort(station[kept], kind="stable")]
        rows, station, level, u = rows[order], station[order], level[order], u[order]
        run, rise = np.diff(station), np.diff(level)
        grade = np.divide(rise, run, out=np.full(len(run), np.nan), where=run > 0)
        beyond = np.array([rise[at] - run[at] * _median(grade, at) for at in range(len(run))])
        return cls(rows=rows, station=station, level=level, beyond=beyond, u=np.hypot(u[1:], u[:-1]))

    def step(self, other: "_Edge") -> int | None:
        """The leg that steps; None where none does, where the other edge does too, or where it does not last."""
        ratio = np.abs(self.beyond) / np.where(self.u > 0, self.u, np.inf)
        if not len(ratio) or not np.isfinite(ratio).any() or np.nanmax(ratio) < STEPS or len(other.rows) < 2:
            return None
        at = int(np.nanargmax(ratio))
        start, end, size = self.station[at], self.station[at + 1], float(self.beyond[at])
        along = (other.station[1:] > start) & (other.station[:-1] < end)
        moved = np.abs(other.beyond[along])
        if not len(moved) or not (moved <= np.minimum(LEVEL * other.u[along], abs(size) / 2)).all():
            return None
        before, behind = self._above(other, at)
        kept = [np.abs(behind - np.median(before) - size) < abs(size) / 2,
                np.abs(before - np.median(behind) + size) < abs(size) / 2]  # fmt: skip
        return at if min(len(before), len(behind)) >= BESIDE and all(each.mean() >= HOLDS for each in kept) else None

    def change(self, other: "_Edge", at: int) -> float:
        """How much higher above the other edge this one is behind a leg than before it."""
        before, behind = self._above(other, at)
        return float(np.median(behind) - np.median(before))

    def _above(self, other: "_Edge", at: int) -> tuple[np.ndarray, np.ndarray]:
        above = self.level - np.interp(self.station, other.station, other.level)
        return above[: at + 1], above[at + 1 :]


def _median(grade: np.ndarray, at: int) -> float:
    near = np.append(grade[max(at - BESIDE, 0) : at], grade[at + 1 : at + 1 + BESIDE])
    near = near[np.isfinite(near)]
    return float(np.median(near)) if len(near) else np.nan


def with_causes(made: Judgement, shots: pd.DataFrame, pairs: list[Pair], unit: str) -> Judgement:
    """Say of findings that are out, and would not be without a step of one edge, that a wrong rod would look so.

    Parameters
    ----------
    made : Judgement
        Cross slopes of sections, or their means.
    shots, pairs
        Of `edge_steps`.
    unit : str
    """
    out = np.flatnonzero((made.findings["verdict"] == "OUT").to_numpy(bool))
    steps = edge_steps(shots, pairs) if len(out) else []
    if not steps:
        return made
    stations = _stations(shots, pairs)
    keys = dict(list(made.evidence.groupby("finding")["key"]))
    cause = made.findings["cause"].to_numpy(dtype=object, copy=True)
    names, minutes = shots["name"].to_numpy(dtype=object), shots["minutes"].to_numpy(float)
    proof = [made.evidence]
    for row in out.tolist():
        finding = made.findings.iloc[row]
        for step in steps:
            pair = pairs[step.line]
            at = np.array([stations[step.line].get(key, np.nan) for key in keys[finding["finding"]]])
            behind = bool(np.median(at) > step.station) if np.isfinite(at).all() else False
            width = float(np.nanmedian(pair.sections.width))
            change = (1.0 if behind else -1.0) * step.sign * step.rise / width
            left, near = float(finding["measured"]) - change, NEAR * float(finding["u"])
            if not np.isfinite(at).all() or finding["subject"] != pair.name or not (
                finding["lower"] - near <= left <= finding["upper"] + near
            ):  # fmt: skip
                continue
            a, b = step.rows if behind else step.rows[::-1]
            later = minutes[b] >= minutes[a]
            cause[row] = one_edge_steps(abs(step.rise), str(names[a]), str(names[b]), later=bool(later), unit=unit)
            proof.append(evidence_of([finding["finding"]] * 2, shots["shot"].iloc[[a, b]], role=ROLE, layer="shots"))
            break
    findings = made.findings.assign(cause=pd.Series(cause, index=made.findings.index, dtype="str"))
    return Judgement(findings=findings, evidence=pd.concat(proof, ignore_index=True), number=made.number)


def _stations(shots: pd.DataFrame, pairs: list[Pair]) -> list[dict[str, float]]:
    """Station along the first edge of every shot of each pair."""
    keys = shots["shot"].to_numpy(dtype=object)
    made = []
    for pair in pairs:
        laid = pair.sections
        rows = pair.row(laid.edge, laid.shot)
        made.append(dict(zip(keys[rows], laid.station.tolist(), strict=True)))
    return made
