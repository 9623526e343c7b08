"""A walk that was shot again: each pass has numbers of its own, and none of the first is lost."""

import numpy as np
import pytest

from bench.second_passes import STATIONS, cases, later, numbered, scattered
from bench.walk_shots import layers_of
from geoqa import testing
from geoqa.contract.notes import NOTES
from geoqa.model.tables.fact import facts_of
from geoqa.steps.linework.asbuilt_lines import AsBuiltLines
from geoqa.steps.surfaces.asbuilt_surface import AsbuiltSurface
from geoqa.steps.surfaces.quantities import Quantities
from geoqa.steps.walks.walks import Walks

CASES = cases()
CROSS = ("walk", "cross-slope", -1 / 48, 1 / 48)
RUNNING = ("walk", "running-slope", -1 / 20, 1 / 20)
WIDTH = ("walk", "clear-width", 4.0, np.inf)
U = {"u_v_random": 0.01, "u_h_random": 0.02, "u_v_common": 0.0, "u_h_common": 0.0}


def layers(rows, *limits):
    return layers_of(numbered(rows), *(limits or (CROSS, RUNNING, WIDTH)), **U)


def told(rows, *limits):
    return testing.run(layers(rows, *limits), Walks())["findings"]


def single(findings):
    """Numbers of sections and legs by check, subject and label."""
    kept = findings[~findings["label"].str.contains("mean")]
    return kept.set_index(["check", "subject", "label"])[["measured", "verdict"]].sort_index()


@pytest.mark.long
@pytest.mark.parametrize("case", [name for name in CASES if "way" not in name and "carried" not in name])
def test_no_number_of_the_first_pass_is_lost(case):
    first, again = CASES[case]
    alone, both = single(told(first)), single(told(first + again))
    assert set(alone.index) <= set(both.index)
    kept = both.loc[alone.index]
    assert kept["measured"].to_numpy(float) == pytest.approx(alone["measured"].to_numpy(float), abs=1e-9)
    assert (both["verdict"] != "NO_DATA").all()


@pytest.mark.long
@pytest.mark.parametrize("case", ["carried on", "carried on over three"])
def test_a_walk_carried_on_has_numbers_along_all_of_it(case):
    first, again = CASES[case]
    both = told(first + again)
    assert (both["verdict"] != "NO_DATA").all()
    assert len(single(both)) > len(single(told(first))) + 10


@pytest.mark.long
def test_each_pass_goes_with_the_same_pass_of_the_other_edge():
    found = told(*[[*CASES["another day"][0], *CASES["another day"][1]]], CROSS)
    assert set(found["subject"]) == {"WKB 1 / WKF 1", "WKB 1, second pass / WKF 1, second pass"}


def test_one_edge_shot_again_goes_with_the_one_that_is_there():
    first, again = CASES["another day, same places"]
    found = told(first + [row for row in again if row["code"] == "WKF"], CROSS)
    assert set(found["subject"]) == {"WKB 1 / WKF 1", "WKB 1 / WKF 1, second pass"}
    assert (found["verdict"] != "NO_DATA").all()


@pytest.mark.long
def test_a_defect_of_the_second_pass_alone_is_told_by_it():
    rng = np.random.default_rng(4)
    rows = scattered(rng, STATIONS) + later(scattered(rng, STATIONS + 5, slope=0.04), hours=24, session="B")
    found = told(rows, CROSS)
    by = found.groupby("subject")["verdict"].agg(set)
    assert "OUT" not in by["WKB 1 / WKF 1"]
    assert "OUT" in by["WKB 1, second pass / WKF 1, second pass"]


@pytest.mark.long
def test_both_passes_are_drawn_by_their_own_names_and_told():
    for case in ("another day", "another day, same places"):
        start = layers([*CASES[case][0], *CASES[case][1]])
        done = testing.run(start, AsBuiltLines())
        assert done["asbuilt_lines"]["line"].tolist() == ["WKB 1", "WKB 1, second pass", "WKF 1", "WKF 1, second pass"]
        assert done["asbuilt_lines"]["shots"].tolist() == [9] * 4
        (note,) = [each for each in NOTES if each.name == "linework"]
        said = str(note.listing([each for each in facts_of(done["notes"], "note") if each.name == "linework"], "ft"))
        assert said == (
            "As-built lines (4 drawn): 2 later passes of lines are drawn by their own name (WKB 1, second pass, "
            "WKF 1, second pass); lengths, areas and the surface take the first pass."
        )


@pytest.mark.long
def test_places_shot_again_are_no_vertices():
    done = testing.run(layers([*CASES["two places"][0], *CASES["two places"][1]]), AsBuiltLines())
    assert done["asbuilt_lines"]["line"].tolist() == ["WKB 1", "WKF 1"]
    assert done["asbuilt_lines"]["length"].max() < 161
    assert ("repeat", 4) in {(each.variant, each.count) for each in facts_of(done["notes"], "note")}


def quantities(rows):
    done = testing.run(layers(rows), Quantities())["quantities"]
    return {(row["name"], row["quantity"]): row for row in done.to_dict("records")}


@pytest.mark.long
@pytest.mark.parametrize("case", ["another day", "half", "two places", "the same session"])
def test_lengths_and_areas_count_ground_once(case):
    first, again = CASES[case]
    alone, both = quantities(first), quantities(first + again)
    assert set(both) == set(alone)
    for name, row in alone.items():
        assert both[name]["value"] == pytest.approx(row["value"])
        assert both[name]["shots"] == row["shots"]
    assert "shots of later passes not counted" in both["WKF 1", "length"]["method"]


@pytest.mark.long
def test_a_first_pass_that_is_not_in_use_gives_way_to_the_second():
    first, again = CASES["another day"]
    both = quantities([*(row | {"use": False} for row in first), *again])
    assert both["WKF 1", "length"]["value"] == pytest.approx(160.0, abs=0.5)


def test_the_surface_is_made_of_one_pass():
    first, again = CASES["another day"]
    limit = ("walk-front", "surface", -0.1, 0.1), ("walk-back", "surface", -0.1, 0.1)
    step = AsbuiltSurface(kinds=("walk-front", "walk-back"))
    alone, both = (testing.run(layers(rows, *limit), step) for rows in (first, first + again))
    for table in ("asbuilt_surface_points", "asbuilt_surface_faces"):
        assert alone[table].equals(both[table])
