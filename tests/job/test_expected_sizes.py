"""How far apart expected shots lie is told of the design, else of the job's keys, else assumed, and always said."""

import math
import shutil
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import shapely
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.contract.checks import check_named
from geoqa.job.expected_sizes import expected_sizes
from geoqa.model.quantity import length_unit
from geoqa.model.tables.columns import conform

JOB = Path(__file__).resolve().parents[2] / "sample_jobs" / "tannery_lane" / "tannery_lane.toml"
PAIR = [("WF", "walk-front", "WB"), ("WB", "walk-back", "WF")]
CODES = conform("codes", pd.DataFrame(
    [{"code": code, "kind": kind, "geometry": "line", "role": "feature", "pairs_with": other}
     for code, kind, other in PAIR]))  # fmt: skip
PRECISION = conform("precision", pd.DataFrame({"kind": ["*"], "v_random": [0.02], "reference": ["-"]}))


def limits(*rows):
    made = pd.DataFrame(rows, columns=["kind", "check", "lower", "upper"])
    said = {"ruleset": "job", "rule": "guarded", "reference": "-", "edition": None, "verified": False}
    return conform("limits", made.assign(quantity=[check_named(each).quantity for each in made["check"]], **said))


def sized(rows, design=None, *, unit="ft", codes=CODES, precision=PRECISION):
    found = expected_sizes(limits(*rows), codes, design or {}, precision, unit=length_unit(unit))
    return found.set_index(["kind", "check"])


def lines(*rows):
    frame = pd.DataFrame(
        {"line": [f"L{n}" for n in range(len(rows))], "kind": [kind for kind, _ in rows], "source": "d"}
    )
    return {"design_lines": gpd.GeoDataFrame(frame, geometry=[shapely.LineString(places) for _, places in rows])}


SLOPE = ("walk", "cross-slope", -1 / 48, 1 / 48)


def test_the_design_tells_how_far_the_edges_are_apart():
    design = lines(("walk-front", [(0, 0), (100, 0)]), ("walk-back", [(0, 6), (50, 6), (100, 6)]))
    row = sized([SLOPE, ("walk", "clear-width", 4.0, math.inf)], design).loc[("walk", "cross-slope")]
    assert row["length"] == pytest.approx(6.0)
    assert (row["first"], row["second"]) == ("walk-back", "walk-front")
    assert row["assumed"] == "median between their design lines"


@pytest.mark.parametrize(("unit", "width", "said"), [("ft", 5.0, "5.0 ft apart"), ("m", 1.524, "1.5 m apart")])
def test_without_design_the_least_width_else_five_feet_are_taken_and_said(unit, width, said):
    row = sized([SLOPE], unit=unit).loc[("walk", "cross-slope")]
    assert row["length"] == pytest.approx(width)
    assert said in row["shots"]
    assert row["assumed"].startswith("assumed")
    asked = sized([SLOPE, ("walk", "clear-width", 1.2, math.inf)], unit=unit).loc[("walk", "cross-slope")]
    assert asked["length"] == 1.2
    assert asked["assumed"] == "the least width the job asks for"


def test_a_running_slope_and_a_fall_hang_on_the_spacing_the_job_asks_for():
    rows = [("walk", "running-slope", -0.05, 0.05), ("curb-flow", "gutter-fall", 0.0, math.inf)]
    own = [("walk-front", "coverage", -math.inf, 40.0), ("curb-flow", "coverage", -math.inf, 10.0)]
    asked = sized([*rows, *own])
    assert asked.loc[("walk", "running-slope"), "length"] == 40.0
    assert asked.loc[("curb-flow", "gutter-fall"), "length"] == 10.0
    assert sized(rows).loc[("curb-flow", "gutter-fall"), "length"] == 25.0
    near = sized([rows[0], ("walk-front", "coverage", -math.inf, 5.0)])
    assert near.loc[("walk", "running-slope"), "length"] == pytest.approx(20.0)  # no shorter stretch is told


def test_a_pipe_is_as_long_as_those_of_the_design_and_its_inverts_bear_their_measure_downs():
    design = lines(("sewer", [(0, 0), (200, 0)]), ("sewer", [(0, 0), (300, 0)]), ("sewer", [(0, 0), (0, 320)]))
    row = sized([("sewer", "pipe-slope", 0.004, math.inf)], design).loc[("sewer", "pipe-slope")]
    assert (row["length"], row["first"], row["u_beside"]) == (300.0, "rim", pytest.approx(0.02))
    taped = conform("precision", pd.DataFrame({"kind": ["measure-down"], "v_random": [0.05], "reference": ["-"]}))
    assert sized([("sewer", "pipe-slope", 0.004, math.inf)], precision=taped)["u_beside"].tolist() == [0.05]


def test_cover_is_told_against_the_design_surface_only_where_there_is_one():
    rows = [("water", "cover", 7.0, math.inf)]
    assert sized(rows).loc[("water", "cover"), "second"] == "ground"
    surface = {"surface_points": pd.DataFrame({"surface": ["FG"]})}
    assert sized(rows, surface).loc[("water", "cover"), "second_weight"] == 0.0


def test_a_key_that_walks_and_ramps_share_is_told_once_for_each_kind():
    rows = [SLOPE, ("walk", "ramp-cross-slope", -1 / 48, 1 / 48), ("ramp", "cross-slope", -1 / 48, 1 / 48),
            ("ramp", "ramp-cross-slope", -1 / 48, 1 / 48)]  # fmt: skip
    assert sorted(sized(rows).index) == [("ramp", "ramp-cross-slope"), ("walk", "cross-slope")]


def test_the_command_tells_numbers_of_several_shots_and_names_what_is_left(tmp_path):
    shutil.copy(JOB, tmp_path / "job.toml")
    said = CliRunner().invoke(main, ["capability", str(tmp_path / "job.toml")]).output
    (walk,) = [each for each in said.splitlines() if "walk, cross slope" in each]
    assert "1 sigma 0.707 %" in walk
    assert "4.0 ft apart (the least width the job asks for)" in walk
    for told in (
        "curb, reveal",
        "walk, running slope",
        "storm-top, pipe slope",
        "walk, clear width",
        "water-top, cover",
    ):
        assert f"{told}, " in said
    (left,) = [each for each in said.splitlines() if each.startswith("Not covered")]
    assert "cross-slope" not in left
    assert "passing" in left or "coverage" in left
    assert "\N{REPLACEMENT CHARACTER}" not in said
