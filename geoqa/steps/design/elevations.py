"""Elevations of shots against their design lines."""

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION
from geoqa.model.reasons import WHY
from geoqa.model.step import Step
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.design.one_place import reported_by
from geoqa.steps.design.zero_design import notes_of_zeros
from geoqa.steps.judging.findings import asked, evidence_of, findings_of, with_limits
from geoqa.steps.judging.remedies import level_ties
from geoqa.steps.shots.flags import noted


class Elevations(Step):
    """Judge how high or low each shot is, against the design elevation at its own station.

    The slope of the design carries a small part of the horizontal uncertainty into the elevation;
    on slopes of a few per cent it is far below the vertical one, and left out. A design line that has no elevation
    anywhere is one finding, and its shots keep what their offsets say. Where a line falls to exactly 0 far from all its
    other elevations nothing is judged by that, and a note asks.
    """

    name = "elevations"
    needs = (
        "line_matches",
        "design_lines",
        "design_elements",
        "limits",
        "shots.use",
        "shots.flags",
        "shots.u_v_random",
    )
    wants = (
        *("run_members", "runs", "place_members", "places"),
        *(
            "session_shifts",
            "design_points",
            "believed_parts",
            "older_designs",
            "apart_shots",
            "loose_sessions",
            "loose_shots",
            "structure_notes",
            "drawn_at",
            "control",
        ),
    )
    adds = ("findings", "evidence", "notes")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One finding a shot, and one a line without elevations."""
        rows = asked(with_limits(along_lines(layers, "elevation"), layers["limits"], check=ELEVATION)).drop(
            columns="row"
        )
        flat = rows["why"].eq(WHY["no-design-elevation"]) & rows["subject"].isin(_flat_lines(layers))
        options = {
            "check": ELEVATION,
            "limits": layers["limits"],
            "unit": layers.frame.unit.name,
            "u_tied": level_ties(layers),
        }
        findings = findings_of(rows[~flat].reset_index(drop=True) if flat.any() else rows, **options)
        findings = findings.assign(run=reported_by(findings, layers))
        notes = noted(self.name, notes_of_zeros(layers))
        if not flat.any():
            return {"findings": findings, "evidence": empty("evidence"), "notes": notes}
        lines, keys = _by_line(rows[flat])
        told = findings_of(lines, keys=keys, **options)
        members = told[["finding"]].assign(shots=pd.Series(keys, dtype=object)).explode("shots")
        evidence = evidence_of(members["finding"], members["shots"], role="member", layer="shots")
        parts = [each for each in (findings, told) if len(each)]
        return {"findings": pd.concat(parts, ignore_index=True), "evidence": evidence, "notes": notes}


def _flat_lines(layers: Layers) -> set[str]:
    """Lines drawn in two dimensions: no elevation anywhere."""
    elements = layers["design_elements"]
    some = elements[["start_elevation", "end_elevation"]].notna().any(axis=1)
    return set(elements["line"]) - set(elements.loc[some, "line"])


def _by_line(rows: pd.DataFrame) -> tuple[pd.DataFrame, list[list[str]]]:
    """One row for each line and limit, at its first shot, and the keys of all its shots."""
    groups = rows.sort_values(["subject", "limit", "shot"], kind="stable").groupby(["subject", "limit"], sort=True)
    keys = [mine["shot"].tolist() for _, mine in groups]
    lines = groups.head(1).reset_index(drop=True)
    label = [f"{len(mine)} shot{'s' if len(mine) > 1 else ''}" for mine in keys]
    return lines.assign(shot=pd.Series([None] * len(lines), dtype="str"), station=np.nan, label=label), keys
