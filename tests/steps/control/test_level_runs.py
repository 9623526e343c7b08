"""Level runs as a step: adjusted, held against what is allowed, and given to the shots of the same name.

The numbers of the closed run are worked by hand beside the test.
"""

import numpy as np
import pandas as pd
import pytest

from geoqa.errors import SourceError
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import placed
from geoqa.steps.control.level_runs import LevelRuns

N = np.nan
NOTES = [("M1", 5.00, N, N, N), ("102", N, 6.00, N, 50.0), ("TP", 4.00, N, 3.00, 200.0), ("M2", N, N, 2.02, 100.0)]


def levels(notes, **more):
    columns = ["point", "backsight", "intermediate", "foresight", "distance"]
    table = pd.DataFrame(notes, columns=columns).assign(source="run1", line=range(2, len(notes) + 2), **more)
    return conform("levels", table)


def found(job, table, *, closure=0.10, setup_length=N, shots=None, stated=True):
    rule = {"source": "run1", "reference": "contract", "closure": closure, "sigma": closure / 1.96, "per": 5280.0}
    control = pd.DataFrame({"mark": ["M1", "M2"], "elevation": [100.0, 104.0], "u_v": [0.01, 0.03] if stated else N})
    control = control.assign(easting=job.origin[0], northing=job.origin[1], held=False, independent=True)
    control = placed("control", conform("control", control), job.frame)
    layers = job.layers(
        shots=job.shots(shots or [{}, {}]), levels=table, control=control,
        level_rules=conform("level_rules", pd.DataFrame([rule | {"setup_length": setup_length}])),
    )  # fmt: skip
    return job.run(layers, LevelRuns())


def test_a_closed_run_gives_its_point_an_elevation(job):
    """0.02 short over 300 ft; the side reading stands at M1, so 100 + 5 - 6 = 99, by 50 ft of sight."""
    layers = found(job, levels(NOTES))
    (part,) = layers["level_runs"].to_dict("records")
    assert part["misclosure"] == pytest.approx(-0.02)
    assert part["allowed"] == pytest.approx(0.10 * np.sqrt(300 / 5280))
    assert part["taken"]
    (point,) = layers["levelled"].to_dict("records")
    assert point["elevation"] == pytest.approx(99.0)
    assert point["u_random"] == pytest.approx(0.10 / 1.96 * np.sqrt(50 / 5280))
    assert point["u_common"] == pytest.approx(0.01)
    assert point["taken"]


def test_a_mark_of_unknown_worth_is_not_perfect(job):
    """0.03 ft is assumed, as everywhere else where a mark states no 1 sigma."""
    (point,) = found(job, levels(NOTES), stated=False)["levelled"].to_dict("records")
    assert point["u_common"] == pytest.approx(0.03)


def test_no_point_is_known_better_than_the_rod_was_read(job):
    """Two readings to 0.01, each uniform over its last digit: 0.01 / sqrt(12) * sqrt(2)."""
    notes = [NOTES[0], ("102", N, 6.00, N, 0.0), *NOTES[2:]]
    (point,) = found(job, levels(notes, resolution=0.01))["levelled"].to_dict("records")
    assert point["u_random"] == pytest.approx(0.01 / np.sqrt(6.0))


def test_a_side_reading_without_a_distance_is_as_far_as_half_a_set_up(job):
    notes = [NOTES[0], ("102", N, 6.00, N, N), *NOTES[2:]]
    (point,) = found(job, levels(notes))["levelled"].to_dict("records")
    assert point["u_random"] == pytest.approx(0.10 / 1.96 * np.sqrt(75 / 5280))


def test_a_run_beyond_what_is_allowed_is_told_and_not_taken(job):
    layers = found(job, levels(NOTES), closure=0.05)
    assert layers["notes"]["variant"].tolist() == ["over"]
    assert layers["levelled"]["taken"].tolist() == [False]


def test_an_open_end_is_told_and_not_taken(job):
    layers = found(job, levels(NOTES[:3]))
    assert layers["notes"]["variant"].tolist() == ["open"]
    assert not layers["levelled"]["taken"].any()


def test_a_name_that_two_shots_bear_is_told(job):
    layers = found(job, levels(NOTES), shots=({"shot": "102"}, {"shot": "102"}))
    assert not len(layers["levelled"])
    assert layers["notes"]["variant"].tolist() == ["closed", "several"]


def test_no_run_no_word(job):
    layers = found(job, empty("levels"))
    assert not len(layers["level_runs"]) + len(layers["levelled"]) + len(layers["notes"])


def test_reduced_elsewhere_each_has_its_own_u(job):
    table = levels([("101", N, N, N, N)]).assign(elevation=99.5, u_v=0.004)
    (point,) = found(job, table)["levelled"].to_dict("records")
    assert (point["elevation"], point["u_random"], point["u_common"]) == (99.5, 0.004, 0.0)


def test_a_set_up_length_of_the_job_stands_in(job):
    notes = [(*row[:4], N) for row in NOTES]
    with pytest.raises(SourceError, match="line 4: no distance, and no setup_length"):
        found(job, levels(notes))
    assert found(job, levels(notes), setup_length=150.0)["level_runs"]["length"].tolist() == [300.0]
