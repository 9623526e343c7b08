"""Check shots on control marks."""

import numpy as np
import pandas as pd

from geoqa.contract.survey import CONTROL_ELEVATION, CONTROL_POSITION
from geoqa.model.quantity import FOOT
from geoqa.model.reasons import WHY
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import mark_of, stated_or_assumed
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.causes.left_out import elevations_apart
from geoqa.steps.judging.findings import evidence_of, findings_of, with_limits
from geoqa.steps.judging.remedies import OF_SESSION
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import ZERO


class CheckShots(Step):
    """Judge every check shot against the published position and elevation of its mark.

    The mark is named by the line ID of the shot, else by the shot's name, else by its note. The
    uncertainty of the mark joins the common part: it is the same for all shots on it.
    """

    name = "check-shots"
    needs = ("control", "limits", "shots.kind", "shots.role", "shots.u_h_random", "shots.u_v_random")
    wants = ("shots.use", "shots.flags", "cause_shots")
    gives = ("control_residuals",)
    adds = ("findings", "evidence")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Two findings a check shot, and the mean residuals by mark and session."""
        shots, control = layers["shots"], layers["control"].reset_index(drop=True)
        again = has_flag(shots, AGAIN)
        checks = shots[(shots["role"] == "check") & ~again].reset_index(drop=True)
        mark = mark_of(checks, control)
        residual = _residuals(checks, control, mark)
        made = []
        for axis, check in (("h", CONTROL_POSITION), ("v", CONTROL_ELEVATION)):
            rows = _rows(checks, control, mark, residual, axis, FOOT.metres_float / layers.frame.unit.metres_float)
            rows = with_limits(rows, layers["limits"], check=check)
            unit = layers.frame.unit.name
            made.append(findings_of(rows, check=check, limits=layers["limits"], unit=unit, again=OF_SESSION))
        findings = pd.concat(made, ignore_index=True) if len(checks) else made[0]
        known = findings[rows_of(findings["subject"], control["mark"]) >= 0]
        parts = [evidence_of(findings["finding"], findings["shot"], role="shot", layer="shots")]
        parts += [evidence_of(known["finding"], known["subject"], role="mark", layer="control")]
        evidence = pd.concat(parts, ignore_index=True) if len(findings) else parts[0]
        return {
            "findings": findings,
            "evidence": evidence,
            "control_residuals": _means(checks, control, mark, residual, *elevations_apart(layers, checks)),
        }


def _residuals(checks: pd.DataFrame, control: pd.DataFrame, mark: np.ndarray) -> pd.DataFrame:
    """Measured minus published; NaN without a mark."""
    published = control.reindex(mark).reset_index(drop=True)
    return pd.DataFrame(
        {name: checks[name] - published[name].astype(float) for name in ("easting", "northing", "elevation")}
    )


def _rows(
    checks: pd.DataFrame, control: pd.DataFrame, mark: np.ndarray, residual: pd.DataFrame, axis: str, unit: float
) -> pd.DataFrame:
    published = control.reindex(mark).reset_index(drop=True)
    written = checks["line_id"].where(checks["line_id"].notna(), checks["shot"]).fillna("-")
    subject = taken(control["mark"], mark)
    subject = subject.where(subject.notna(), written)
    held = " (held)" if len(control) else ""
    label = "shot " + checks["shot"].where(checks["shot"].notna(), checks["shot_key"])
    label = label.mask(published["held"].fillna(False).astype(bool), label + held)
    if axis == "h":
        measured = pd.Series(np.hypot(residual["easting"], residual["northing"]))
        design: pd.Series | float = 0.0
        missing = {"no-position": checks[["easting", "northing"]].isna().any(axis=1)}
    else:
        measured, design = checks["elevation"], published["elevation"].astype(float)
        missing = {
            "zero-elevation": pd.Series(has_flag(checks, ZERO)),
            "no-elevation": checks["elevation"].isna(),
            "no-design-elevation": published["elevation"].isna(),
        }
    rejected = ~checks["use"] if "use" in checks else pd.Series(False, index=checks.index)
    reasons = {"no-mark": pd.Series(mark < 0), "screened": rejected} | missing
    own = np.where(mark >= 0, stated_or_assumed(published[f"u_{axis}"], unit), 0.0)
    return pd.DataFrame(
        {
            "kind": checks["kind"],
            "subject": subject,
            "source": pd.Series("control", index=checks.index, dtype="str"),
            "label": label,
            "shot": checks["shot_key"],
            "easting": checks["easting"],
            "northing": checks["northing"],
            "elevation": checks["elevation"],
            "measured": measured,
            "design": design,
            "deviation": measured - design,
            "u_common": np.hypot(checks[f"u_{axis}_common"], own),
            "u_random": checks[f"u_{axis}_random"],
            "u_stays": np.hypot(checks[f"u_{axis}_common"], own),
            "reason": np.select([each.to_numpy(bool) for each in reasons.values()], [WHY[each] for each in reasons], 0),
        }
    ).rename(columns={"reason": "why"})


def _means(
    checks: pd.DataFrame,
    control: pd.DataFrame,
    mark: np.ndarray,
    residual: pd.DataFrame,
    apart: pd.Series,
    level: pd.Series,
) -> pd.DataFrame:
    """Means of what counts, plan and elevation apart; a mark of which nothing does keeps its row, without a mean."""
    counts = apart.isna()
    table = residual.assign(far=np.hypot(residual["easting"], residual["northing"]))
    table.loc[~counts] = np.nan
    table.loc[level.notna(), "elevation"] = np.nan
    table = table.assign(mark=taken(control["mark"], mark), session=checks["session"], counts=counts)
    table["level"] = level.notna()
    groups = table[mark >= 0].groupby(["mark", "session"], dropna=False, sort=True)
    means = groups.agg(
        shots=("counts", "sum"),
        every=("counts", "size"),
        left_out_elevation=("level", "sum"),
        mean_easting=("easting", "mean"),
        mean_northing=("northing", "mean"),
        mean_elevation=("elevation", "mean"),
        worst=("far", "max"),
    )
    means = means.assign(left_out=means["every"] - means["shots"]).drop(columns="every")
    return conform("control_residuals", means.reset_index())
