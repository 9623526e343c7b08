"""What shots measured, as numbers of several of them take it."""

import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.linework.observed import observed


def test_a_shift_that_the_job_applies_is_taken_off_and_its_u_is_shared(job):
    shots = job.prepared(job.shots([{"elevation": 100.1, "session": "A"}, {"elevation": 100.0, "session": "B"}]))
    row = {"session": "A", "axis": "elevation", "shift": 0.1, "u": 0.02, "u_applied": 0.013, "applied": True,
           "shots": 4, "marks": 4, "tests": 6, "proven": True}  # fmt: skip
    layers = job.layers(shots=shots, limits=job.limits(), session_shifts=conform("session_shifts", pd.DataFrame([row])))
    made = observed(layers)
    assert made["elevation"].tolist() == pytest.approx([100.0, 100.0])
    assert made["u_v_common"].tolist() == pytest.approx([0.013, 0.02])
    assert made["easting"].tolist() == shots["easting"].tolist()


def test_a_levelled_elevation_stands_for_that_of_the_shot(job):
    shots = job.prepared(job.shots([{"elevation": 0.0}, {"elevation": 100.0}]))
    row = {"shot_key": "day1/101", "source": "run 1", "elevation": 99.5, "u_random": 0.004, "u_common": 0.01,
           "taken": True}  # fmt: skip
    made = observed(job.layers(shots=shots, limits=job.limits(), levelled=conform("levelled", pd.DataFrame([row]))))
    assert made["elevation"].tolist() == [99.5, 100.0]
    assert made["u_v_random"].tolist() == pytest.approx([0.004, 0.02])
    assert made["group_v"].nunique() == 2
    assert made["group_h"].nunique() == 1


def test_checks_on_marks_are_no_features(job):
    shots = job.prepared(job.shots([{}, {}]), role=["feature", "check"])
    assert observed(job.layers(shots=shots, limits=job.limits()))["name"].tolist() == ["101"]


def test_a_row_that_is_listed_again_is_no_other_shot(job):
    """A file sent a second time makes no number, and none that is missing."""
    shots = job.prepared(job.shots([{}, {}]), use=[True, False], flags=["", "row-twice"])
    assert observed(job.layers(shots=shots, limits=job.limits()))["name"].tolist() == ["101"]
