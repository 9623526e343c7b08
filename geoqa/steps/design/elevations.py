"""Elevations of shots against their design lines."""

import pandas as pd

from geoqa.contract.work import ELEVATION
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.deviations import along_lines
from geoqa.steps.design.runs import run_of
from geoqa.steps.judging.findings import asked, findings_of, with_limits


class Elevations(Step):
    """Judge how high or low each shot is, against the design elevation at its own station.

    The slope of the design carries a small part of the horizontal uncertainty into the elevation;
    on slopes of a few per cent it is far below the vertical one, and left out.
    """

    name = "elevations"
    needs = ("line_matches", "design_lines", "limits", "shots.use", "shots.flags", "shots.u_v_random")
    wants = ("run_members", "runs")
    adds = ("findings",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One finding a shot."""
        rows = asked(with_limits(along_lines(layers, "elevation"), layers["limits"], check=ELEVATION))
        findings = findings_of(
            rows.drop(columns="row"), check=ELEVATION, limits=layers["limits"], unit=layers.frame.unit.name
        )
        return {"findings": findings.assign(run=run_of(findings, layers))}
