"""Check shots as a table, session by session, with what they agree on and which mark does not."""

from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.control_sentences import marks_assumed, marks_say
from geoqa.kernels.control.accuracy import radius_95
from geoqa.kernels.control.outliers import AGREE, NAMED, TOO_FEW, mean_of, snoop_in_turn
from geoqa.model.check import CONTROL
from geoqa.model.quantity import FOOT
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of, stated_or_assumed
from geoqa.model.words import listed
from geoqa.steps.causes.left_out import TWICE, elevations_apart, told_apart
from geoqa.steps.shots.flags import noted

_AXES = ("easting", "northing", "elevation")
_NUMBERS = (*_AXES, "horizontal", "u_h", "u_v", "mark_u_h", "mark_u_v", "limit_h", "limit_v", "assumed_h", "assumed_v")


class ResidualTables(Step):
    """List the residuals of every check shot, and sum them up per session and for the whole job.

    A session's shots on one mark are taken together; the marks are held against their common shift. An outlying mark
    is named and the others are kept; two that disagree are two that disagree, and neither is picked.
    A mark that states no uncertainty is taken with the one that is assumed of it everywhere, and the row says so.
    The 95 % numbers are statistics of these shots, and no statement of accuracy. Shots under a named blunder, and
    second listings of one measurement, stand in the table with their reason and in no sum; those under a blunder that
    acts in elevation alone in every sum of plan positions.
    """

    name = "residual-tables"
    needs = (
        "control",
        "limits",
        "shots.role",
        "shots.u_h_random",
        "shots.u_v_random",
        "shots.u_h_common",
        "shots.u_v_common",
    )
    wants = ("cause_shots", "shots.flags")
    gives = ("control_table", "control_sessions")
    adds = ("notes",)

    alpha: float = Field(0.001, gt=0, lt=0.5, description="Chance of calling one good mark outlying")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Rows, then sums."""
        shots, control = layers["shots"], layers["control"].reset_index(drop=True)
        checks = shots[shots["role"] == "check"].reset_index(drop=True)
        mark = mark_of(checks, control)
        known = np.flatnonzero(mark >= 0)
        published = control.iloc[mark[known]].reset_index(drop=True)
        rows = _rows(
            checks.iloc[known].reset_index(drop=True), published, FOOT.metres_float / layers.frame.unit.metres_float
        )
        limits = {axis: _limit(layers["limits"], check) for axis, check in
                  (("h", "control-position"), ("v", "control-elevation"))}  # fmt: skip
        rows["limit_h"], rows["limit_v"] = limits["h"], limits["v"]
        unit = layers.frame.unit.name
        shot = checks.iloc[known].reset_index(drop=True)
        rows["left_out"], rows["left_out_elevation"] = elevations_apart(layers, shot)
        counts = rows["left_out"].isna().to_numpy(bool)
        some = ~counts | rows["left_out_elevation"].notna().to_numpy(bool)
        columns = {name: rows[name].to_numpy() for name in (*_NUMBERS, "mark")}
        columns["elevation"] = np.where(rows["left_out_elevation"].isna(), columns["elevation"], np.nan)
        session, names = pd.factorize(rows["session"], sort=True, use_na_sentinel=False)
        in_turn, ends = np.argsort(session, kind="stable"), np.cumsum(np.bincount(session, minlength=len(names)))
        told = [
            (str(name) if name == name else None, in_turn[first:end])
            for name, (first, end) in zip(names, pairwise([0, *ends.tolist()]), strict=True)
        ]
        if len(told) > 1:
            told.append(("all", np.arange(len(rows))))
        made = []
        for name, place in told:
            kept = place[counts[place]]
            row, facts = self._sum(name, {key: each[kept] for key, each in columns.items()}, unit)
            mine = place[some[place]]
            level = rows["left_out_elevation"].iloc[mine]
            apart = told_apart(shot.iloc[mine], rows["left_out"].iloc[mine], level) if len(mine) else ""
            out = {"left_out": len(place) - len(kept), "left_out_elevation": int(level.notna().sum()), "without": apart}
            made.append((row | out, facts))
        sums = [row for row, _ in made]
        notes = [
            {
                "note": "control-marks",
                "session": sums[-1]["session"],
                **{name: getattr(fact, name) for name in _OF_MARKS},
            }
            for fact in (made[-1][1] if made else ())
            if fact.variant in DISAGREE
        ]
        lifted = int(rows["left_out_elevation"].notna().sum())
        if lifted or not counts.all():
            written = made[-1][0]["without"]
            twice = int((rows["left_out"] == TWICE).sum())
            out = {"count": int((~counts).sum()), "total": lifted, "third": twice, "written": written}
            notes.append({"note": "left-out", **out})
        table = rows.drop(columns=["u_h", "u_v", "mark_u_h", "mark_u_v", "assumed_h", "assumed_v"])
        return {
            "control_table": conform("control_table", table),
            "control_sessions": conform("control_sessions", pd.DataFrame(sums, columns=_SUMS)),
            "notes": noted(self.name, notes),
        }

    def _sum(self, session: str | None, part: dict[str, np.ndarray], unit: str) -> tuple[dict[str, Any], list[Fact]]:
        """Sums of a session, and what its marks say of each other in plan and in elevation."""
        unique, mark = np.unique(part["mark"], return_inverse=True)
        names = unique.tolist()
        means = np.column_stack([_means(part[axis], mark, len(names)) for axis in _AXES])
        u = _of_means(part, mark, len(names))
        plan = self._tested(names, means[:, :2], u[:, :2], "in plan")
        level = self._tested(names, means[:, 2:], u[:, 2:], "in elevation")
        off = sorted({fact.other for fact in (*plan, *level) if fact.variant == "outlying"})
        rmse = {axis: _rmse(part[axis]) for axis in _AXES}
        row = {
            "session": session,
            "shots": len(mark),
            "marks": len(names),
            **{f"mean_{axis}": _mean(part[axis]) for axis in _AXES},
            **{f"rmse_{axis}": rmse[axis] for axis in _AXES},
            "rmse_horizontal": float(np.hypot(rmse["easting"], rmse["northing"])),
            "h_95": radius_95(rmse["easting"], rmse["northing"]) if np.isfinite(rmse["easting"]) else np.nan,
            "v_95": 1.959963984540054 * rmse["elevation"],
            "over_h": int((part["horizontal"] > part["limit_h"]).sum()),
            "over_v": int((np.abs(part["elevation"]) > part["limit_v"]).sum()),
            "outlying": listed(off) if off else "",
            "horizontal_says": marks_say(plan, unit) + _assumed(part, "h", unit),
            "vertical_says": marks_say(level, unit) + _assumed(part, "v", unit),
        }
        return row, [*plan, *level]

    def _tested(self, names: list[str], means: np.ndarray, u: np.ndarray, plane: str) -> list[Fact]:
        """What the marks say of each other: one fact, or one for each outlying mark."""
        there = np.flatnonzero(np.isfinite(means).all(axis=1))
        if len(there) < 2:
            return [Fact(variant="one" if len(there) else "none", place=plane)]
        values, spread = means[there], u[there]
        found = snoop_in_turn(mean_of(values, u=spread), len(there), u=spread, alpha=self.alpha)
        own = [names[each] for each in there]
        if found.verdict in (AGREE, TOO_FEW):
            return [Fact(variant="agree", place=plane, count=len(own))]
        if found.verdict == NAMED:
            rest = np.setdiff1d(np.arange(len(own)), found.rows)
            centre = values[rest].mean(axis=0)
            return [
                Fact(
                    variant="outlying", place=plane, other=own[each], total=len(rest), unit="job",
                    number=float(np.linalg.norm(values[each] - centre)),
                )
                for each in found.rows
            ]  # fmt: skip
        if len(own) == 2:
            apart = float(np.linalg.norm(values[0] - values[1]))
            return [Fact(variant="two-disagree", place=plane, subject=own[0], other=own[1], number=apart, unit="job")]
        return [Fact(variant="disagree", place=plane, count=len(own))]


DISAGREE = frozenset({"outlying", "two-disagree", "disagree"})
"""What marks say of each other that a reader must know first."""
_OF_MARKS = ("variant", "place", "subject", "other", "number", "unit", "count", "total")
_SUMS = [
    "session", "shots", "marks", *(f"mean_{axis}" for axis in _AXES), *(f"rmse_{axis}" for axis in _AXES),
    "rmse_horizontal", "h_95", "v_95", "over_h", "over_v", "outlying", "horizontal_says", "vertical_says",
    "left_out", "left_out_elevation", "without",
]  # fmt: skip


def _rows(checks: pd.DataFrame, published: pd.DataFrame, feet: float) -> pd.DataFrame:
    made = {
        "session": checks["session"],
        "mark": published["mark"],
        "shot_key": checks["shot_key"],
        "time": checks["time"],
        **{axis: checks[axis].astype(float) - published[axis].astype(float) for axis in _AXES},
    }
    table = pd.DataFrame(made)
    table["horizontal"] = np.hypot(table["easting"], table["northing"])
    for name in ("held", "independent"):
        table[name] = published[name].astype(bool)
    for axis in ("h", "v"):
        random, common = (checks[f"u_{axis}_{part}"].to_numpy(float) for part in ("random", "common"))
        # equal halves are how a log's own number is split for want of better: all of it may be this shot's own
        table[f"u_{axis}"] = np.where(random == common, np.hypot(random, common), random)
        table[f"mark_u_{axis}"] = stated_or_assumed(published[f"u_{axis}"], feet)
        table[f"assumed_{axis}"] = published[f"u_{axis}"].isna()
    return table


def _assumed(part: dict[str, np.ndarray], axis: str, unit: str) -> str:
    """What was taken for marks that state no uncertainty, in words; nothing where all do."""
    mine = part[f"assumed_{axis}"].astype(bool)
    count = len(np.unique(part["mark"][mine]))
    return marks_assumed(count, float(part[f"mark_u_{axis}"][mine][0]), unit) if count else ""


def _means(values: np.ndarray, mark: np.ndarray, count: int) -> np.ndarray:
    """Mean at each mark of what is there; NaN where nothing is."""
    there = np.isfinite(values)
    shots = np.bincount(mark[there], minlength=count)
    total = np.bincount(mark[there], values[there], minlength=count)
    return np.where(shots > 0, total / np.maximum(shots, 1), np.nan)


def _of_means(shots: dict[str, np.ndarray], mark: np.ndarray, count: int) -> np.ndarray:
    """U of the mean residual at each mark, per axis; what a session shares drops out in the comparison."""
    measured = {"h": np.isfinite(shots["easting"]), "v": np.isfinite(shots["elevation"])}
    root = {axis: np.sqrt(np.maximum(np.bincount(mark[each], minlength=count), 1)) for axis, each in measured.items()}
    first = np.unique(mark, return_index=True)[1]
    plan, level = (
        np.hypot(
            np.sqrt(_means(shots[f"u_{axis}"] ** 2, mark, count)) / root[axis],
            shots[f"mark_u_{axis}"][first],
        )
        for axis in ("h", "v")
    )
    return np.column_stack([plan, plan, level])


def _mean(values: np.ndarray) -> float:
    there = values[~np.isnan(values)]
    return float(there.mean()) if there.size else np.nan


def _rmse(values: np.ndarray) -> float:
    return float(np.sqrt(_mean(values**2)))


def _limit(limits: pd.DataFrame, check: str) -> float:
    rows = limits[(limits["check"] == check) & (limits["kind"] == CONTROL)]
    return float(rows["upper"].iloc[0]) if len(rows) else np.nan
