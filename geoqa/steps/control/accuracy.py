"""Accuracy by check points after published standards, each only where the standard lets it be stated."""

import numpy as np
import pandas as pd

from geoqa.kernels.control.accuracy import StatedAccuracy, asprs, nssda
from geoqa.kernels.control.check_points import checkpoints, point_spread
from geoqa.model import words
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of
from geoqa.steps.causes.left_out import elevations_apart, told_apart

BETTER = 2.0
"""How many times smaller the uncertainty of a mark must be for it to be better measured. ASPRS edition 2 asks for
twice (value from memory); NSSDA asks for higher accuracy without a number."""


class Accuracy(Step):
    """State NSSDA and ASPRS edition 2 accuracy where they are allowed, and say why where they are not.

    A check point is a mark that is independent of the survey, better measured than the shots, not held, and not part of
    a site fit; it counts once, with its first shot that stands under no named blunder, or in plan alone with one
    whose blunder acts in elevation alone. Repeats add nothing. A small job is normally refused: the standards ask for
    20 and 30 points.
    """

    name = "accuracy"
    needs = ("control", "shots.role", "shots.u_h_random", "shots.u_v_random", "shots.u_h_common", "shots.u_v_common")
    wants = ("site_fit_marks", "cause_shots")
    gives = ("accuracy",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Choose the check points, then both standards."""
        shots, control = layers["shots"], layers["control"].reset_index(drop=True)
        checks = shots[shots["role"] == "check"].sort_values(["time", "shot_key"], kind="stable")
        mark = mark_of(checks.reset_index(drop=True), control)
        checks, mark = checks.reset_index(drop=True).iloc[mark >= 0].reset_index(drop=True), mark[mark >= 0]
        apart, level = elevations_apart(layers, checks)
        without = told_apart(checks, apart, level)
        checks["elevation"] = checks["elevation"].where(level.isna())
        # of the shots on a mark the first counts: one that is good in elevation too before one that is not
        counts = np.flatnonzero(apart.isna())
        counts = counts[np.argsort(level.notna().to_numpy(bool)[counts], kind="stable")]
        checks, mark = checks.iloc[counts].reset_index(drop=True), mark[counts]
        marks = control.iloc[mark].reset_index(drop=True)
        fitted = set(layers["site_fit_marks"]["mark"]) if "site_fit_marks" in layers else set()
        points = checkpoints(
            marks["mark"].to_numpy(object).astype(str),
            better=_better(checks, marks),
            independent=marks["independent"].to_numpy(bool),
            held=marks["held"].to_numpy(bool),
            site_fit=marks["mark"].isin(fitted).to_numpy(bool),
        )
        e, n, z = (
            checks[axis].to_numpy(float) - marks[axis].to_numpy(float) for axis in ("easting", "northing", "elevation")
        )
        counted = points.counted
        spread = point_spread(
            marks["easting"].to_numpy(float)[counted], marks["northing"].to_numpy(float)[counted], extent=_extent(shots)
        )
        left = "; ".join(f"{words.many(count, 'row')} left out: {why}" for why, count in points.left_out.items())
        left = "; ".join(each for each in (left, f"without {without}" if without else "") if each)
        rows = [*_nssda(nssda(e, n, z, counted=counted, spread=spread), left), *_asprs(e, n, z, counted, marks, left)]
        return {"accuracy": conform("accuracy", pd.DataFrame(rows))}


def _better(checks: pd.DataFrame, marks: pd.DataFrame) -> np.ndarray:
    """Marks known, horizontally and vertically, several times better than the shots."""
    better = np.ones(len(checks), dtype=bool)
    for axis in ("h", "v"):
        own = np.hypot(checks[f"u_{axis}_random"].to_numpy(float), checks[f"u_{axis}_common"].to_numpy(float))
        mark = marks[f"u_{axis}"].to_numpy(float)
        better &= np.isfinite(mark) & (BETTER * mark <= own)
    return better


def _extent(shots: pd.DataFrame) -> tuple[float, float, float, float] | None:
    place = shots[["easting", "northing"]].dropna()
    if not len(place):
        return None
    low, high = place.min(), place.max()
    return float(low["easting"]), float(low["northing"]), float(high["easting"]), float(high["northing"])


def _row(standard: str, component: str, allowed: bool, value: float, rmse: float, count: int, reason: str) -> dict:
    return {
        "standard": standard,
        "component": component,
        "allowed": allowed,
        "value": value if allowed else np.nan,
        "rmse": rmse,
        "points": count,
        "reason": reason,
    }


def _nssda(accuracy: StatedAccuracy, left: str) -> list[dict]:
    why = "; ".join((*accuracy.reasons, *accuracy.cautions, *((left,) if left else ())))
    name = "NSSDA, 95 % (FGDC-STD-007.3-1998)"
    return [
        _row(name, "horizontal", accuracy.allowed_h, accuracy.accuracy_h, accuracy.rmse_r, accuracy.points_h, why),
        _row(name, "vertical", accuracy.allowed_v, accuracy.accuracy_v, accuracy.rmse_z, accuracy.points_v, why),
    ]


def _asprs(
    e: np.ndarray, n: np.ndarray, z: np.ndarray, counted: np.ndarray, marks: pd.DataFrame, left: str
) -> list[dict]:
    own = marks[counted]
    h, v = (float(np.sqrt(np.mean(own[f"u_{axis}"].to_numpy(float) ** 2))) if len(own) else np.nan
            for axis in ("h", "v"))  # fmt: skip
    accuracy = asprs(e, n, z, checkpoint_h=float(np.sqrt(2) * h), checkpoint_v=v, counted=counted)
    why = "; ".join((*accuracy.reasons, *((left,) if left else ())))
    name = "ASPRS edition 2, RMSE (2023)"
    return [
        _row(name, "horizontal", accuracy.allowed, accuracy.rmse_h, accuracy.fit_h, accuracy.points_h, why),
        _row(name, "vertical", accuracy.allowed, accuracy.rmse_v, accuracy.fit_v, accuracy.points_v, why),
    ]
