"""Curves of the design that are drawn in chords, and which of the two is the design."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.errors import StepError
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.design.arc_offsets import drawn_in_chords
from geoqa.steps.shots.flags import noted


class ChordedCurves(Step):
    """Find curves that are drawn in chords: equal chords and angles, vertices on one circle.

    The true arc runs outside of its chords, by the middle ordinate where it is farthest. The chords are what was
    drawn, and so they are judged; but while the job does not say which of the two is the design, an offset is in or out
    only where chord and arc say the same. A curve whose middle ordinate is below a hundredth of a foot is no matter.
    """

    name = "chorded-curves"
    needs = ("design_lines", "design_elements")
    gives = ("chorded_curves",)
    adds = ("notes",)

    arcs: tuple[str, ...] = Field((), description='Lines whose arcs are the design, by name; "*" for all others')
    chords: tuple[str, ...] = Field((), description='Lines whose chords are the design; "*" for all others')

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A row a curve, a note a line."""
        lines = layers["design_lines"]
        self._refuse_strange(set(lines["line"]))
        if not len(layers["design_elements"]):
            return {"chorded_curves": empty("chorded_curves"), "notes": empty("notes")}
        design, curves = alignments(layers), drawn_in_chords(layers).curves
        names = pd.Series(design.names[curves.line], dtype="str")
        table = pd.DataFrame(
            {
                "line": names, "start_station": curves.start_station, "end_station": curves.end_station,
                "radius": curves.radius, "chord": curves.chord, "ordinate": curves.ordinate,
                "chords": (curves.last - curves.first + 1).astype(np.int64),
                "design_is": names.map(self._design_is),
            }
        )  # fmt: skip
        return {"chorded_curves": conform("chorded_curves", table), "notes": noted(self.name, self._facts(table))}

    def _design_is(self, line: str) -> str:
        """What the job says of a line; empty where it says nothing."""
        for word, named in (("arc", self.arcs), ("chords", self.chords)):
            if line in named:
                return word
        return "arc" if "*" in self.arcs else ("chords" if "*" in self.chords else "")

    def _facts(self, table: pd.DataFrame) -> list[dict[str, object]]:
        """The widest curve of each line stands for it; what the job calls chords is no doubt."""
        told = table[table["design_is"] != "chords"]
        order = told.sort_values(["line", "ordinate"], ascending=[True, False], kind="stable")
        count = told.groupby("line").size()
        return [
            {
                "note": "chorded-curve", "variant": row["design_is"] or "open", "subject": row["line"], "unit": "job",
                "number": row["ordinate"], "second": row["chord"], "third": row["radius"],
                "count": int(count[row["line"]]),
            }
            for row in order.drop_duplicates("line").to_dict("records")
        ]  # fmt: skip

    def _refuse_strange(self, lines: set[str]) -> None:
        for line in (*self.arcs, *self.chords):
            if line not in lines | {"*"}:
                raise StepError(f"Step '{self.name}': there is no design line '{line}'; name lines as the design does.")
        if both := sorted(set(self.arcs) & set(self.chords)):
            raise StepError(f"Step '{self.name}': '{both[0]}' stands under arcs and under chords; the design is one.")
