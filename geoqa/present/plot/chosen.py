"""Which line and check a profile shows, and the findings along it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.errors import LayerError
from geoqa.model.check import Check
from geoqa.model.results import Results
from geoqa.model.signs import ranks
from geoqa.model.tables.reported import reported_verdicts

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, kw_only=True, eq=False)
class Along:
    """Findings of one check along one design line.

    Attributes
    ----------
    line : str
    check : Check
    findings : DataFrame
        One for each shot, by station, with the verdict that is reported: a member of a run has the run's.
    unit : str
        Of the job.
    """

    line: str
    check: Check
    findings: pd.DataFrame
    unit: str

    @property
    def quantity(self) -> str:
        """What the deviation is."""
        return str(self.findings["quantity"].iloc[0])

    @property
    def has_elevations(self) -> bool:
        """What is measured and designed are elevations: they can be drawn too."""
        return self.check.axis == "v" and self.check.quantity == "length"


def chosen(results: Results, *, line: str | None, check: str | None) -> Along | None:
    """Choose line and check.

    Returns
    -------
    Along or None
        None where nothing was said and no shot was judged along a line.

    Raises
    ------
    LayerError
        No such line, or no finding of that check along it.
    """
    lines = results.layers["design_lines"]["line"] if "design_lines" in results.layers else pd.Series(dtype="str")
    found = results.layers["findings"]
    found = found.assign(verdict=reported_verdicts(found))
    found = found[found["station"].notna() & found["shot"].notna() & found["subject"].isin(lines)]
    if line is not None:
        _refuse_unknown("line", line, lines.tolist())
        found = found[found["subject"] == line]
        if not len(found):
            raise LayerError(f"line: no shot was judged along '{line}'.")
    if check is not None:
        _refuse_unknown("check", check, found["check"].unique().tolist())
        found = found[found["check"] == check]
    if not len(found):
        return None
    worst = found.iloc[_worst(found)]
    mine = found[(found["subject"] == worst["subject"]) & (found["check"] == worst["check"])]
    mine = mine.sort_values(["station", "finding"])
    return Along(
        line=worst["subject"], check=check_named(worst["check"]), findings=mine, unit=results.layers.frame.unit.name
    )


def _worst(found: pd.DataFrame) -> int:
    """Row of the first by verdict and by how far it is beyond its limit: what was not judged shows little."""
    seen = found["deviation"].notna().to_numpy()
    order = pd.DataFrame({"unseen": ~seen, "rank": ranks(found["verdict"]), "excess": -found["excess"].to_numpy()})
    return int(order.sort_values(["unseen", "rank", "excess"], kind="stable").index[0])


def _refuse_unknown(option: str, name: str, known: Sequence[str]) -> None:
    if name not in known:
        there = f"there are {', '.join(sorted(known))}" if known else "there is none along a line"
        raise LayerError(f"{option}: '{name}' is not among these results; {there}.")
