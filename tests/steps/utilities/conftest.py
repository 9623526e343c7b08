"""A small storm sewer: an inlet, two manholes and an outfall along the north axis, each pipe 100 ft or so."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform

U = {"u_v_random": 0.02, "u_v_common": 0.03, "u_h_random": 0.02, "u_h_common": 0.02}


class Sewer:
    """Builds layers with structures and pipes."""

    def __init__(self, job):
        self.job = job

    def rims(self, *rows, **columns):
        """Shots of rims as (name, offset, station, elevation)."""
        shots = [
            {"shot": name, "offset": off, "station": at, "elevation": level, "code": "RIM"}
            for name, off, at, level in rows
        ]
        return self.job.prepared(self.job.shots(shots), **{"kind": "rim", **U, **columns})

    @staticmethod
    def notes(*rows, **columns):
        """Ends as (structure, pipe, direction, measure-down[, more columns])."""
        table = []
        for line, (structure, pipe, way, down, *more) in enumerate(rows, start=2):
            row = {"source": "notes", "line": line, "structure": structure, "pipe": pipe, "direction": way}
            table.append(row | {"measure_down": down} | (more[0] if more else {}))
        made = pd.DataFrame(table).assign(**columns)
        return conform("structure_notes", made)

    def design(self, **lines):
        """Pipes as name = (kind, start (offset, station, invert), end (the same))."""
        origin = self.job.origin
        table, elements = [], []
        for name, (kind, start, end) in lines.items():
            table.append({"line": name, "kind": kind, "source": "design"})
            element = {"line": name, "sequence": 0, "shape": "line", "sense": 0, "start_station": 0.0}
            for tip, place in (("start", start), ("end", end)):
                element |= {f"{tip}_easting": origin[0] + place[0], f"{tip}_northing": origin[1] + place[1]}
                element[f"{tip}_elevation"] = place[2]
            elements.append(element | {"length": float(np.hypot(end[0] - start[0], end[1] - start[1]))})
        return {
            "design_lines": conform("design_lines", pd.DataFrame(table)),
            "design_elements": conform("design_elements", pd.DataFrame(elements)),
        }

    def done(self, shots, notes, *steps, limits=(), **tables):
        layers = self.job.layers(shots=shots, structure_notes=notes, limits=self.job.limits(*limits), **tables)
        return self.job.run(layers, *steps)

    @staticmethod
    def told(layers, check):
        """Verdict and reason of a check, by subject."""
        rows = layers["findings"]
        rows = rows[rows["check"] == check]
        return {
            name: (verdict, why)
            for name, verdict, why in zip(rows["subject"], rows["verdict"], rows["why"], strict=True)
        }


@pytest.fixture
def sewer(job):
    return Sewer(job)


@pytest.fixture
def storm(sewer):
    """IN-1 to MH-1 to MH-2 as designed: 20 ft at 1 %, 251 ft at 0.40 %, and their notes as built."""
    design = sewer.design(
        P1=("storm-pipe", (16.0, 0.0, 1451.40), (-4.0, 0.0, 1451.20)),
        P2=("storm-pipe", (-4.0, 0.0, 1451.10), (-4.0, 251.0, 1450.096)),
    )
    shots = sewer.rims(("IN-1", 16.0, 0.0, 1455.87), ("MH-1", -4.0, 0.0, 1456.19), ("MH-2", -4.0, 251.0, 1457.22))
    rows = [
        ("IN-1", "P1", "out", 4.47),
        ("MH-1", "P1", "in", 4.99),
        ("MH-1", "P2", "out", 5.09),
        ("MH-2", "P2", "in", 7.124),
    ]
    return design, shots, rows
