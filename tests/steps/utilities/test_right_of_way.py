"""Features in the right of way that was supplied: distances to its lines, arcs among them, and no boundary opinion."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.right_of_way import RightOfWay

SAID = conform("right_of_way", pd.DataFrame([{"source": "row", "reference": "Plat 12, the licensee"}]))


def area(job, *legs):
    """Legs as (start, end[, centre, sense]) from the origin."""
    rows, at = [], 0.0
    for number, (start, end, *arc) in enumerate(legs):
        row = {"line": "R", "sequence": number, "shape": "arc" if arc else "line", "start_station": at}
        for tip, place in (("start", start), ("end", end)):
            row |= {f"{tip}_easting": job.origin[0] + place[0], f"{tip}_northing": job.origin[1] + place[1]}
        length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
        if arc:
            centre, _ = arc
            radius = float(np.hypot(start[0] - centre[0], start[1] - centre[1]))
            row |= {"centre_easting": job.origin[0] + centre[0], "centre_northing": job.origin[1] + centre[1]}
            row |= {"radius": radius}
            length = radius * np.pi / 2
        row |= {"sense": arc[1] if arc else 0, "length": length}
        rows.append(row)
        at += length
    lines = pd.DataFrame([{"line": "R", "kind": "right-of-way", "source": "row"}])
    return {
        "design_lines": conform("design_lines", lines),
        "design_elements": conform("design_elements", pd.DataFrame(rows)),
    }


def square(job, *, closed=True):
    corners = [(0, 0), (0, 100), (60, 100), (60, 0), (0, 0)]
    legs = list(pairwise(corners))
    return area(job, *(legs if closed else legs[:-1]))


def run(job, rows, lines, **columns):
    shots = job.prepared(job.shots(rows), **{"kind": "hydrant", "u_h_random": 0.02, "u_h_common": 0.015, **columns})
    layers = job.layers(shots=shots, limits=job.limits(), right_of_way=SAID, **lines)
    return job.run(layers, RightOfWay(kinds=("hydrant",)))


def test_inside_outside_and_undecided(job):
    rows = [{"offset": e, "station": n} for e, n in ((5.0, 50.0), (-0.2, 50.0), (59.98, 50.0), (62.0, 102.0))]
    done = run(job, rows, square(job))
    assert job.told(done, "right-of-way") == {
        "101": ("IN", "proven"), "102": ("OUT", "proven"), "103": ("UNDECIDED", "near-limit"), "104": ("OUT", "proven"),
    }  # fmt: skip
    table = done["findings"].set_index("shot")
    assert table["measured"].tolist() == pytest.approx([5.0, -0.2, 0.02, -np.hypot(2, 2)], abs=0.005)
    assert table["u"].tolist() == pytest.approx([0.025] * 4)
    assert set(table["reference"]) == {"Plat 12, the licensee"}
    assert table["label"].str.contains("no boundary opinion").all()


def test_an_arc_stays_an_arc(job):
    """A quarter circle of 100 ft about (0, 0) from (0, 100) to (100, 0): a shot at 99 ft along its middle is inside."""
    lines = area(job, ((0, 0), (0, 100)), ((0, 100), (100, 0), (0, 0), 1), ((100, 0), (0, 0)))
    middle = np.sqrt(0.5)
    done = run(
        job, [{"offset": 99 * middle, "station": 99 * middle}, {"offset": 101 * middle, "station": 101 * middle}], lines
    )
    assert done["findings"]["measured"].tolist() == pytest.approx([1.0, -1.0], abs=0.02)
    assert list(job.told(done, "right-of-way").values()) == [("IN", "proven"), ("OUT", "proven")]


def test_lines_that_do_not_close_bound_nothing(job):
    done = run(job, [{"offset": 5.0, "station": 50.0}], square(job, closed=False))
    assert job.told(done, "right-of-way") == {"101": ("NO_DATA", "not-closed")}


def test_without_a_polygon_nothing_is_asked(job):
    layers = job.layers(shots=job.prepared(job.shots([{}]), kind="hydrant"), limits=job.limits(), **square(job))
    assert not len(job.run(layers, RightOfWay(kinds=("hydrant",)))["findings"])
