"""A curb top stands 0.5 above its flow line; where one pair says the reverse, its codes were exchanged."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.shots.swapped_pairs import SwappedPairs

CODES = conform(
    "codes",
    pd.DataFrame(
        {
            "code": ["CTB", "CFL"],
            "kind": ["curb-top", "curb-flow"],
            "geometry": "line",
            "role": "feature",
            "pairs_with": ["CFL", "CTB"],
        }
    ),
)
PLAIN = conform("codes", CODES.assign(pairs_with=pd.Series([None, None], dtype="str")))


def raised(job, steps, *, apart=1.0, codes=CODES):
    """Flags of pairs of top and flow line, 25 ft apart, each with its step; tops are 101, 103, ..."""
    rows = []
    for place, step in enumerate(steps):
        rows.append({"code": "CTB", "station": 25.0 * place, "elevation": 100.0 + step})
        rows.append({"code": "CFL", "station": 25.0 * place, "elevation": 100.0, "offset": apart})
    shots = job.prepared(job.shots(rows), kind=["curb-top", "curb-flow"] * len(steps))
    return job.raised(job.run(job.layers(shots=shots, codes=codes), SwappedPairs()))


USUAL = [0.5] * 6
BOTH = {("113", "swapped-pair", True), ("114", "swapped-pair", True)}


def test_a_curb_top_below_its_flow_line_is_flagged_with_its_partner_and_neither_is_judged(job):
    assert raised(job, [*USUAL, -0.5]) == BOTH


def test_the_right_way_round_raises_nothing(job):
    assert raised(job, [*USUAL, 0.5]) == set()


@pytest.mark.parametrize(("step", "expected"), [(0.0, set()), (-0.24, set()), (-0.26, BOTH)])
def test_a_lowered_curb_has_no_step_and_only_half_the_usual_one_reversed_counts(job, step, expected):
    assert raised(job, [*USUAL, step]) == expected


def test_five_pairs_know_no_usual_step(job):
    assert raised(job, [0.5, 0.5, 0.5, 0.5, -0.5]) == set()
    sixth = {("111", "swapped-pair", True), ("112", "swapped-pair", True)}
    assert raised(job, [0.5, 0.5, 0.5, 0.5, 0.5, -0.5]) == sixth


@pytest.mark.parametrize(("apart", "expected"), [(4.9, BOTH), (5.1, set())])
def test_a_partner_beyond_reach_is_none(job, apart, expected):
    assert raised(job, [*USUAL, -0.5], apart=apart) == expected


def test_a_usual_step_too_small_proves_nothing(job):
    assert raised(job, [0.19] * 6 + [-0.5]) == set()


def test_without_elevation_or_pairs_in_the_code_list_nothing_is_said(job):
    assert raised(job, [*USUAL, np.nan]) == set()
    assert raised(job, [*USUAL, -0.5], codes=PLAIN) == set()
    assert raised(job, []) == set()
