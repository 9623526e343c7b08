"""What is out of tolerance, held against how many numbers were judged."""

import pandas as pd

from geoqa.contract.checks import every_check
from geoqa.kernels.judging.verdict import called_out_at
from geoqa.kernels.rules.many_checks import false_discovery, out_by_chance
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import noted

RATE = 0.05
"""False claims among all that are made, the rate that is asked about."""
CLAIMS = 0.5
"""A number with a higher chance to be sound was measured within its limits: it claims nothing."""


_ASKED = ["finding", "verdict", "rule", "p_conform"]


class ManyChecks(Step):
    """Say how many of the findings that are out of tolerance stand when all numbers of the work are looked at together.

    Of many sound numbers some are out by chance: each verdict alone is wrong in up to one of twenty cases right at its
    limit. Counted is what is reported on the work; a number that its run or place reports is not counted again. The
    rate of false claims, on average over jobs, is that of Benjamini and Hochberg over the numbers that were measured
    beyond a limit, as Zhao, Small and Su have it: more work well within its limits makes no defect doubtful. What a
    session shares moves its numbers together; the rate holds then too, by simulation. No verdict is changed by it.
    """

    name = "many-checks"
    needs = ("findings",)
    gives = ("many_checks",)
    adds = ("notes",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A row for each finding that is out, and one note."""
        findings = layers["findings"]
        work = {name for name, check in every_check().items() if check.subject == "work"}
        judged = findings["verdict"].isin(["IN", "UNDECIDED", "OUT"]) & findings["p_conform"].notna()
        mine = findings[_ASKED][judged & findings["run"].isna() & findings["check"].isin(work)]
        q = false_discovery(mine["p_conform"].to_numpy(float), dependent=False, below=CLAIMS)
        out = (mine["verdict"] == "OUT").to_numpy(bool)
        if not out.any():
            return {"many_checks": empty("many_checks"), "notes": noted(self.name, [])}
        claims = pd.DataFrame({"finding": mine["finding"].to_numpy(), "p": mine["p_conform"].to_numpy(float), "q": q})[
            out
        ]
        claims = claims.assign(holds=claims["q"] <= RATE).sort_values(["q", "finding"], ignore_index=True)
        fact = {
            "note": "many-checks", "count": int(claims["holds"].sum()), "total": len(claims), "number": RATE,
            "unit": "ratio", "second": float(len(mine)), "third": _by_chance(mine),
        }  # fmt: skip
        return {"many_checks": conform("many_checks", claims), "notes": noted(self.name, [fact])}


def _by_chance(findings: pd.DataFrame) -> float:
    """Sound numbers that are out by chance, on average at most; NaN where a rule of theirs cannot tell."""
    return sum(
        out_by_chance(rows.to_numpy(float), at=called_out_at(str(rule)), below=CLAIMS)
        for rule, rows in findings.groupby("rule")["p_conform"]
    )
