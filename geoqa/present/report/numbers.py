"""Findings as plain tables, made once for all chapters: nothing of the report needs their shapes."""

from typing import TYPE_CHECKING

from geoqa.contract.checks import check_named
from geoqa.model.results import Results
from geoqa.model.tables.reported import reported_verdicts
from geoqa.model.tables.several_sets import ruleset_of

if TYPE_CHECKING:
    import pandas as pd


def every_number(results: Results) -> "pd.DataFrame":
    """All findings, worst first, without their shapes; it must not be changed."""
    import pandas as pd

    def plain() -> pd.DataFrame:
        return pd.DataFrame(results.findings.drop(columns="geometry", errors="ignore"))

    made: pd.DataFrame = results.layers.derived("findings without shapes", ("findings",), plain)
    return made


def reported_numbers(results: Results) -> "pd.DataFrame":
    """Findings at the level they are reported: what belongs to a run is told by it."""
    findings = every_number(results)
    return findings[findings["run"].isna()]


def single_numbers(results: Results) -> "pd.DataFrame":
    """Every number of the work by itself, with the verdict it is reported with: means of runs are not counted again.

    Returns
    -------
    DataFrame
        Findings with `reported` and `ruleset`. Counts, numbers that are missing and rows that repeat the design are
        left out: they have no place on an axis of deviations.
    """
    findings = every_number(results)
    means = set(results.layers["runs"]["run"]) if "runs" in results.layers else set()
    work = {name for name in findings["check"].unique() if check_named(name).subject == "work"}
    kept = findings["check"].isin(work) & findings["deviation"].notna() & ~findings["finding"].isin(means)
    kept &= (findings["quantity"] != "count") & (findings["why"] != "identical-to-design")
    mine = findings[kept]
    return mine.assign(reported=reported_verdicts(findings)[kept], ruleset=ruleset_of(mine))
