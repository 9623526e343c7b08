"""The limits of work: what design lies beyond them, so that it is listed and not missed."""

from typing import Any

import numpy as np
import pandas as pd
import shapely
from pydantic import Field

from geoqa.errors import StepError
from geoqa.kernels.design.spans import Spans, outside_of, spans_of
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import Alignments, alignments
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.shots.flags import noted

KIND = words.LIMITS_OF_WORK
LISTED = 8
"""Shots that are named; the count is always complete."""


class LimitsOfWork(Step):
    """List the design that lies beyond the limits of work, and count the shots there.

    The limits are an area, drawn by closed lines or polygons of the kind `limits-of-work` in a design file, or
    stretches of named lines by station, or both. Without them all of the design counts. Design beyond them is asked
    for no evidence; a shot beyond them is judged as any other.
    """

    name = "limits-of-work"
    needs = ("design_lines", "design_elements", "design_points", "shots.kind", "shots.role")
    gives = ("beyond_limits",)
    adds = ("notes",)

    stations: dict[str, tuple[tuple[Length, Length], ...]] = Field(
        default_factory=dict,
        description='Stretches of named lines within the limits, e.g. { "CTB-L" = [["100 ft", "450 ft"]] }; lines that '
        "are not named are bounded by the area alone",
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """A row for each stretch of a line, and each point, beyond the limits; one note."""
        design, unit = alignments(layers), layers.frame.unit
        area = _area(layers, design)
        ranges = self._ranges(design, layers)
        if area is None and not self.stations:
            return {"beyond_limits": empty("beyond_limits"), "notes": empty("notes")}
        least = Length.parse("0.01 ft").to(unit)
        beyond = spans_of([]) if area is None else outside_of(design.elements, area, least=least)
        rows = [*zip(*(each.tolist() for each in beyond), strict=True), *ranges]
        whole = _merged(spans_of([row for row in rows if design.kinds[row[0]] != KIND]))
        lines = pd.DataFrame(
            {
                "design": design.names[whole.line], "kind": design.kinds[whole.line], "shape": "line",
                "start_station": whole.start, "end_station": whole.end, "length": whole.end - whole.start,
            }
        )  # fmt: skip
        points = layers["design_points"]
        spots = points[_out(points, area)]
        spots = pd.DataFrame({"design": spots["point"], "kind": spots["kind"], "shape": "point"})
        table = pd.concat([each for each in (lines, spots) if len(each)] or [lines], ignore_index=True)
        shots = _shots_beyond(layers, design, area, whole)
        fact = {
            "note": "limits-of-work", "count": lines["design"].nunique(), "total": len(spots), "unit": "job",
            "number": float(lines["length"].sum()), "second": float(len(shots)),
            "written": ", ".join(shots[:LISTED]) + (f" and {len(shots) - LISTED} more" if len(shots) > LISTED else ""),
        }  # fmt: skip
        return {"beyond_limits": conform("beyond_limits", table), "notes": noted(self.name, [fact])}

    def _ranges(self, design: Alignments, layers: Layers) -> list[tuple[int, float, float]]:
        """Stretches of the named lines that no range holds."""
        unit, made = layers.frame.unit, []
        for name, ranges in sorted(self.stations.items()):
            (number,) = rows_of(pd.Series([name], dtype="str"), design.names)
            if number < 0:
                raise StepError(f"Step '{self.name}': there is no design line '{name}'; name lines as the design does.")
            at = float(design.start[number])
            for one, other in sorted((one.to(unit), other.to(unit)) for one, other in ranges):
                if not other > one:
                    raise StepError(f"Step '{self.name}', line '{name}': a stretch must end after its start.")
                made.append((int(number), at, min(one, float(design.end[number]))))
                at = max(at, other)
            made.append((int(number), at, float(design.end[number])))
        return made


def _area(layers: Layers, design: Alignments) -> Any:
    """The area that closed lines of the kind bound, one within another as a hole; None where there are none."""
    names = design.names[design.kinds == KIND]
    if not len(names):
        return None
    numbers = np.flatnonzero(design.kinds == KIND)
    rings = []
    for name, drawn in zip(names, design.pieces(numbers, design.start[numbers], design.end[numbers]), strict=True):
        places = shapely.get_coordinates(drawn)
        if len(places) < 4 or np.hypot(*(places[0] - places[-1])) > Length.parse("0.5 ft").to(layers.frame.unit):
            raise StepError(
                f"Design line '{name}' of kind {KIND} is not closed, so it bounds no area; close it, or give it "
                "another kind."
            )
        rings.append(shapely.make_valid(shapely.polygons([*places[:-1], places[0]])))
    area = rings[0]
    for ring in rings[1:]:
        area = shapely.symmetric_difference(area, ring)
    return area


def _out(places: pd.DataFrame, area: Any) -> np.ndarray:
    """Places with a position that lie outside of an area, shape (n,)."""
    at = places[["easting", "northing"]].to_numpy(float)
    there = np.isfinite(at).all(axis=1)
    out = np.zeros(len(places), dtype=bool)
    if area is not None:
        out[there] = ~shapely.covers(area, shapely.points(at[there]))
    return out


def _merged(spans: Spans) -> Spans:
    rows: list[tuple[int, float, float]] = []
    for line, start, end in zip(*(each.tolist() for each in spans), strict=True):
        if rows and rows[-1][0] == line and start <= rows[-1][2]:
            rows[-1] = (line, rows[-1][1], max(end, rows[-1][2]))
        else:
            rows.append((line, start, end))
    return spans_of(rows)


def _shots_beyond(layers: Layers, design: Alignments, area: Any, beyond: Spans) -> list[str]:
    """Names of feature shots outside of the area, or matched to a line where it lies beyond the limits."""
    shots = layers["shots"]
    out = _out(shots, area)
    if "line_matches" in layers and len(beyond.line):
        matches = layers["line_matches"]
        matches = matches[matches["chosen"]]
        line, station = rows_of(matches["design"], design.names), matches["station"].to_numpy(float)
        hit = np.zeros(len(matches), dtype=bool)
        for number, start, end in zip(*(each.tolist() for each in beyond), strict=True):
            hit |= (line == number) & (station > start) & (station < end)
        out[rows_of(matches["shot_key"][hit], shots["shot_key"])] = True
    out &= (shots["role"] == "feature").to_numpy(bool)
    return shots["shot"].where(shots["shot"].notna(), shots["shot_key"])[out].tolist()
