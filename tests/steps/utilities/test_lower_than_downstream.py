"""No point of a pipe lower than one downstream: standing water along its top, in the pipe and through structures."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.drainage.gutters import Gutters
from geoqa.steps.utilities.pipes import Pipes
from geoqa.steps.utilities.structures import Structures

STATIONS = np.arange(0.0, 301.0, 25.0)
START = pd.Timestamp("2026-03-14 14:00", tz="UTC")


def told(level, *, limit=0.05, seed=0, noise=0.0, walked=1):
    """A pipe that falls by 0.4 % towards its beginning, shot along its top; limit on the water that stands in it."""
    z = np.asarray(level) + noise * np.random.default_rng(seed).normal(size=len(STATIONS))
    rows = [
        {"code": "STP", "line_id": "STP1", "sequence": nth, "station": float(at), "elevation": float(high),
         "offset": 0.0, "time": START + pd.Timedelta(hours=int(nth))}
        for nth, (at, high) in enumerate(list(zip(STATIONS, z, strict=True))[::walked])
    ]  # fmt: skip
    shots = testing.judged_shots(rows).assign(kind="storm-top")
    whole = testing.design({"P1": ("storm-top", 0.0, 0.0, 300.0)})
    whole["design_elements"][["start_elevation", "end_elevation"]] = [100.0, 101.2]
    limits = testing.limits(("storm-top", "ponding", -np.inf, limit), ("storm-top", "coverage", -np.inf, 30.0))
    findings = testing.run(testing.layers(shots=shots, limits=limits, **whole), MatchLines(), Gutters())["findings"]
    return findings[findings["check"] == "ponding"]


def even():
    return 100 + 0.004 * STATIONS


@pytest.mark.parametrize("walked", [1, -1])
def test_a_point_lower_than_the_next_downstream_is_told_with_what_stands_there(walked):
    """At 1+50 the top lies 0.40 low: 100.20, and 1+25 downstream at 100.50 holds 0.30 of water back."""
    (row,) = told(even() - 0.40 * (STATIONS == 150), walked=walked).to_dict("records")
    assert (row["verdict"], row["why"]) == ("OUT", "proven")
    assert row["deviation"] == pytest.approx(0.30)
    assert row["label"] == "low point at 1+50.00"


@pytest.mark.parametrize("seed", range(5))
def test_an_even_fall_holds_nothing_whatever_the_noise_of_the_shots(seed):
    found = told(even(), noise=0.02, seed=seed)
    assert "OUT" not in set(found["verdict"])


@pytest.mark.long
def test_uphill_through_a_structure_and_in_a_pipe_is_out_without_a_tolerance(sewer, storm):
    """The lower pipe leaves MH-1 0.40 ft above the one that enters, and P2 rises: each is held to 0."""
    design, shots, rows = storm
    wrong = [*rows[:2], ("MH-1", "P2", "out", 4.59), ("MH-2", "P2", "in", 5.0)]
    done = sewer.done(shots, sewer.notes(*wrong), Structures(), Pipes(), **design)
    assert sewer.told(done, "structure-drop")["MH-1"] == ("OUT", "proven")
    assert sewer.told(done, "pipe-slope")["P2"] == ("OUT", "proven")
