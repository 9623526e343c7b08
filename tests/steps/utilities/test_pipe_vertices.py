"""How each vertex of a pipe is known; marks and measurements of one pipe are two lines."""

import numpy as np
import pandas as pd

from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.pipe_vertices import PipeVertices

CODES = conform(
    "codes",
    pd.DataFrame(
        [
            {"code": "WTP", "kind": "water-top", "geometry": "line", "role": "feature", "known_by": "exposed"},
            {"code": "WMK", "kind": "water-top", "geometry": "line", "role": "feature", "known_by": "mark"},
        ]
    ),
)


def test_a_mixed_line_is_split_and_said(job):
    rows = [
        {"station": 20.0 * n, "code": code, "line_id": "W-1", "time": pd.Timestamp(2026, 3, 14, 14, n, tz="UTC")}
        for n, code in enumerate(("WTP", "WTP", "WMK", "WTP", "WMK"))
    ]
    layers = job.layers(
        shots=job.prepared(job.shots(rows), kind="water-top"), codes=CODES,
        limits=job.limits(("water-top", "cover", 7.0, np.inf)),
    )  # fmt: skip
    done = job.run(layers, PipeVertices())
    assert job.told(done, "known-levels") == {"103": ("NO_DATA", "several-levels")}
    assert done["findings"]["label"].tolist() == ["3 shots, exposed; 2 shots, mark; kept apart"]
    table = done["pipe_vertices"]
    for measured, names in ((True, ["101", "102", "104"]), (False, ["103", "105"])):
        mine = table[table["measured"] == measured].sort_values("sequence")
        assert mine["shot_key"].str.removeprefix("day1/").tolist() == names


def test_ends_that_were_measured_down_say_so(sewer, storm):
    design, shots, rows = storm
    table = sewer.done(shots, sewer.notes(*rows), PipeVertices(), **design)["pipe_vertices"]
    assert set(table["known_by"]) == {"measure-down"}
    assert sorted(table["pipe"]) == ["P1", "P1", "P2", "P2"]
    assert not len(sewer.done(shots, sewer.notes(*rows), PipeVertices(), **design)["findings"])


def test_a_pipe_that_was_shot_again_is_a_line_for_each_pass(job):
    """The second day begins at the other end, and numbers its shots from 1 as the first did."""
    rows = [
        {"station": 20.0 * at, "offset": 0.05 * day, "code": "WTP", "line_id": "W-1", "sequence": nth + 1,
         "source": f"day{day}", "shot": f"{day}{nth}", "session": f"day {day}",
         "time": pd.Timestamp(2026, 3, 14 + day, 14, nth, tz="UTC")}
        for day, along in enumerate((range(5), range(4, -1, -1))) for nth, at in enumerate(along)
    ]  # fmt: skip
    layers = job.layers(shots=job.prepared(job.shots(rows), kind="water-top"), codes=CODES)
    table = job.run(layers, PipeVertices())["pipe_vertices"]
    for pipe, day in (("W-1", 0), ("W-1, second pass", 1)):
        mine = table[table["pipe"] == pipe].sort_values("sequence")
        assert mine["shot_key"].tolist() == [f"day{day}/{day}{nth}" for nth in range(5)]
    assert len(table) == 10


def test_a_pipe_of_two_codes_keeps_the_order_of_its_shots(job):
    """Some of it exposed, some measured down: one pipe, whose shots stand in turn."""
    down = CODES.assign(known_by=CODES["known_by"].replace({"mark": "measure-down"}))
    rows = [
        {"station": 20.0 * n, "code": ("WTP", "WMK")[n % 2], "line_id": "W-1", "sequence": n + 1, "shot": str(n)}
        for n in range(6)
    ]
    layers = job.layers(shots=job.prepared(job.shots(rows), kind="water-top"), codes=down)
    table = job.run(layers, PipeVertices())["pipe_vertices"].sort_values("sequence")
    assert table["shot_key"].tolist() == [f"day1/{n}" for n in range(6)]
