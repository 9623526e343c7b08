"""A kind of which one shot decides too little is said once, with what would decide its numbers."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.unproven.undecided import Undecided

LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.06, 0.06)]
RISES = [0.0, 0.01, -0.03, 0.05, 0.09, 0.30]


def told(job, rises=RISES, limits=LIMITS, **tables):
    rows = [{"station": 50.0 + 60 * n, "elevation": 100.0 + rise} for n, rise in enumerate(rises)]
    shots = job.prepared(job.shots(rows))
    start = job.layers(
        shots=shots, limits=job.limits(*limits), **tables, **job.design({"A": ("curb-top", 0.0, 0, 900)})
    )
    return job.run(start, MatchLines(), OnePlace(), Offsets(), Elevations(), Undecided())


def test_one_line_a_kind_counts_what_is_open_and_what_would_decide_it(job):
    made = told(job)
    notes = made["notes"]
    assert notes["note"].unique().tolist() == ["undecided"]
    assert notes[["subject", "place"]].drop_duplicates().to_numpy().tolist() == [["curb-top", "elevation"]]
    first = notes.iloc[0]
    # u 0.0283; at 0.0119 the tails are 0.0445 and 0.0055, so that is IN; a perfect place is read within it in 33 of 100
    assert first["second"] == pytest.approx(0.327, abs=0.003)
    assert first["number"] == pytest.approx(np.hypot(0.02, 0.02))
    assert (first["count"], first["total"]) == (2, 1)
    ways = notes.iloc[1:].set_index("variant")["count"]
    assert ways.index.tolist() == ["again", "better"]
    assert 1 <= ways["again"] <= ways["better"] <= 3
    (line,) = note_lines(notes, "ft")
    assert "3 numbers undecided, 1 of them beyond the limit" in line
    again, better = ways["again"], ways["better"]
    assert f"of these 3, a second session would decide about {again}, a level reading about {better}." in line
    assert len(line) <= 200


def test_nothing_is_said_where_most_perfect_work_is_decided_or_nothing_is_open(job):
    assert len(told(job, limits=[*LIMITS[:1], ("curb-top", "elevation", -0.09, 0.09)])["notes"]) == 0
    assert len(told(job, rises=[0.0, 0.3])["notes"]) == 0
    assert len(told(job, limits=[("curb-top", "elevation", -0.06, 0.06, "simple")])["notes"]) == 0


def test_the_shift_of_a_session_is_told_first_where_checks_know_it_well(job):
    shifts = pd.DataFrame(
        [{"session": "A", "axis": axis, "shift": shift, "u": 0.004, "dof": 30.0, "proven": True}
         for axis, shift in (("easting", 0.0), ("northing", 0.0), ("elevation", 0.03))]
    )  # fmt: skip
    notes = told(job, session_shifts=shifts)["notes"]
    assert notes["variant"].tolist()[1] == "shift"
    # without 0.03 and with 0.0204: 0.05 is 0.02 and IN; 0.09 is 0.06 and stays open; -0.03 is -0.06 and stays open
    assert notes.set_index("variant").loc["shift", "count"] == 1
    worse = told(job, session_shifts=shifts.assign(u=0.05))["notes"]
    assert "shift" not in set(worse["variant"])
