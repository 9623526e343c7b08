"""What shots of a changed design would have been against the design before: kept for the record."""

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION, OFFSET, POSITION
from geoqa.kernels.design.station import candidates
from geoqa.model.check import Check
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.findings import asked, findings_of, with_limits
from geoqa.steps.judging.remedies import level_ties
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.observed import WANTS as OBSERVED_WANTS
from geoqa.steps.rules.design_before import against_before
from geoqa.steps.shots.flags import noted

REACH = Length.parse("50 ft")
"""Farthest design before the change that a shot is compared with: what moved farther is another place."""
_COPIED = (
    *("kind", "subject", "label", "shot", "station", "offset", "easting", "northing", "elevation"),
    *("measured", "u_common", "u_random"),
)


class FieldChanges(Step):
    """Judge shots of changed design against the design before as well, and keep those verdicts beside the new ones.

    An approved field change replaces lines and points of the design by name. What is reported is the verdict against
    it; the verdict against the design before stands in the list under it, and counts for nothing else. Judged against
    both are offsets, elevations, positions, inverts of pipes, reveals of curbs, and falls and standing water along flow
    lines. Cross slopes, widths, cover and clearance are held to limits of their own, which no change of a line moves.
    """

    name = "field-changes"
    only_with = ("field_changes",)
    needs = ("field_changes", "findings", "limits")
    wants = ("replaced_points", "replaced_lines", "replaced_elements", "codes", "design_lines", "design_elements",
             "design_points", "structure_notes", "precision", *OBSERVED_WANTS)  # fmt: skip
    adds = ("findings", "notes")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A finding for each shot and check, and a note for each change."""
        changes, findings = layers["field_changes"], layers["findings"]
        parts = []
        for check, table in ((OFFSET, "lines"), (ELEVATION, "lines"), (POSITION, "points"), (ELEVATION, "points")):
            if f"replaced_{table}" in layers and len(layers[f"replaced_{table}"]):
                parts.append(self._before(layers, findings, changes, check, table))
        lines = changes[(changes["table"] == "design_lines") & changes["before"].notna()]
        parts.append(against_before(layers, _told(lines)))
        kept = [each for each in parts if len(each)]
        made = pd.concat(kept, ignore_index=True) if kept else empty("findings")
        return {"findings": made, "notes": noted(self.name, _facts(changes, findings, made))}

    def _before(
        self, layers: Layers, findings: pd.DataFrame, changes: pd.DataFrame, check: Check, table: str
    ) -> pd.DataFrame:
        mine = changes[(changes["table"] == f"design_{table}") & changes["before"].notna()]
        now = findings[(findings["check"] == check.name) & findings["shot"].notna()]
        now = now[now["subject"].isin(mine["name"]) & (now["verdict"] != "NO_DATA")].reset_index(drop=True)
        if not len(now):
            return empty("findings")
        rows = now[list(_COPIED)].assign(why=0, run=now["finding"])
        rows["source"] = rows["subject"].map(mine.set_index("name")["before"]).astype("str")
        rows["cause"] = rows["subject"].map(_told(mine)).astype("str")
        numbers = _at_points if table == "points" else _beside_lines
        rows["design"], rows["measured"] = numbers(layers, rows, check)
        rows["deviation"] = rows["measured"] - rows["design"]
        rows = asked(with_limits(rows, layers["limits"], check=check))
        run = rows["run"]
        tied = level_ties(layers) if check is ELEVATION else 0.0
        made = findings_of(rows, check=check, limits=layers["limits"], unit=layers.frame.unit.name, u_tied=tied)
        return made.assign(run=run.to_numpy())


def _told(changes: pd.DataFrame) -> dict[str, str]:
    return {
        row["name"]: f"against the design before the field change: {row['words']}, {row['dated']}"
        for row in changes.to_dict("records")
    }


def _at_points(layers: Layers, rows: pd.DataFrame, check: Check) -> tuple[np.ndarray, np.ndarray]:
    """Design and measured number against the points before."""
    points = layers["replaced_points"]
    old = points.iloc[rows_of(rows["subject"], points["point"])]
    if check is ELEVATION:
        return old["elevation"].to_numpy(float), rows["measured"].to_numpy(float)
    away = rows[["easting", "northing"]].to_numpy(float) - old[["easting", "northing"]].to_numpy(float)
    return np.zeros(len(rows)), np.hypot(*away.T)


def _beside_lines(layers: Layers, rows: pd.DataFrame, check: Check) -> tuple[np.ndarray, np.ndarray]:
    """Design and measured number against the lines before, at the shot's own station; NaN past their ends."""
    tables = {"design_lines": layers["replaced_lines"], "design_elements": layers["replaced_elements"]}
    before = alignments(Layers(tables, frame=layers.frame))
    place = rows[["easting", "northing"]].to_numpy(float)
    number = rows_of(rows["subject"], pd.Series(before.names, dtype="str"))
    pairs = candidates(place, before.elements, reach=REACH.to(layers.frame.unit))
    own = np.flatnonzero((pairs.line == number[pairs.point]) & (np.abs(pairs.along) < 1e-6))
    own = own[np.argsort(-np.abs(pairs.offset[own]), kind="stable")]
    offset, level = np.full((2, len(rows)), np.nan)
    offset[pairs.point[own]], level[pairs.point[own]] = pairs.offset[own], pairs.elevation[own]
    if check is ELEVATION:
        return level, rows["measured"].to_numpy(float)
    return np.where(np.isnan(offset), np.nan, 0.0), offset


def _facts(changes: pd.DataFrame, findings: pd.DataFrame, before: pd.DataFrame) -> list[dict[str, object]]:
    """One a change: what it replaces and adds, and how many numbers it turns in or out of tolerance."""
    facts = []
    verdict = findings.set_index("finding")["verdict"]
    for (source, words, dated), rows in changes.groupby(["source", "words", "dated"], sort=True):
        names = rows["name"]
        mine = before[before["cause"].str.contains(f"{words}, {dated}", regex=False)]
        out = mine["run"].map(verdict) == "OUT"
        cleared = (mine["verdict"] == "OUT") & ~out
        thrown = mine["verdict"].isin(["IN", "UNDECIDED"]) & out
        replaced = rows["before"].notna()
        facts.append(
            {"note": "field-change", "subject": str(source), "written": f"{words}, {dated}",
             "other": ", ".join(names[replaced][:6]), "place": ", ".join(names[~replaced][:6]),
             "count": int(replaced.sum()), "total": int((~replaced).sum()), "second": float(cleared.sum()),
             "third": float(len(mine)), "fourth": float(thrown.sum())}
        )  # fmt: skip
    return facts
