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


EDGES = {"TC": ("curb-top", 0.0, 0, 400), "GF": ("walk-front", -0.5, 0, 400, 99.5)}
"""Two lines 0.5 ft apart in plan and in elevation, as the top and the flow line of a curb."""


def beside(places, *, seed=1, sigma=0.02, **more):
    """Shots under one code and line ID at so many feet of plan and elevation from the first line."""
    rng = np.random.default_rng(seed)
    return [
        {"station": 20.0 * nth, "offset": off + sigma * rng.normal(), "elevation": 100.0 + up + sigma * rng.normal(),
         "line_id": "C1", "sequence": nth + 1} | more
        for nth, (off, up) in enumerate(places)
    ]  # fmt: skip


TOP, FLOW = (0.0, 0.0), (-0.5, -0.5)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("sigma", [0.02, 0.04])
def test_both_heights_of_a_curb_under_one_code_are_a_question_for_the_lower_ones(job, seed, sigma):
    told = raised(job, beside([TOP, FLOW] * 8, seed=seed, sigma=sigma), EDGES)
    assert told == {(str(101 + nth), "code-slip", True) for nth in range(1, 16, 2)}


@pytest.mark.parametrize(("places", "count"), [
    ([TOP] * 9 + [FLOW] * 3, 3),
    ([TOP] * 9 + [FLOW] * 2, 0),  # two may be badly built
    ([TOP] * 9 + [(0.0, -0.5)] * 3, 0),  # a curb that was lowered where it stands: only its elevation is off
    ([TOP] * 9 + [(-0.5, 0.0)] * 3, 0),  # and one aside of its line
    ([TOP] * 9 + [(-0.3, -0.3)] * 3, 0),  # between both lines
    ([TOP] * 9 + [(0.5, 0.5)] * 3, 0),  # where no other line is
    ([FLOW] * 8, 8),  # all of a line
])  # fmt: skip
def test_several_shots_must_fit_the_other_line_in_plan_and_elevation(job, places, count):
    assert len(raised(job, beside(places), EDGES)) == count


def test_shots_of_different_strings_are_not_added_up(job):
    rows = beside([TOP] * 9 + [FLOW] * 4)
    rows[-1]["line_id"] = rows[-2]["line_id"] = "C2"
    assert raised(job, rows, EDGES) == set()


@pytest.mark.parametrize("seed", range(5))
def test_a_third_kind_that_shares_the_other_line_over_a_stretch_takes_no_shot_out_of_the_count(job, seed):
    shared = EDGES | {"AP": ("driveway", -0.5, 50, 90, 99.5)}
    shots = job.shots(beside([TOP, FLOW] * 8, seed=seed))
    codes = pd.concat([CODES, CODES.iloc[[1]].assign(code="DRV", kind="driveway")], ignore_index=True)
    layers = job.layers(shots=job.prepared(shots, kind="curb-top"), codes=codes, **job.design(shared))
    flags = job.run(layers, CodeSlips())["flags"]
    assert flags["proposal"].tolist() == ["WKF"] * 8


@pytest.mark.parametrize("seed", range(5))
def test_wide_but_honest_scatter_about_one_line_is_no_slip(job, seed):
    assert raised(job, beside([TOP] * 60, seed=seed, sigma=0.15), EDGES) == set()


def test_the_sentence_holds_the_other_line_against_its_own(job):
    shots = job.shots(beside([TOP, FLOW] * 8, sigma=0.0))
    layers = job.layers(shots=job.prepared(shots, kind="curb-top"), codes=CODES, **job.design(EDGES))
    told = job.reasons(job.run(layers, CodeSlips()))["reason"]
    assert set(told) == {
        "coded CTB, but lies 0.000 ft and 0.000 ft in elevation from a walk-front line and 0.500 ft and -0.500 ft in "
        "elevation from the nearest curb-top line, as 7 more shots of this code; did the crew mean WKF? Not applied"
    }


def test_no_shots_are_no_error(job):
    assert raised(job, []) == set()
    assert raised(job, [], lines=None) == set()
