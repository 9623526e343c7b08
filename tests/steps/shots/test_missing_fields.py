"""What a log does not hold is counted, field by field; what it holds is not listed."""

import numpy as np
import pandas as pd
import pytest

from geoqa.steps.shots.missing_fields import MissingFields

FULL = {
    "correction_age": 1.0, "tilt": 2.0, "tilt_azimuth": 90.0, "rod_height": 6.562, "reported_h": 0.02,
    "reported_v": 0.03, "line_id": "S1", "sequence": 1,
}  # fmt: skip
FIELDS = (
    *FULL, "solution", "satellites", "pdop", "epochs", "time", "session", "initialization", "elevation", "code", "shot",
)  # fmt: skip


def listed(job, count=3, *, without=()):
    shots = job.shots([dict(FULL) for _ in range(count)])
    for field, rows in without:
        shots[field] = shots[field].mask(pd.Series(np.isin(np.arange(count), rows)))
    table = job.run(job.layers(shots=shots), MissingFields())["impossible_checks"]
    return table[["field", "shots", "of"]].to_numpy().tolist()


def test_a_log_that_holds_all_makes_an_empty_table(job):
    assert listed(job) == []


@pytest.mark.parametrize("field", FIELDS)
def test_a_field_that_some_shots_lack_is_listed_with_their_number(job, field):
    assert listed(job, without=[(field, [0, 2])]) == [[field, 2, 3]]


def test_the_field_that_most_shots_lack_comes_first(job):
    without = [("solution", [0]), ("tilt", [0, 1, 2]), ("time", [1, 2])]
    assert listed(job, without=without) == [["tilt", 3, 3], ["time", 2, 3], ["solution", 1, 3]]


def test_no_shots_lack_nothing(job):
    assert listed(job, 0) == []
