"""Odds of numbers made of several shots, such as a section of a walk: one wrong shot can make them.

What speaks of them: the numbers next to them of the same check and subject; the shots of theirs that are out by
themselves, with their own odds; and how many numbers, or shots, show it without sharing one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.contract.odds_sentences import UNASKED
from geoqa.kernels.judging.odds import SHOT, alike, witnessed
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.unproven.piece import Piece, texts
from geoqa.steps.unproven.witnesses import GOOD, SOUND, VARIES

ALONE = 0.02
"""Chance that all of several numbers that share no shot are wrong alike, where one is."""
CARRY = 4
"""Most shots of a number of which one alone can put it out: the others weigh too little."""
LIKELIER_SHOT = float(np.log(0.4 / 0.6))
"""Log odds below which a shot that is out by itself is told to be likelier wrong than the work."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Looked:
    """What is known of n findings from numbers of single shots, and what to hold features against.

    Attributes
    ----------
    single : (n,) bool
        A number of one shot, or of a run of them, speaks for it.
    log : (n, 4) float64
        Log likelihoods of it under each explanation.
    total : (n,) float64
        Its log odds.
    usual, reach, place : float
        Share of numbers that are out; reach of a defect, and length of one place, along a line.
    """

    single: np.ndarray
    log: np.ndarray
    total: np.ndarray
    usual: float
    reach: float
    place: float


def of_features(layers: Layers, out: pd.DataFrame, pieces: list[Piece], looked: Looked) -> list[Piece]:
    """Put in what speaks of findings that no number of single shots speaks for.

    Parameters
    ----------
    layers : Layers
    out : (n,) DataFrame
        `finding`, `shot` and `check` of what is out.
    pieces : list of Piece
        Of single shots; `neighbours` is filled in where there was none.
    looked : Looked

    Returns
    -------
    list of Piece
        With `member` and `shots` behind.
    """
    count = len(out)
    near = next(piece for piece in pieces if piece.name == "neighbours")
    near = Piece("neighbours", *(each.copy() for each in (near.log, near.count, near.total, near.variant, near.good)))
    member, shots = (_nothing(name, count) for name in ("member", "shots"))
    lone = np.flatnonzero(~looked.single)
    if len(lone):
        beside = _Features(layers, out.iloc[lone]["check"])
        own = _OutByThemselves(out, looked)
        for row in lone:
            _one(int(row), beside, own, looked, (near, member, shots), out)
    return [near if piece.name == "neighbours" else piece for piece in pieces] + [member, shots]


def _nothing(name: str, count: int) -> Piece:
    none = np.zeros((2, count), dtype=np.int64)
    return Piece(name, np.zeros((count, 4)), none[0], none[1], texts(count))


def _one(
    row: int, beside: _Features, own: _OutByThemselves, looked: Looked, pieces: tuple[Piece, ...], out: pd.DataFrame
) -> None:
    """Fill in what speaks of one finding."""
    near, member, shots = pieces
    name, check = out["finding"].iloc[row], out["check"].iloc[row]
    weights = beside.shots_of(name)
    apart, singles = beside.apart(name), own.among(set(weights), check)
    working = [each for each in singles if looked.total[each] >= LIKELIER_SHOT]
    different = {out["shot"].iloc[each] for each in working}
    logs, agree, good = beside.neighbours(name, looked)
    near.count[row], near.total[row], near.good[row] = agree, len(logs), good
    if weights or logs:
        near.variant[row] = "none" if agree == 0 and good < len(logs) else ""
    if not weights and pd.isna(out["shot"].iloc[row]):
        shots.variant[row] = UNASKED
    counted = len(weights) if name in beside.counted else 0  # each of them shows it
    if max(apart, len(different), counted) > 1:
        shots.log[row, SHOT] = np.log(ALONE)
        shots.count[row] = shots.total[row] = max(apart, len(different), counted)
        shots.variant[row] = "members" if apart > max(len(different), counted) else ""
    elif singles:
        weakest = min(singles, key=lambda each: looked.total[each])
        member.log[row], member.count[row], member.total[row] = looked.log[weakest], weakest in working, 1
        member.variant[row] = "work" if looked.total[weakest] > -LIKELIER_SHOT else "" if weakest in working else "shot"
        shots.total[row] = len(weights)
        return  # the neighbours of that shot are held against it already
    elif len(weights) > 1:
        shots.log[row, SHOT] = np.log(min(len(weights), CARRY))
        shots.total[row], shots.variant[row] = len(weights), "one"
    near.log[row] = np.sum(logs, axis=0) if logs else 0.0


class _OutByThemselves:
    """Single shots that are out."""

    def __init__(self, out: pd.DataFrame, looked: Looked) -> None:
        self.axis = {name: check_named(str(name)).axis for name in set(out["check"])}
        rows = np.flatnonzero(looked.single & out["shot"].notna().to_numpy(bool))
        self.rows = [(int(row), out["shot"].iloc[row], self.axis[out["check"].iloc[row]]) for row in rows]

    def among(self, shots: set[str], check: str) -> list[int]:
        """Rows of those that a number is made of, and that are out along its own axis."""
        wanted = "h" if check in _IN_PLAN else "v"
        return [row for row, shot, axis in self.rows if shot in shots and axis == wanted]


class _Features:
    """Numbers of several shots: what each is made of, and which lie next to each other."""

    def __init__(self, layers: Layers, checks: pd.Series) -> None:
        findings = layers["findings"]
        known = findings["check"].isin(set(checks)) & findings["deviation"].notna()
        known &= findings["verdict"].isin(["IN", "OUT", "UNDECIDED"])
        table = pd.DataFrame(findings.loc[known, _READ]).reset_index(drop=True)
        table["mean"] = table["finding"].isin(set(table["run"].dropna()))
        ends = table[["station", "station_end"]].to_numpy(float)
        table["middle"] = np.where(np.isfinite(ends[:, 1]), ends.mean(axis=1), ends[:, 0])
        # what stands beside an obstruction is a stretch, and no section between two shots tells of it
        table["stretch"] = np.isfinite(ends[:, 1])
        table["group"] = table.groupby(
            ["check", "against", "subject", "mean", "stretch"], sort=False, dropna=False
        ).ngroup()
        self.table = table
        self.counted = set(table.loc[table["quantity"] == "count", "finding"])
        self.row = {name: place for place, name in enumerate(table["finding"])}
        self.members = table.groupby("run").indices
        self.groups = table.groupby("group").indices
        evidence = layers["evidence"]
        mine = (evidence["layer"] == "shots").to_numpy(bool) & (rows_of(evidence["finding"], table["finding"]) >= 0)
        self.proof = evidence[mine].reset_index(drop=True)
        self.proof_of = self.proof.groupby("finding").indices

    def shots_of(self, name: str) -> dict[str, float]:
        """Shots of a number, each with what it weighs."""
        rows = self.proof.iloc[self.proof_of.get(name, [])]
        weights = rows["weight"].abs().fillna(1.0) if "weight" in rows else pd.Series(1.0, index=rows.index)
        return dict(zip(rows["key"], weights, strict=True))

    def apart(self, name: str) -> int:
        """How many members of a mean lie beyond its limit and share no shot."""
        if name not in self.row or name not in self.members:
            return 0
        mean, rows = self.table.iloc[self.row[name]], self.table.iloc[self.members[name]].sort_values("middle")
        above = mean["deviation"] > mean["upper"]
        beyond = rows["deviation"] > mean["upper"] if above else rows["deviation"] < mean["lower"]
        used: set[str] = set()
        count = 0
        for member, shot in zip(rows["finding"][beyond], rows["shot"][beyond], strict=True):
            mine = {shot} if isinstance(shot, str) else set(self.shots_of(member))
            if mine and not mine & used:
                count, used = count + 1, used | mine
        return count

    def neighbours(self, name: str, looked: Looked) -> tuple[list[np.ndarray], int, int]:
        """Log likelihoods of the next number to either side, how many agree, and how many are good; none of means."""
        if name not in self.row:
            return [], 0, 0
        mine = self.table.iloc[self.row[name]]
        if mine["mean"] or not np.isfinite(mine["middle"]):
            return [], 0, 0
        alike_ones = self.table.iloc[self.groups[mine["group"]]]
        away = (alike_ones["middle"] - mine["middle"]).to_numpy(float)
        told = []
        for side in (-1.0, 1.0):
            fits = (side * away > looked.place) & (np.abs(away) <= 3.0 * looked.reach)
            if fits.any():
                at = int(np.argmin(np.where(fits, np.abs(away), np.inf)))
                told.append(self._held(mine, alike_ones.iloc[at], float(alike_ones["deviation"].median()), looked))
        return [each[0] for each in told], sum(each[1] for each in told), sum(each[2] for each in told)

    def _held(self, mine: Any, other: Any, level: float, looked: Looked) -> tuple[np.ndarray, bool, bool]:
        """One number against the next: both as they differ from what is usual here, and no farther off than a limit."""
        low, high = mine["lower"], mine["upper"]
        usual = float(np.fmin(np.fmax(level, low), high))
        off, value = mine["deviation"] - usual, other["deviation"] - usual
        room = abs((high if off > 0 else low) - usual) / SOUND
        sound = float(np.hypot(other["u"], room if np.isfinite(room) else 0.0))
        same = float(np.sqrt(mine["u"] ** 2 + other["u"] ** 2 + (VARIES * off) ** 2))
        ratio = float(alike(value, expected=off, u_alike=same, u_sound=sound))
        by_itself = alike([value], expected=0.0, u_alike=np.hypot(same, off), u_sound=sound)
        weights, others = self.shots_of(mine["finding"]), self.shots_of(other["finding"])
        shared = sum(weight for shot, weight in weights.items() if shot in others) / (sum(weights.values()) or 1.0)
        chance = [np.exp(-abs(other["middle"] - mine["middle"]) / looked.reach), shared, 0.0, 0.0]
        log = witnessed([[ratio] * 4], [chance], by_itself=by_itself, usual=looked.usual)[0]
        near = abs(value - off) <= GOOD * same
        return log, bool(near and ratio > 1.0), bool(abs(value) <= GOOD * sound)


_IN_PLAN = ("clear-width", "passing-space", "turning-space", "warning-depth", "separation", "right-of-way")
"""Numbers of several shots that lie in plan; all others feel elevations."""
_READ = ["finding", "check", "against", "subject", "shot", "run", "station", "station_end", "deviation", "lower",
         "upper", "u", "verdict", "quantity"]  # fmt: skip
