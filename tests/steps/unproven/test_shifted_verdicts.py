"""The verdicts without a shift are those that the job gets by taking it off."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.design.applied_shifts import as_read, freed, taken_off
from geoqa.steps.unproven.shifted_verdicts import ShiftedVerdicts

SHIFT = np.array([0.03, -0.04, 0.05])


@pytest.mark.parametrize(
    ("check", "azimuth", "deviation", "left"),
    [
        ("elevation", 0.0, 0.08, 0.03),
        ("offset", 0.0, 0.08, 0.05),  # a line to the north: right is east
        ("offset", 90.0, 0.08, 0.04),  # a line to the east: right is south
        ("position", 90.0, 0.03, 0.04),  # 0.03 east of its place, less (0.03, -0.04)
        ("position", 180.0, 0.04, 0.03),
    ],
)
def test_each_number_is_freed_of_what_it_feels(check, azimuth, deviation, left):
    assert freed(check, np.array([deviation]), np.array([azimuth]), SHIFT) == pytest.approx([left])


def test_a_trial_takes_off_what_a_line_of_the_job_may_and_nothing_else(job):
    rows = {"session": ["A", "A", "B", "C"], "axis": ["easting", "elevation", "elevation", "elevation"],
            "shift": 0.05, "u": 0.01, "proven": [False, True, True, True],
            "u_applied": [np.nan, 0.02, np.nan, 0.02], "applied": [False, False, False, True]}  # fmt: skip
    layers = job.layers(shots=job.prepared(job.shots([{}])), session_shifts=pd.DataFrame(rows))
    assert taken_off(layers)["session_shifts"]["applied"].tolist() == [False, True, False, True]
    also = taken_off(layers, by_one_mark=True)["session_shifts"]
    assert also["applied"].tolist() == [False, True, True, True]
    assert also["u_applied"].tolist()[1:] == [0.02, 0.01, 0.02]
    assert not as_read(layers)["session_shifts"]["applied"].any()
    assert layers["session_shifts"]["applied"].tolist() == rows["applied"]
    none = job.layers(shots=layers["shots"], session_shifts=pd.DataFrame(rows).assign(proven=False))
    assert taken_off(none) is None
    assert not len(ShiftedVerdicts().run(none)["notes"])
