"""Station and offset of every finding along the baseline of the job."""

from typing import ClassVar

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.baseline.centre_line import TABLES, Along, along, centre_line, stretch_columns
from geoqa.steps.baseline.member_reach import ends_of_members
from geoqa.steps.baseline.stretches import ends_on_design


class FindingStations(Step):
    """Give every finding its place along the baseline: a point its station and offset, a stretch both its ends.

    A finding of several shots that names no stretch of a design line reaches from the first to the last of them.
    """

    name: ClassVar[str] = "finding-stations"
    only_with: ClassVar[tuple[str, ...]] = ("baseline",)
    needs: ClassVar[tuple[str, ...]] = ("findings", "evidence", "shots.use", "design_lines", "design_elements", *TABLES)
    extends: ClassVar[tuple[str, ...]] = (
        "findings.baseline_station",
        "findings.baseline_station_end",
        "findings.baseline_offset",
        "findings.baseline_equation",
        "findings.baseline_place",
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Project every finding on the baseline."""
        line, findings = centre_line(layers), layers["findings"]
        somewhere = ~_of_many(findings)
        point = along(line, findings["easting"].where(somewhere), findings["northing"].where(somewhere), reach=np.inf)
        *ends, long = ends_on_design(layers, findings, "subject")
        first, last = (along(line, *place, reach=np.inf) for place in ends)
        head, tail, several = ends_of_members(line, layers, findings)
        several &= ~long & somewhere
        begin = _first_that_holds((long, first), (several, head), otherwise=point)
        behind = _first_that_holds((several, tail), otherwise=last)
        return {"findings": stretch_columns(line, begin, behind, long | several, findings.index)}


def _first_that_holds(*given: tuple[np.ndarray, Along], otherwise: Along) -> Along:
    holds, parts = [each[0] for each in given], [each[1] for each in given]
    return Along(
        **{
            name: np.select(holds, [getattr(each, name) for each in parts], getattr(otherwise, name))
            for name in ("station", "offset", "why")
        }
    )


def _of_many(findings: pd.DataFrame) -> np.ndarray:
    """Findings of the survey that are about no one shot: a session or a file lies at no place of the line."""
    survey = findings["check"].map({name: check_named(name).subject == "survey" for name in set(findings["check"])})
    return (survey.astype(bool) & findings["shot"].isna()).to_numpy(bool)
