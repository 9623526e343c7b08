"""Kinds of which one shot decides too little: said once each, with what would decide their numbers cheapest."""

from collections import Counter
from collections.abc import Iterator, Mapping
from math import hypot
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.kernels.precision.promise import after, share_decided
from geoqa.model.check import Check
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import taken_off
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.judging.findings import asked, verdicts_by_name, with_limits
from geoqa.steps.judging.remedies import better_u, level_ties
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.flags import noted
from geoqa.steps.unproven.shifted_verdicts import deviations_of

DECIDED = ("IN", "UNDECIDED", "OUT")
_ASKED = ["finding", "kind", "check", "verdict", "run", "rule", "shot", "deviation", "lower", "upper", "u"]
ENOUGH = 1000
"""Shots of a kind that tell of all of them what one decides."""
HALF = 0.5
"""Share of perfect work from which on a method is good enough for a tolerance not to be spoken of."""


class Undecided(Step):
    """Tell once for each kind and check that one shot decides too little of it, and what would decide more.

    Told are kinds of which fewer than half of perfect places would be proven by one shot with its uncertainty. Counted
    are the numbers that are reported undecided: within the limits, and beyond. What would decide them is counted, the
    cheapest first: the proven shifts of sessions taken off, as a line of the job would; one more shot of every place in
    another session; one reading of the better method. The last two are expected numbers, from what is known of each
    place by its own measurement.
    """

    name = "undecided"
    needs = ("findings", "limits", "shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
    wants = (
        *("session_shifts", "line_matches", "design_lines", "design_elements", "point_matches", "design_points"),
        *("control", "cause_shots", "believed_parts", "crew_precision", "run_members", "runs"),
    )
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Facts of every such kind: one row, and one for each remedy."""
        told, tied = _reported(layers), level_ties(layers)
        facts: list[dict[str, Any]] = []
        free: Counter[tuple[str, str]] | None = None
        for (kind, name), rows in told.groupby(["kind", "check"], sort=True):
            check = check_named(str(name))
            if check.subject != "work" or not check.axis:
                continue
            open_rows = rows[rows["verdict"] == "UNDECIDED"]
            perfect = _perfect(rows[rows["shot"].notna()], check)
            if not (len(open_rows) and perfect < HALF):
                continue
            if free is None:
                free = Counter()
                for piece in layers.apart():
                    free.update(_without_shifts(piece, _reported(piece)))
            facts += _facts(str(kind), check, rows, open_rows, perfect, free, layers.frame.unit.name, tied)
        return {"notes": noted(self.name, facts)}


def _reported(layers: Layers) -> pd.DataFrame:
    """What is reported and decided by a rule that knows of uncertainty."""
    findings = pd.DataFrame(layers["findings"][_ASKED])  # a season has millions of rows, and forty columns each
    return findings[findings["run"].isna() & findings["verdict"].isin(DECIDED) & (findings["rule"] != "simple")]


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
    free: Mapping[tuple[str, str], int],
    unit: str,
    u_tied: float,
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
    finer = hypot(better_u(check, "length", unit), u_tied if check.axis == "v" else 0.0)
    for variant, u in (("again", typical), ("better", finer)):
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
    """Numbers, by kind and check, that are undecided and are decided once the job has every shift taken off it may.

    They are judged again as the job would judge them. Runs are found anew then, and are not counted.
    """
    trial = taken_off(layers)
    if trial is None:
        return {}
    open_now = told[told["verdict"] == "UNDECIDED"]
    verdict = pd.concat(list(_judged_again(trial, open_now)), ignore_index=True).drop_duplicates("finding")
    then = open_now["finding"].map(verdict.set_index("finding")["verdict"])
    decided = open_now[then.isin(["IN", "OUT"])]
    return dict(Counter(zip(decided["kind"].astype(str), decided["check"].astype(str), strict=True)))


def _judged_again(trial: Layers, open_now: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Findings, by their names, of single shots that are asked for, and of places of several shots."""
    limits = trial["limits"]
    columns = ["finding", "verdict"]
    yield pd.DataFrame({name: pd.Series(dtype="str") for name in columns})
    for check, rows in deviations_of(trial):
        mine = rows_of(rows["shot"], open_now.loc[open_now["check"] == check.name, "shot"].dropna()) >= 0
        if mine.any():
            limited = asked(with_limits(rows[mine].reset_index(drop=True), limits, check=check))
            yield verdicts_by_name(limited, check=check, limits=limits)
    if open_now["shot"].isna().any():
        yield OnePlace().run(trial)["findings"][columns]
