"""Where several rule sets say different things of one number."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.several_sets import number_of, ruleset_of, several_sets
from geoqa.steps.shots.flags import noted


class RuleSetsDiffer(Step):
    """Say for each kind and check which rule set says what, where their verdicts on the same numbers differ.

    All verdicts stand in the findings. Of one number the strictest is reported and counted; the others point to it.
    """

    name = "rule-sets-differ"
    needs = ("findings", "limits")
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A fact for each rule set, kind and check of which verdicts differ."""
        findings = layers["findings"]
        facts: list[dict[str, Any]] = []
        if several_sets(findings["against"]):
            for (kind, check), numbers in _compared(findings).groupby(["kind", "check"], sort=True):
                facts += _of_kind(numbers, str(kind), str(check), _strictest(layers["limits"], str(kind), str(check)))
        return {"notes": noted(self.name, facts)}


def _compared(findings: pd.DataFrame) -> pd.DataFrame:
    """Findings of numbers that several sets judge; those of runs among them."""
    made = findings.assign(number=number_of(findings), ruleset=ruleset_of(findings))
    return made[made.groupby("number")["ruleset"].transform("nunique") > 1]


def _of_kind(numbers: pd.DataFrame, kind: str, check: str, strictest: str) -> list[dict[str, Any]]:
    differ = int((numbers.groupby("number")["verdict"].nunique() > 1).sum())
    if not differ:
        return []
    facts = []
    for ruleset, rows in numbers.groupby("ruleset", sort=True):
        count = rows["verdict"].value_counts()
        within, undecided, exceed = (float(count.get(name, 0)) for name in ("IN", "UNDECIDED", "OUT"))
        facts.append(
            {"note": "rule-sets-differ", "subject": kind, "place": check, "other": str(ruleset), "count": differ,
             "total": int(numbers["number"].nunique()), "second": within, "third": undecided, "fourth": exceed,
             "written": str(rows["reference"].iloc[0]), "proposal": strictest}
        )  # fmt: skip
    return facts


def _strictest(limits: pd.DataFrame, kind: str, check: str) -> str:
    """The sets whose limits lie within those of every other, by name; empty where there is none, or all are alike."""
    mine = limits[(limits["kind"] == kind) & (limits["check"] == check)]
    lower, upper = mine["lower"].to_numpy(float), mine["upper"].to_numpy(float)
    within = (lower == lower.max(initial=-np.inf)) & (upper == upper.min(initial=np.inf))
    return ", ".join(sorted(map(str, mine["ruleset"].to_numpy()[within]))) if within.sum() < len(mine) else ""
