"""Both ends of every gap along the baseline of the job."""

from typing import ClassVar

import numpy as np
import pandas as pd

from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.baseline.centre_line import TABLES, along, centre_line, stretch_columns
from geoqa.steps.baseline.stretches import ends_on_design


class GapStations(Step):
    """Give every gap of the evidence its stretch along the baseline."""

    name: ClassVar[str] = "gap-stations"
    only_with: ClassVar[tuple[str, ...]] = ("baseline",)
    needs: ClassVar[tuple[str, ...]] = ("gaps", "design_lines", "design_elements", *TABLES)
    extends: ClassVar[tuple[str, ...]] = (
        "gaps.baseline_station",
        "gaps.baseline_station_end",
        "gaps.baseline_offset",
        "gaps.baseline_equation",
        "gaps.baseline_place",
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Project both ends of every gap on the baseline."""
        line, gaps = centre_line(layers), layers["gaps"]
        start, end, long = ends_on_design(layers, gaps, "line")
        first, last = (along(line, *place, reach=np.inf) for place in (start, end))
        return {"gaps": stretch_columns(line, first, last, long, gaps.index)}
