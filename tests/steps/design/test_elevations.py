"""How high or low against the design at the shot's own station: limits of 0.08 either way, and u of 0.0283."""

import math

import numpy as np
import pytest

from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines

LINE = {"CTB-L": ("curb-top", 0.0, 0, 800)}
LIMITS = [("curb-top", "elevation", -0.08, 0.08)]
U = math.hypot(0.02, 0.02)


def judged(job, rows, limits=LIMITS, tables=None, **columns):
    rows = [{"station": 20.0 + 40.0 * nth} | row for nth, row in enumerate(rows)]
    design = job.design(LINE) if tables is None else tables
    layers = job.layers(shots=job.prepared(job.shots(rows), **columns), limits=job.limits(*limits), **design)
    return job.run(layers, MatchLines(), Elevations())


def test_elevations_are_judged_four_ways(job):
    levels = {"101": 100.01, "102": 99.8, "103": 100.08, "104": np.nan}
    made = judged(job, [{"elevation": level} for level in levels.values()])
    assert job.told(made, "elevation") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-elevation"),
    }
    rows = made["findings"].set_index("label")
    assert (rows[["lower", "upper"]] == [-0.08, 0.08]).all(axis=None)
    for name, deviation in {"shot 101": 0.01, "shot 102": -0.2, "shot 103": 0.08}.items():
        assert rows.loc[name, ["deviation", "u", "design"]].tolist() == pytest.approx([deviation, U, 100.0])
        assert rows.loc[name, "p_conform"] == pytest.approx(job.chance(deviation, U, -0.08, 0.08), abs=1e-6)
    assert rows.loc["shot 104", ["deviation", "p_conform"]].isna().all()


def test_a_tolerance_tighter_than_the_method_is_never_proven(job):
    # 0.05 over 1.96 is 0.0255, less than u
    made = judged(job, [{}], [("curb-top", "elevation", -0.05, 0.05)])
    assert job.told(made, "elevation") == {"101": ("UNDECIDED", "u-too-large")}
    assert made["findings"]["p_conform"].tolist() == pytest.approx([job.chance(0.0, U, -0.05, 0.05)])


def test_the_design_elevation_is_taken_at_the_station_of_the_shot(job):
    tables = job.design(LINE)
    tables["design_elements"]["end_elevation"] = 108.0  # 1 % over 800 ft
    made = judged(job, [{"station": 333.0, "elevation": 103.33}], tables=tables)
    assert made["findings"]["design"].tolist() == pytest.approx([103.33])
    assert made["findings"]["deviation"].tolist() == pytest.approx([0.0], abs=1e-9)


FLAT = {"CTB-L": ("curb-top", 0.0, 0, 800, np.nan)}


def test_a_line_without_elevations_is_said_once_and_its_shots_keep_their_offsets(job):
    made = judged(job, [{}] * 5, tables=job.design(FLAT))
    (row,) = made["findings"].to_dict("records")
    assert [row["verdict"], row["why"], row["label"]] == ["NO_DATA", "no-design-elevation", "5 shots"]
    assert row["subject"] == "CTB-L"
    assert row["remedy"] == "give the design an elevation here"
    assert sorted(made["evidence"]["key"]) == [f"day1/{number}" for number in range(101, 106)]
    assert made["evidence"]["finding"].unique().tolist() == [row["finding"]]


def test_where_only_a_part_of_a_line_has_no_elevation_its_shots_say_so(job):
    tables = job.design(FLAT)
    tables["design_elements"]["end_elevation"] = 108.0  # one end only: nothing between
    assert job.told(judged(job, [{}, {}], tables=tables), "elevation") == {
        "101": ("NO_DATA", "no-design-elevation"), "102": ("NO_DATA", "no-design-elevation"),
    }  # fmt: skip


def test_a_line_without_elevations_beside_one_that_has_them(job):
    lines = {"A": ("curb-top", 0.0, 0, 800, np.nan), "B": ("curb-top", 30.0, 0, 800)}
    made = judged(job, [{}, {"offset": 30.0, "elevation": 99.8}], tables=job.design(lines))
    found = made["findings"].set_index("subject")[["verdict", "why"]]
    assert found.loc["A"].tolist() == ["NO_DATA", "no-design-elevation"]
    assert found.loc["B"].tolist() == ["OUT", "proven"]


def test_what_nobody_set_a_tolerance_for_and_no_shots_make_no_findings(job):
    assert len(judged(job, [{}], [("curb-top", "offset", -0.1, 0.1)])["findings"]) == 0
    assert len(judged(job, [])["findings"]) == 0
