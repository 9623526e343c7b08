"""A code that both the place and the design, or the string, contradict: proposed, and not judged until settled."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.evidence.code_slips import CodeSlips

CODES = conform(
    "codes",
    pd.DataFrame(
        {
            "code": ["CTB", "WKF", "RIM", "CHK"],
            "kind": ["curb-top", "walk-front", "rim", "control"],
            "geometry": ["line", "line", "point", "point"],
            "role": ["feature", "feature", "feature", "check"],
        }
    ),
)
KIND = dict(zip(CODES["code"], CODES["kind"], strict=True))
LINES = {"C": ("curb-top", 0.0, 0, 400), "W": ("walk-front", 6.0, 0, 400)}


def raised(job, rows, lines=LINES):
    shots = job.shots(rows)
    kind = [KIND[code] for code in shots["code"]]
    layers = job.layers(shots=job.prepared(shots, kind=kind), codes=CODES, **job.design(lines))
    return job.raised(job.run(layers, CodeSlips()))


SLIP = {("101", "code-slip", True)}


@pytest.mark.parametrize(("row", "expected"), [
    ({"offset": 6.1}, SLIP),  # coded curb top, lies on the walk
    ({"offset": 6.1, "code": "WKF"}, set()),
    ({"offset": 0.1}, set()),
    ({"offset": 6.39}, SLIP),
    ({"offset": 6.41}, set()),  # 0.40 ft is how near it must lie to the line it truly is of
    ({"offset": 3.0}, set()),  # far from both: no code fits better
    ({"offset": 6.1, "elevation": 100.39}, SLIP),
    ({"offset": 6.1, "elevation": 100.41}, set()),
    ({"offset": 6.1, "code": "RIM"}, set()),  # no line is designed for it, so none contradicts it
    ({"offset": 6.1, "code": "CHK"}, set()),
    ({"easting": np.nan}, set()),
])  # fmt: skip
def test_by_design_a_shot_on_a_line_of_another_kind_and_far_from_its_own_is_a_slip(job, row, expected):
    assert raised(job, [{"station": 100.0} | row]) == expected


@pytest.mark.parametrize(("apart", "expected"), [(0.99, set()), (1.01, SLIP)])
def test_near_a_line_of_its_own_kind_the_code_may_well_be_right(job, apart, expected):
    lines = {"C": ("curb-top", 0.0, 0, 400), "W": ("walk-front", apart, 0, 400)}
    assert raised(job, [{"station": 100.0, "offset": apart}], lines) == expected


def string(codes, **more):
    return [
        {"code": code, "station": 25.0 * nth, "line_id": "S1", "sequence": nth + 1} | more
        for nth, code in enumerate(codes)
    ]


FOURTH = {("104", "code-slip", True)}


@pytest.mark.parametrize(("codes", "expected"), [
    (["CTB"] * 3 + ["WKF"] + ["CTB"] * 3, FOURTH),
    (["CTB"] * 7, set()),
    (["CTB"] * 3 + ["WKF"] + ["CTB"], set()),  # four shots are no majority of a string
    (["CTB"] * 3 + ["WKF"] + ["CTB"] * 2, FOURTH),
    (["CTB", "WKF"] * 5, set()),
])  # fmt: skip
def test_by_string_one_code_among_many_others_is_a_slip(job, codes, expected):
    assert raised(job, string(codes), lines=None) == expected


@pytest.mark.parametrize(("off", "expected"), [(0.39, FOURTH), (0.41, set())])
def test_by_string_the_shot_must_lie_on_the_line_of_the_others(job, off, expected):
    rows = string(["CTB"] * 3 + ["WKF"] + ["CTB"] * 3)
    rows[3]["offset"] = off
    assert raised(job, rows, lines=None) == expected


def test_the_same_line_id_in_another_file_is_another_string(job):
    rows = string(["CTB"] * 3 + ["WKF"] + ["CTB"] * 3)
    rows[3]["source"] = "day2"
    assert raised(job, rows, lines=None) == set()


def test_no_shots_are_no_error(job):
    assert raised(job, []) == set()
    assert raised(job, [], lines=None) == set()
