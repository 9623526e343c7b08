"""Offsets of shots from their design lines."""

import pandas as pd

from geoqa.contract.work import OFFSET
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.design.one_place import reported_by
from geoqa.steps.judging.findings import asked, findings_of, with_limits


class Offsets(Step):
    """Judge how far right or left of its design line each shot lies."""

    name = "offsets"
    needs = ("line_matches", "design_lines", "limits", "shots.use", "shots.flags", "shots.u_h_random")
    wants = (
        "run_members",
        "runs",
        "place_members",
        "places",
        "session_shifts",
        "believed_parts",
        "older_designs",
        "apart_shots",
        "loose_sessions",
        "loose_shots",
    )
    adds = ("findings",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One finding a shot."""
        rows = asked(with_limits(along_lines(layers, "offset"), layers["limits"], check=OFFSET))
        findings = findings_of(
            rows.drop(columns="row"), check=OFFSET, limits=layers["limits"], unit=layers.frame.unit.name
        )
        return {"findings": findings.assign(run=reported_by(findings, layers))}
