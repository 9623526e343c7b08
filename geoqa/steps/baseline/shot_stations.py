"""Station and offset of every shot along the baseline of the job."""

from typing import Any, ClassVar

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.baseline.centre_line import TABLES, along, centre_line, point_columns
from geoqa.steps.shots.flags import noted


class ShotStations(Step):
    """Give every shot its station and offset along the baseline; those that have none are counted with the reason."""

    name: ClassVar[str] = "shot-stations"
    only_with: ClassVar[tuple[str, ...]] = ("baseline",)
    needs: ClassVar[tuple[str, ...]] = ("shots", *TABLES)
    extends: ClassVar[tuple[str, ...]] = (
        "shots.baseline_station",
        "shots.baseline_offset",
        "shots.baseline_equation",
        "shots.baseline_place",
    )
    adds: ClassVar[tuple[str, ...]] = ("notes",)

    reach: Length | None = Field(
        None, description="Farthest a shot may lie from the baseline; without it, any distance."
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Project every shot on the baseline."""
        line, shots = centre_line(layers), layers["shots"]
        reach = np.inf if self.reach is None else self.reach.to(layers.frame.unit)
        found = along(line, shots["easting"], shots["northing"], reach=reach)
        facts: list[dict[str, Any]] = []
        reasons = pd.Series(found.why, dtype="object")
        for why, count in reasons[reasons.notna() & (reasons != "")].value_counts(sort=False).sort_index().items():
            facts.append(
                {"note": "no-station", "subject": line.name, "written": why, "count": int(count), "total": len(shots)}
            )
        if line.left_out:
            facts.append({"note": "not-used", "subject": line.name, "written": line.left_out})
        return {"shots": point_columns(line, found, shots.index), "notes": noted(self.name, facts)}
