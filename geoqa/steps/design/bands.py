"""Tolerance bands beside design lines, for drawing only."""

import numpy as np
import pandas as pd

from geoqa.contract.work import OFFSET
from geoqa.kernels.design.band import bands
from geoqa.kernels.design.elements import line_table
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers, shaped
from geoqa.steps.design.alignments import alignments
from geoqa.steps.design.arc_offsets import design_elements
from geoqa.steps.judging.findings import with_limits


class Bands(Step):
    """Draw the area within the limits of the offset beside each design line."""

    name = "bands"
    needs = ("design_lines", "design_elements", "limits")
    wants = ("chorded_curves",)
    gives = ("bands",)

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One band a line and rule set, where both sides have a limit."""
        design, elements, limits = alignments(layers), design_elements(layers), layers["limits"]
        drawn_lines = line_table(design.elements).line
        lines = pd.DataFrame({"kind": design.kinds[drawn_lines], "line": design.names[drawn_lines]})
        rows = with_limits(lines.assign(nth=np.arange(len(lines))), limits, check=OFFSET)
        place = rows["limit"].to_numpy()
        table = rows[["kind", "line", "nth"]].assign(
            **{
                name: np.where(place >= 0, limits[name].to_numpy(float)[place], np.nan) if len(limits) else np.nan
                for name in ("lower", "upper")
            },
            reference=limits["reference"].array.take(place, allow_fill=True),
        )
        table = table[np.isfinite(table["lower"]) & np.isfinite(table["upper"])].reset_index(drop=True)
        shapes = np.full(len(table), None, dtype=object)
        # lines share one pair of arrays, so each rule set of a line is drawn in a round of its own
        again = table.groupby("line").cumcount()
        for turn in range(int(again.max()) + 1 if len(again) else 0):
            mine = np.flatnonzero(again == turn)
            left, right = np.full((2, len(lines)), np.nan)
            left[table["nth"].iloc[mine]] = np.maximum(-table["lower"].to_numpy()[mine], 0.0)
            right[table["nth"].iloc[mine]] = np.maximum(table["upper"].to_numpy()[mine], 0.0)
            shapes[mine] = np.array(bands(elements, left, right), dtype=object)[table["nth"].iloc[mine]]
        return {"bands": shaped(conform("bands", table.drop(columns="nth")), shapes, layers.frame)}
