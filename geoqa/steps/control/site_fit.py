"""Site fit: how the survey lies on the control, by least squares, only when the job asks for it."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.control_sentences import site_fit_warning
from geoqa.errors import GeometryInputError, StepError
from geoqa.frames.readings.signatures import Signature, signatures
from geoqa.kernels.control.outliers import AGREE, NAMED, TOO_FEW, SnoopedInTurn, snoop_in_turn
from geoqa.kernels.control.similarity import Similarity, fit_similarity
from geoqa.kernels.control.vertical_plane import VerticalPlane, fit_vertical_plane
from geoqa.model.quantity import FOOT
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.fact import Fact
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of, stated_or_assumed
from geoqa.model.words import listed
from geoqa.steps.causes.left_out import elevations_apart, told_apart
from geoqa.steps.shots.flags import noted

HIDES = 3.0
"""Standard uncertainties within which a fitted shift looks like a known blunder."""
PROVEN = 4.0
"""Standard errors from which a parameter is not zero."""
LEAST = 0.1
"""Metres: smaller shifts hide nothing that is known by name."""


class SiteFit(Step):
    """Fit a plane similarity and a vertical plane from the measured to the published marks.

    Each mark enters with the mean of its check shots. Parameters come with standard errors, residuals with their
    redundancy, and marks with an outlier test. Nothing is moved: the shots stay as they were measured. A fit
    that looks like a wrong foot, frame, scale or north is called out, because it would hide that. Shots under a named
    blunder, and second listings of one measurement, are left out and said; where fewer than two marks remain, nothing
    is fitted. A mark that states no uncertainty is taken with the one that is assumed of it everywhere.
    """

    name = "site-fit"
    needs = ("control", "shots.role", "shots.u_h_random", "shots.u_v_random")
    wants = ("cause_shots", "shots.flags")
    gives = ("site_fit", "site_fit_marks", "site_fit_warnings")
    adds = ("notes",)

    marks: tuple[str, ...] = Field((), description="Marks to fit to; all of the control if left out")
    alpha: float = Field(0.001, gt=0, lt=0.5, description="Chance of calling one good mark outlying")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Means, both fits, tests, warnings."""
        unit = layers.frame.unit
        checks, aside = _free(layers)
        table = _means(checks, layers["control"], self.marks, FOOT.metres_float / unit.metres_float)
        if len(table) < 2 and aside:
            return _nothing(aside[0] | {"variant": "none-left"}, self.name)
        if len(table) < 2:
            raise StepError(
                f"Step 'site-fit' needs check shots on at least two marks and has {len(table)}; shoot more marks, "
                "or do without a fit."
            )
        measured, known = (table[[f"{what}_e", f"{what}_n"]].to_numpy(float) for what in ("measured", "known"))
        u = np.column_stack([table["u_h"], table["u_h"]])
        plan = fit_similarity(measured, known, u=u)
        rise = table["measured_z"].to_numpy(float) - table["known_z"].to_numpy(float)
        level = _plane(known, rise, table["u_v"].to_numpy(float))
        tested = self._tested(measured, known, u)
        rows = _parameters(plan, level, unit.name)
        facts = [*_hidden(layers, table, plan, rise), *_scaled(plan), *_said(tested, table)]
        warnings = [{"cause": fact.subject, "warning": site_fit_warning(fact, unit.name)} for fact in facts]
        listed_marks = _marks(table, measured, known, plan, rise, level, tested)
        return {
            "site_fit": conform("site_fit", pd.DataFrame(rows)),
            "site_fit_marks": conform("site_fit_marks", listed_marks),
            "site_fit_warnings": conform("site_fit_warnings", pd.DataFrame(warnings, columns=["cause", "warning"])),
            "notes": noted(self.name, [*({"note": "site-fit", **_of(fact)} for fact in facts), *aside]),
        }

    def _tested(self, measured: np.ndarray, published: np.ndarray, u: np.ndarray) -> SnoopedInTurn | None:
        def fit(keep: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            source = np.where(keep[:, None], measured, np.nan)
            found = fit_similarity(source, published, u=u)
            return found.residuals, found.redundancy

        if len(measured) < 3:
            return None
        try:
            return snoop_in_turn(fit, len(measured), u=u, alpha=self.alpha)
        except GeometryInputError:
            return None


def _free(layers: Layers) -> tuple[pd.DataFrame, list[dict[str, Any]]]:
    """Check shots without those under a known blunder, and the fact of what was left out, if anything was."""
    shots = layers["shots"]
    checks = pd.DataFrame(shots[shots["role"] == "check"]).reset_index(drop=True)
    reason, level = elevations_apart(layers, checks)
    out = reason.notna().to_numpy(bool)
    written = told_apart(checks, reason, level)
    count = int((out | level.notna()).sum())
    facts = [{"note": "site-fit", "variant": "left-out", "count": count, "written": written}]
    checks["elevation"] = checks["elevation"].where(level.isna())
    return checks[~out].reset_index(drop=True), facts if count else []


def _nothing(fact: dict[str, Any], step: str) -> dict[str, pd.DataFrame]:
    return {**{name: empty(name) for name in SiteFit.gives}, "notes": noted(step, [fact])}


def _means(checks: pd.DataFrame, control: pd.DataFrame, wanted: tuple[str, ...], feet: float) -> pd.DataFrame:
    """One row a mark: mean of its shots, published place, uncertainty of the difference."""
    control = control.reset_index(drop=True)
    if strange := sorted(set(wanted) - set(control["mark"])):
        raise StepError(f"Step 'site-fit': no mark '{strange[0]}'; the control has {', '.join(control['mark'])}.")
    mark = mark_of(checks, control)
    own = {axis: stated_or_assumed(control[f"u_{axis}"], feet) for axis in ("h", "v")}
    rows = []
    for number, (_, known) in enumerate(control.iterrows()):
        mine = checks[mark == number].dropna(subset=["easting", "northing"])
        if not len(mine) or (wanted and known["mark"] not in wanted):
            continue
        row = {"mark": known["mark"], "shots": len(mine)}
        for axis, short in (("easting", "e"), ("northing", "n"), ("elevation", "z")):
            there = mine[axis].dropna()
            row[f"measured_{short}"] = float(there.mean()) if len(there) else np.nan
            row[f"known_{short}"] = float(known[axis])
        for axis in ("h", "v"):
            random = float(np.sqrt(np.nanmean(mine[f"u_{axis}_random"] ** 2) / len(mine)))
            row[f"u_{axis}"] = max(float(np.hypot(own[axis][number], random)), 1e-6)
        rows.append(row)
    return pd.DataFrame(rows)


def _plane(published: np.ndarray, rise: np.ndarray, u: np.ndarray) -> VerticalPlane | None:
    try:
        return fit_vertical_plane(published[:, 0], published[:, 1], rise, u=u)
    except GeometryInputError:
        return None


def _parameters(plan: Similarity, level: VerticalPlane | None, unit: str) -> list[dict[str, Any]]:
    shift = plan.target_centre - plan.source_centre
    u = np.sqrt(np.diag(plan.covariance))[2:]
    rows = [
        ("shift east", shift[0], u[0], unit),
        ("shift north", shift[1], u[1], unit),
        ("scale", (plan.scale - 1) * 1e6, plan.scale_se * 1e6, "ppm"),
        ("rotation", plan.rotation * 3600, plan.rotation_se * 3600, "arc second, counter-clockwise"),
    ]
    if level is not None:
        rows += [
            ("shift up", -level.shift, level.se[0], unit),
            ("slope east", -level.slope_e * 1e6, level.se[1] * 1e6, "ppm"),
            ("slope north", -level.slope_n * 1e6, level.se[2] * 1e6, "ppm"),
        ]
    return [
        {
            "parameter": name,
            "value": float(value),
            "se": float(se),
            "unit": of,
            "proven": bool(abs(value) > PROVEN * se),
        }
        for name, value, se, of in rows
    ]


def _marks(
    table: pd.DataFrame, measured: np.ndarray, published: np.ndarray, plan: Similarity, rise: np.ndarray,
    level: VerticalPlane | None, tested: SnoopedInTurn | None,
) -> pd.DataFrame:  # fmt: skip
    nothing = np.full(len(table), np.nan)
    off = np.zeros(len(table), dtype=bool)
    if tested is not None:
        off[list(tested.rows)] = True
    return pd.DataFrame(
        {
            "mark": table["mark"].astype("str"),
            "shots": table["shots"],
            "before_easting": measured[:, 0] - published[:, 0],
            "before_northing": measured[:, 1] - published[:, 1],
            "before_elevation": rise,
            "residual_easting": plan.residuals[:, 0],
            "residual_northing": plan.residuals[:, 1],
            "residual_elevation": nothing if level is None else -level.residuals,
            "redundancy_horizontal": plan.redundancy.mean(axis=1),
            "redundancy_vertical": nothing if level is None else level.redundancy,
            "statistic": nothing if tested is None else tested.first.statistic,
            "outlying": off,
        }
    )


def _hidden(layers: Layers, table: pd.DataFrame, plan: Similarity, rise: np.ndarray) -> list[Fact]:
    """Known blunders whose displacement is what the fit would take away."""
    frame = layers.frame
    points = table[["known_e", "known_n", "known_z"]].to_numpy(float, copy=True)
    heights = points[np.isfinite(points[:, 2]), 2]
    points[:, 2] = np.nan_to_num(points[:, 2], nan=float(heights.mean()) if len(heights) else 0.0)
    held = {str(name): place for name, place in zip(table["mark"], points, strict=True)}
    newest = layers["shots"]["time"].max()
    epoch = newest.year + (newest.day_of_year - 0.5) / 365.25 if newest == newest else None
    seen = table[["measured_e", "measured_n"]].to_numpy(float) - points[:, :2]
    # a common part of the session's own is not known here: the spread of a method of centimetres stands for it
    u = np.hypot(table["u_h"].to_numpy(float), 0.02 / frame.unit.metres_float)
    found: list[Fact] = []
    visible = np.nanmax(np.hypot(*seen.T)) * frame.unit.metres_float >= LEAST
    for each in signatures(frame, held=held, epoch=epoch, gross=False) if visible else ():
        moved = each.displacement(points)[:, :2]
        size = float(np.hypot(*moved.mean(axis=0))) * frame.unit.metres_float
        if not np.isfinite(moved).all() or size < LEAST or _explains(each, moved, seen, u, points) is False:
            continue
        far = float(np.hypot(*seen.mean(axis=0)))
        found.append(Fact(variant="hides", subject=each.cause, written=each.variant, number=far, unit="job"))
    level = float(np.nanmean(rise)) * frame.unit.metres_float if np.isfinite(rise).any() else 0.0
    if abs(level) > 10.0:
        lift = float(np.nanmean(rise))
        found.append(Fact(variant="separation", subject="ellipsoid-heights", number=lift, unit="job"))
    return list({each.subject: each for each in found}.values())


def _explains(signature: Signature, moved: np.ndarray, seen: np.ndarray, u: np.ndarray, points: np.ndarray) -> bool:
    """Whether the signature leaves residuals like noise, its open quantities fitted."""
    left = (seen - moved).ravel()
    columns = signature.open_columns(points)[:, :2, :].reshape(len(left), -1)
    weight = np.repeat(1.0 / u, 2)
    if columns.shape[1]:
        # what is open is held by its own spread
        whole = np.vstack([columns * weight[:, None], np.diag(1.0 / np.maximum(signature.spread, 1e-12))])
        target = np.concatenate([left * weight, np.zeros(len(signature.spread))])
        left = left - columns @ np.linalg.lstsq(whole, target, rcond=None)[0]
    return bool(np.sqrt(np.mean((left * weight) ** 2)) < HIDES)


def _scaled(plan: Similarity) -> list[Fact]:
    """A scale that the grid explains better than a site does."""
    ppm, se = (plan.scale - 1) * 1e6, plan.scale_se * 1e6
    if abs(ppm) <= PROVEN * se or abs(ppm) < 20.0:
        return []
    return [Fact(variant="scale", subject="ground", number=float(ppm), u=float(se), unit="ppm")]


def _said(tested: SnoopedInTurn | None, table: pd.DataFrame) -> list[Fact]:
    """What the marks say of each other after the fit."""
    if tested is None or tested.verdict == TOO_FEW:
        return [Fact(variant="two", subject="no-redundancy")]
    if tested.verdict == AGREE:
        return []
    if tested.verdict == NAMED:
        names = listed([str(table["mark"].iloc[row]) for row in tested.rows])
        return [Fact(variant="outlying", subject="mark", other=names)]
    return [Fact(variant="disagree", subject="mark")]


def _of(fact: Fact) -> dict[str, Any]:
    return {name: getattr(fact, name) for name in ("variant", "subject", "written", "other", "number", "u", "unit")}
