"""Kinds of which one shot decides too little: said once each, with what would decide their numbers cheapest."""

from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from geoqa.contract.checks import check_named
from geoqa.kernels.precision.promise import after, share_decided
from geoqa.model.check import Check
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import sessions
from geoqa.steps.judging.findings import asked, verdicts_of, with_limits
from geoqa.steps.judging.remedies import better_u
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.flags import noted
from geoqa.steps.unproven.shifted_verdicts import AXES, deviations_of, without_shift

DECIDED = ("IN", "UNDECIDED", "OUT")
_ASKED = ["kind", "check", "verdict", "run", "rule", "shot", "deviation", "lower", "upper", "u"]
ENOUGH = 1000
"""Shots of a kind that tell of all of them what one decides."""
HALF = 0.5
"""Share of perfect work from which on a method is good enough for a tolerance not to be spoken of."""


class Undecided(Step):
    """Tell once for each kind and check that one shot decides too little of it, and what would decide more.

    Told are kinds of which fewer than half of perfect places would be proven by one shot with its uncertainty. Counted
    are the numbers that are reported undecided: within the limits, and beyond. What would decide them is counted, the
    cheapest first: the verdicts without the shift of each session, where check shots know it; one more shot of every
    place in another session; one reading of the better method. The last two are expected numbers, from what is known of
    each place by its own measurement.
    """

    name = "undecided"
    needs = ("findings", "limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = (
        *("session_shifts", "line_matches", "design_lines", "design_elements", "point_matches", "design_points"),
        *("cause_shots", "believed_parts"),
    )
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Facts of every such kind: one row, and one for each remedy."""
        findings = pd.DataFrame(layers["findings"][_ASKED])  # a season has millions of rows, and forty columns each
        told = findings[findings["run"].isna() & findings["verdict"].isin(DECIDED) & (findings["rule"] != "simple")]
        facts: list[dict[str, Any]] = []
        free: dict[tuple[str, str], int] | None = None
        for (kind, name), rows in told.groupby(["kind", "check"], sort=True):
            check = check_named(str(name))
            if check.subject != "work" or not check.axis:
                continue
            open_rows = rows[rows["verdict"] == "UNDECIDED"]
            perfect = _perfect(rows[rows["shot"].notna()], check)
            if not (len(open_rows) and perfect < HALF):
                continue
            if free is None:
                free = _without_shifts(layers, told)
            facts += _facts(str(kind), check, rows, open_rows, perfect, free, layers.frame.unit.name)
        return {"notes": noted(self.name, facts)}


def _perfect(rows: pd.DataFrame, check: Check) -> float:
    """Share of perfect places that one shot decides, over the uncertainties and limits of all shots of the kind."""
    shares = []
    if len(rows) > ENOUGH:  # every so many of them in the order of their uncertainty
        rows = rows.iloc[np.argsort(rows["u"].to_numpy(float), kind="stable")[:: len(rows) // ENOUGH]]
    for rule, mine in rows.groupby("rule", sort=True):
        lower, upper, u = (mine[name].to_numpy(float) for name in ("lower", "upper", "u"))
        middle = np.zeros(len(mine)) if check.radial else np.clip(0.0, lower, upper)
        # a measurement of a perfect place is normal about it with u
        shares.append(
            share_decided(
                middle, lower=lower, upper=upper, u=np.sqrt(2.0) * u, u_after=u, rule=str(rule), radial=check.radial
            )
        )
    return float(np.nanmean(np.concatenate(shares))) if shares else 1.0


def _facts(
    kind: str,
    check: Check,
    rows: pd.DataFrame,
    open_rows: pd.DataFrame,
    perfect: float,
    free: dict[tuple[str, str], int],
    unit: str,
) -> list[dict[str, Any]]:
    """What is so, then each remedy with what it decides."""
    single = rows[rows["shot"].notna()]
    typical = float(single["u"].median())
    lower, upper, deviation = (open_rows[name].to_numpy(float) for name in ("lower", "upper", "deviation"))
    beyond = int(((deviation > upper) | (deviation < lower)).sum())
    about = {"note": "undecided", "subject": kind, "place": check.name, "unit": "job"}
    made = [
        {**about, "variant": "", "number": typical, "second": perfect, "count": len(open_rows) - beyond,
         "total": beyond}
    ]  # fmt: skip
    if shift := free.get((kind, check.name), 0):
        made.append({**about, "variant": "shift", "count": shift})
    for variant, u in (("again", typical), ("better", better_u(check, "length", unit))):
        if np.isfinite(u) and (variant == "again" or u < typical):
            made.append({**about, "variant": variant, "number": u, "count": _expected(open_rows, check, u)})
    return made


def _expected(rows: pd.DataFrame, check: Check, u_more: float) -> int:
    """How many of these numbers one more measurement decides, by expectation."""
    total = 0.0
    for rule, mine in rows.groupby("rule", sort=True):
        deviation, lower, upper, u = (mine[name].to_numpy(float) for name in ("deviation", "lower", "upper", "u"))
        total += float(
            np.nansum(
                share_decided(
                    deviation, lower=lower, upper=upper, u=u, u_after=after(u, u_more), rule=str(rule),
                    radial=check.radial,
                )
            )
        )  # fmt: skip
    return round(total)


def _without_shifts(layers: Layers, told: pd.DataFrame) -> dict[tuple[str, str], int]:
    """Single numbers, by kind and check, that are undecided as read and decided without the shift of their session."""
    counts: dict[tuple[str, str], int] = {}
    if "session_shifts" not in layers or not len(layers["session_shifts"]):
        return counts
    open_now = told[(told["verdict"] == "UNDECIDED") & told["shot"].notna()]
    shift, u = _known_of_shots(layers)
    for check, rows, toward in deviations_of(layers):
        axes = [2] if check.axis == "v" else [0, 1]
        row = rows["row"].to_numpy()
        by, its = shift[row], u[row]
        here = (rows["why"] == 0).to_numpy(bool) & np.isfinite(by[:, axes] + its[:, axes]).all(axis=1)
        # nothing is gained where the shift is known no better than it is stated to be
        here &= rows["u_common"].to_numpy(float) > its[:, axes].max(axis=1)
        here &= rows_of(rows["shot"], open_now.loc[open_now["check"] == check.name, "shot"]) >= 0
        if not here.any():
            continue
        freed = without_shift(rows[here].drop(columns=["row"]), check, toward[here], by[here], its[here])
        limited = asked(with_limits(freed.assign(nth=np.arange(len(freed))), layers["limits"], check=check))
        verdicts = verdicts_of(limited, check=check, limits=layers["limits"])
        # of a number under several sets of rules, which verdict is whose is not asked
        decided = verdicts.isin(["IN", "OUT"]).to_numpy() & ~limited["nth"].duplicated(keep=False).to_numpy()
        for kind, count in limited["kind"][decided].value_counts().items():
            counts[str(kind), check.name] = counts.get((str(kind), check.name), 0) + int(count)
    return counts


def _known_of_shots(layers: Layers) -> tuple[np.ndarray, np.ndarray]:
    """Shift of the session of every shot, and its u, shape (n, 3); NaN where its checks do not tell.

    The u is as wide as few degrees of freedom make it.
    """
    told = layers["session_shifts"].dropna(subset=["session"])
    names = sorted(told["session"].unique())
    dof = told["dof"].fillna(0.0).to_numpy(float)
    wide = np.where(dof > 0, stdtrit(np.maximum(dof, 1e-9), 0.975) / 1.959963984540054, np.inf)
    shift, u = np.full((2, len(names) + 1, 3), np.nan)  # the last for shots of other sessions
    at = rows_of(told["session"], names), rows_of(told["axis"], list(AXES))
    shift[at] = told["shift"].to_numpy(float)
    u[at] = told["u"].to_numpy(float) * np.where(np.isinf(dof), 1.0, wide)
    place = rows_of(sessions(layers["shots"]), names)
    return shift[place], u[place]
