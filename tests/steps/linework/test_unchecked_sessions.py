"""Sessions that no check shot tells of, between whose shots and those of others the whole of a shift may lie."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import observed

EACH = 4
"""Shots of a session on each line."""
BUILT = [0.004, -0.006, 0.002, -0.001]


def layers_of(job, high, *, aside=0.0, lines=3, checked=("A",)):
    """Session A on the design, session B `high` above it and `aside` east of it, on as many lines each."""
    rows, matches = [], []
    for session, up, east in (("A", 0.0, 0.0), ("B", high, aside)):
        for line in range(lines):
            for place in range(EACH):
                rise = up + BUILT[(place + line) % EACH]
                rows.append({"session": session, "elevation": 100.0 + rise, "offset": line * 10 + east,
                             "station": 20.0 * place})  # fmt: skip
                across = {"azimuth": 90.0 * (line % 2), "offset": east * (line % 2 == 0), "along": 0.0}
                match = {"design": f"{session} {line}", "chosen": True, "ambiguous": False, "design_elevation": 100.0}
                matches.append(match | across)
    shots = job.prepared(job.shots(rows))
    table = conform("line_matches", pd.DataFrame(matches).assign(shot_key=shots["shot_key"]))
    row = {"shift": 0.0, "u": 0.01, "u_applied": np.nan, "applied": False, "shots": 4, "marks": 4, "tests": 3,
           "proven": False}  # fmt: skip
    rows = [row | {"session": name, "axis": axis} for name in checked for axis in ("easting", "northing", "elevation")]
    known = conform("session_shifts", pd.DataFrame(rows))
    return job.layers(shots=shots, limits=job.limits(), line_matches=table, session_shifts=known)


def common(layers, one, other, axis="elevation"):
    number = np.array([0.0])
    made = derived_rows(layers, np.array([[one, other]]), {axis: np.array([[-1.0, 1.0]])}, number, show=str)
    return made["u_common"].iloc[0]


A, B = 0, 3 * EACH


def test_between_an_unchecked_session_and_another_its_shift_is_open_and_within_it_is_not(job):
    layers = layers_of(job, 0.09)
    assert common(layers, A, B) == pytest.approx(np.hypot(0.02 * np.sqrt(2), 0.09), abs=0.002)
    assert common(layers, B, B + 1) == common(layers, A, A + 1) == pytest.approx(0.0, abs=1e-12)


def test_of_one_shot_alone_it_says_no_more_than_was_stated(job):
    layers = layers_of(job, 0.09)
    alone = derived_rows(layers, np.array([[B]]), {"elevation": np.ones((1, 1))}, np.zeros(1), show=str)
    assert alone["u_common"].tolist() == pytest.approx([0.02])


@pytest.mark.parametrize("options", [{"high": 0.09, "checked": ("A", "B")}, {"high": 0.03}, {"high": 0.09, "lines": 2}])
def test_nothing_is_open_where_checks_tell_where_it_is_noise_and_where_few_lines_share_it(job, options):
    lines = options.get("lines", 3)
    assert common(layers_of(job, **options), A, lines * EACH) == pytest.approx(0.02 * np.sqrt(2))


def test_in_plan_too(job):
    layers = layers_of(job, 0.0, aside=0.12)
    assert observed(layers)["loose_easting"].iloc[B] == pytest.approx(0.12, abs=0.001)
    assert common(layers, A, B, "easting") == pytest.approx(0.12, abs=0.002)
    assert observed(layers)["loose_elevation"].tolist() == [0.0] * 6 * EACH
