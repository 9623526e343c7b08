"""Positions and elevations of point features against their design points."""

import pandas as pd

from geoqa.contract.work import ELEVATION, POSITION
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.deviations import at_points
from geoqa.steps.design.misread_inverts import waiting
from geoqa.steps.design.one_place import reported_by
from geoqa.steps.judging.findings import asked, findings_of, with_limits
from geoqa.steps.judging.remedies import level_ties


class Positions(Step):
    """Judge point features: the distance in plan from the design point, and the elevation.

    An elevation that was reduced with a measure-down that looks misread waits, as the invert of that end does.
    """

    name = "positions"
    needs = ("point_matches", "design_points", "limits", "shots.use", "shots.flags", "shots.u_h_random")
    wants = (
        *("run_members", "runs", "place_members", "places"),
        *(
            "design_lines",
            "design_elements",
            "session_shifts",
            "believed_parts",
            "older_designs",
            "apart_shots",
            "loose_sessions",
            "loose_shots",
            "control",
        ),
        "reduced_shots",
    )
    adds = ("findings",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Two findings a shot."""
        made = []
        for check in (POSITION, ELEVATION):
            rows = asked(with_limits(at_points(layers, check.name), layers["limits"], check=check))
            if check is ELEVATION:
                rows = waiting(layers, rows)
            findings = findings_of(
                rows.drop(columns="row"), check=check, limits=layers["limits"], unit=layers.frame.unit.name,
                u_tied=level_ties(layers) if check is ELEVATION else 0.0,
            )  # fmt: skip
            made.append(findings.assign(run=reported_by(findings, layers)))
        kept = [each for each in made if len(each)]
        return {"findings": pd.concat(kept, ignore_index=True) if kept else made[0]}
