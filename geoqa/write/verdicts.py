"""What is reported at each shot: its verdict and one line of words, from the findings."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from geoqa.contract.checks import check_named
from geoqa.model import words
from geoqa.model.results import Results
from geoqa.model.signs import SIGNS
from geoqa.model.tables.direction import ways
from geoqa.model.tables.in_rows import in_rows
from geoqa.model.tables.reported import reported_verdicts
from geoqa.write.rows import Row

if TYPE_CHECKING:
    import pandas as pd


def at_shots(results: Results) -> pd.DataFrame:
    """Say what is reported at each shot that has a finding.

    A member of a run is reported with the run's verdict; of several verdicts the worst counts.

    Returns
    -------
    DataFrame
        Index `shot_key`; columns `verdict`, `headline` (each check with its deviation, worst
        first) and `findings` (ids joined by ``;``).

    Examples
    --------
    >>> from geoqa.model.tables.columns import empty
    >>> from geoqa.model.results import Results, Title
    >>> from geoqa.testing import layers
    >>> none = Results(title=Title(name=""), layers=layers(findings=empty("findings")), summary={}, record={})
    >>> list(at_shots(none).columns)
    ['verdict', 'headline', 'findings']
    """
    return results.layers.derived("what is said at shots", tuple(results.layers), lambda: _at_shots(results))


def _at_shots(results: Results) -> pd.DataFrame:
    import pandas as pd

    findings = results.findings.drop(columns="geometry", errors="ignore")
    told = findings.assign(verdict=reported_verdicts(findings).astype("str"))
    if len(told):
        told["toward"] = ways(results.layers, findings)
    told = told[told["shot"].notna()].copy()
    if told.empty:
        return pd.DataFrame({name: pd.Series(dtype="str") for name in ("verdict", "headline", "findings")})
    told["order"] = told["verdict"].map({verdict: sign.order for verdict, sign in SIGNS.items()})
    told = told.sort_values(["order", "excess", "finding"], ascending=[True, False, True], kind="stable")
    told["said"] = [in_words(row, results.layers.frame.unit.name) for row in in_rows(told)]
    at: dict[str, list[tuple[str, str, str]]] = {}
    for shot, *said in zip(*(told[name].tolist() for name in ("shot", "verdict", "said", "finding")), strict=True):
        at.setdefault(shot, []).append(tuple(said))
    shots = sorted(at)
    return pd.DataFrame(
        {
            "verdict": [at[shot][0][0] for shot in shots],
            "headline": ["; ".join(headline for _, headline, _ in at[shot]) for shot in shots],
            "findings": [";".join(finding for *_, finding in at[shot]) for shot in shots],
        },
        index=pd.Index(shots, name="shot", dtype="str"),
        dtype="str",
    )


def in_words(finding: Row, unit: str) -> str:
    """One finding in a few words: check, deviation, verdict.

    Examples
    --------
    >>> row = {"check": "offset", "deviation": 0.16, "quantity": "length", "verdict": "OUT", "why": "proven"}
    >>> in_words(row, "ft")
    'offset 0.16 ft right, out'
    >>> in_words({**row, "check": "clear-width", "deviation": math.nan, "verdict": "NO_DATA", "why": "screened"}, "ft")
    'clear width not judged: the shot was rejected by the screening rules'
    >>> in_words({**row, "check": "identical", "quantity": "count", "label": "7 rows identical to design"}, "ft")
    '7 rows identical to design, out'
    """
    way = finding.get("toward")
    toward = way if isinstance(way, str) else ""
    check = check_named(finding["check"])
    name, verdict = check.name.replace("-", " "), SIGNS[finding["verdict"]].short
    known = finding["deviation"] is not None and not math.isnan(finding["deviation"])
    said = f"{name} {words.judged(finding, check, unit, toward=toward)}, " if known else f"{name} "
    if finding["quantity"] == "count" and isinstance(finding.get("label"), str):
        said = f"{finding['label']}, "  # it says how many; a count is no deviation
    reason = f": {check.reason(finding['why']).text}" if finding["verdict"] == "NO_DATA" else ""
    return f"{said}{verdict}{reason}"
