"""How the work of each kind fills its tolerance: an undue share of it near a limit."""

from dataclasses import asdict

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.contract.checks import every_check
from geoqa.kernels.rules.near_limit import limit_use
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import noted

SURE = 1.6448536269514722
"""Standard uncertainties of a one-sided 95 %."""


TWO_ANSWERS = ("chorded-curve", "place-or-node", "no-grade", "overlapping-faces")
"""Reasons of numbers that the design as drawn answers in two ways; which of the two was built is not known."""


_ASKED = ["kind", "check", "against", "shot", "verdict", "why", "lower", "upper", "deviation", "u_random", "u_common"]


class LimitUse(Step):
    """Describe how the numbers of each kind fill their tolerance, and say where work leans on one limit as a whole.

    Some contracts forbid an undue proportion of work near the limit. Counted are the signed numbers of single shots and
    sections, those of runs among them; what measuring adds to their scatter is taken out. It is said where the mean of
    at least `fewest` numbers lies beyond `half` of its limit with 95 %: then the kind was built to one side, and single
    verdicts do not tell. Numbers of a session without a check that lies off the design are left out: it may be what is
    to one side. So are numbers that a curve drawn in chords, or another doubt about the design, answers in two ways.
    """

    name = "limit-use"
    needs = ("findings",)
    wants = ("loose_shots",)
    gives = ("limit_use",)
    adds = ("notes",)

    fewest: int = Field(10, ge=3, description="Numbers of a kind before anything is said")
    half: float = Field(0.5, gt=0, le=1, description="Share of a limit beyond which the mean is said")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A row for each kind and check, and a note for each that leans on a limit."""
        findings = layers["findings"][_ASKED]
        signed = {name for name, check in every_check().items() if check.subject == "work" and check.bound == "sides"}
        mine = findings[findings["check"].isin(signed) & findings["verdict"].isin(["IN", "UNDECIDED", "OUT"])]
        mine = mine[mine["shot"].notna() & ~mine["why"].isin(TWO_ANSWERS) & ~_open_to_question(mine, layers)]
        rows = []
        for (kind, check, against), numbers in mine.groupby(["kind", "check", "against"], sort=True):
            lower, upper = (float(numbers[name].iloc[0]) for name in ("lower", "upper"))
            parts = (numbers[name].to_numpy(float) for name in ("deviation", "u_random", "u_common"))
            found = limit_use(*parts, lower=lower, upper=upper) if len(numbers) >= self.fewest else None
            if found is None:
                continue
            side = upper if found.mean > 0 else lower
            beyond = abs(found.mean) - self.half * abs(side) > SURE * found.u_mean
            rows.append(
                {"kind": kind, "check": check, "against": against, "lower": lower, "upper": upper,
                 "numbers": found.count, **asdict(found), "proven": bool(np.isfinite(side) and beyond)}
            )  # fmt: skip
        if not rows:
            return {"limit_use": empty("limit_use"), "notes": noted(self.name, [])}
        table = pd.DataFrame(rows).drop(columns="count")
        return {"limit_use": conform("limit_use", table), "notes": noted(self.name, _facts(table))}


def _open_to_question(findings: pd.DataFrame, layers: Layers) -> np.ndarray:
    """Numbers of shots whose session may be off along the axis that they feel."""
    if "loose_shots" not in layers or not len(layers["loose_shots"]):
        return np.zeros(len(findings), dtype=bool)
    table, checks = layers["loose_shots"], every_check()
    upward = np.array([checks[name].axis == "v" for name in findings["check"]], dtype=bool)
    flat = np.array([checks[name].axis == "h" for name in findings["check"]], dtype=bool)
    of = {name: set(table.loc[table[name].notna(), "shot_key"]) for name in ("elevation", "easting")}
    shot = findings["shot"]
    return np.asarray((upward & shot.isin(of["elevation"])) | (flat & shot.isin(of["easting"])), dtype=bool)


def _facts(table: pd.DataFrame) -> list[dict[str, object]]:
    unit_of = {name: "job" if check.quantity == "length" else check.quantity for name, check in every_check().items()}
    return [
        {"note": "limit-use", "subject": row["kind"], "place": row["check"], "number": row["mean"],
         "u": row["u_mean"], "unit": unit_of[row["check"]], "count": int(row["numbers"]), "second": row["used"],
         "third": row["near"] + row["beyond"],
         "limit": row["upper"] if row["mean"] > 0 else row["lower"]}
        for row in table[table["proven"]].to_dict("records")
    ]  # fmt: skip
