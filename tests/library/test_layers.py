"""Layers of tables, and steps run on them by name: the same numbers as a whole job, and sentences for what lacks."""

import copy
import pickle

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely
from pandas.testing import assert_frame_equal

import geoqa
from geoqa import testing
from geoqa.errors import FrameError, JobError, LayerError, PluginError
from geoqa.library.layers import Layers
from geoqa.model.tables.columns import TABLES

EAST, NORTH, CRS = 2_228_000.0, 444_000.0, "EPSG:6547"
LIMITS = {"walk-front": {"horizontal": "0.15 ft", "vertical": "0.06 ft", "reference": "C-101"}}
PRECISE = {"default": {"horizontal_random": "0.02 ft", "vertical_random": "0.01 ft", "reference": "repeats"}}
ORDER = ["uncertainty", "usable-shots", "match-lines", "offsets"]


def shots(**columns):
    places = [(EAST + 20, NORTH - 0.02, 1457.21), (EAST + 70, NORTH - 0.5, 1457.69), (EAST + 50, NORTH, 1457.5)]
    return geopandas.GeoDataFrame(
        {"kind": ["walk-front"] * 3} | columns, geometry=[shapely.Point(each) for each in places], index=list("ABC"),
        crs=CRS,
    )  # fmt: skip


def lines(**columns):
    walk = shapely.LineString([(EAST, NORTH, 1457.0), (EAST + 60, NORTH, 1457.6), (EAST + 100, NORTH, 1458.0)])
    return geopandas.GeoDataFrame({"kind": ["walk-front"]} | columns, geometry=[walk], index=["W-1"], crs=CRS)


def layers(**given):
    whole = {"shots": shots(), "design_lines": lines(), "limits": LIMITS, "uncertainty": PRECISE, "frame": CRS} | given
    return geoqa.Layers.from_tables(**{name: each for name, each in whole.items() if each is not None})


def said(error, call, *args, **options):
    with pytest.raises(error) as caught:
        call(*args, **options)
    assert "\n\n" not in str(caught.value)
    return str(caught.value)


def test_what_can_be_derived_is_filled_in():
    made = layers()
    row = made["shots"].iloc[1]
    assert (row["shot_key"], row["source"], row["line"], row["shot"]) == ("shots/B", "shots", 2, "B")
    assert (row["easting"], row["northing"], row["elevation"]) == (EAST + 70, NORTH - 0.5, 1457.69)
    assert (row["kind"], row["role"], row["code"]) == ("walk-front", "feature", "walk-front")
    assert made["codes"][["code", "kind", "geometry", "role"]].values.tolist() == [
        ["walk-front", "walk-front", "line", "feature"]
    ]
    legs = made["design_elements"]
    assert legs["line"].tolist() == ["W-1", "W-1"]
    assert legs["start_station"].tolist() == [0.0, 60.0]
    assert legs["end_elevation"].tolist() == [1457.6, 1458.0]
    assert not shapely.has_z(made["design_lines"].geometry).any()
    assert made.frame.unit.name == "ft"
    assert len(made["design_points"]) == 0
    assert len(made["screening"]) > 5


def test_the_frame_may_be_that_of_the_tables():
    assert layers(frame=None).frame.horizontal == CRS
    assert layers(frame=testing.frame()).frame is testing.frame()


def test_every_column_has_the_dtype_of_the_list():
    made = layers(control=shots(kind=["a", "b", "c"]), design_points=shots())
    for name, table in made.items():
        wrong = {
            column.name: (str(table[column.name].dtype), column.dtype)
            for column in TABLES[name]
            if column.name in table and str(table[column.name].dtype) != column.dtype
        }
        assert wrong == {}, name


@pytest.mark.long
def test_one_step_gives_what_a_whole_job_gives():
    found = geoqa.assess(
        shots(shot=list("ABC")), lines(name=["W-1"]), frame=CRS, tolerances=LIMITS, uncertainty=PRECISE
    ).findings  # fmt: skip
    done = layers().run([*ORDER, "elevations"])["findings"]
    ours = ["finding", "shot", "subject", "check", "deviation", "lower", "upper", "u", "verdict", "p_conform", "why"]
    theirs = found[found["check"].isin(["offset", "elevation"]) & found["shot"].notna()].set_index("finding")
    assert len(done) == 6
    assert_frame_equal(done[ours].set_index("finding"), theirs.loc[done["finding"], ours[1:]])


@pytest.mark.long
def test_steps_run_in_the_order_in_which_each_finds_what_it_needs():
    forward, backward = (layers().run(names) for names in (ORDER, ORDER[::-1]))
    assert_frame_equal(forward["findings"], backward["findings"])
    one_by_one = layers()
    for name in ORDER:
        one_by_one = one_by_one.run(name)
    assert_frame_equal(forward["findings"], one_by_one["findings"])
    assert forward["findings"]["verdict"].tolist() == ["OUT", "IN", "IN"]


def test_results_are_new_layers_and_nothing_given_is_changed():
    given = {"shots": shots(time=pd.to_datetime(["2026-03-14T14:00Z"] * 3)), "design_lines": lines()}
    before = copy.deepcopy(given)
    start = layers(**given)
    names = set(start)
    done = start.run(ORDER)
    assert isinstance(done, Layers)
    assert set(start) == names
    assert "line_matches" in done
    for name, table in given.items():
        assert_frame_equal(table, before[name])
    assert pickle.loads(pickle.dumps(done)).run("bands")["bands"]["line"].tolist() == ["W-1"]


def test_options_limits_and_steps_made_in_code():
    near = layers().run("match-lines", reach="0.3 ft")["line_matches"]
    assert near["shot_key"].tolist() == ["shots/A", "shots/C"]
    without = layers(limits=None)
    assert without.run(ORDER, limits=LIMITS)["findings"]["verdict"].tolist() == ["OUT", "IN", "IN"]
    assert "limits" not in without
    step = geoqa.default_steps()[0]
    coded = shots(code=["WKF"] * 3).drop(columns="kind")
    assert layers(shots=coded, codes={"WKF": "walk-front"}).run(step)["shots"]["role"].tolist() == ["feature"] * 3


@pytest.mark.long
def test_results_of_a_job_are_layers_too():
    found = geoqa.assess(shots(shot=list("ABC")), lines(name=["W-1"]), frame=CRS, tolerances=LIMITS)
    assert isinstance(found.layers, geoqa.Layers)
    again = geoqa.Layers(testing.layers(shots=testing.judged_shots([{}])), frame=testing.frame())
    assert "line_matches" in again.run("match-lines")


def test_a_step_says_at_once_all_that_it_lacks_what_it_means_and_who_makes_it():
    words = said(LayerError, layers(limits=None).run, "offsets")
    assert words.startswith("The step offsets cannot run yet:\n  line_matches (")
    assert "line_matches (shot_key, design, station, offset …) is missing; the step match-lines makes it" in words
    assert "limits (how far each kind may stray, check by check) is missing; give limits={" in words
    assert "shots.use (true or false: false = flagged out, still listed) is missing; the step usable-shots" in words
    assert words.endswith(f"Give limits first, and run these together: {ORDER}.")
    words = said(LayerError, layers().run, "check-shots")
    assert (
        "control (marks with their published values) is missing; give it, or read it: control.csv, control.xlsx"
        in words
    )


def test_what_is_advised_can_be_run():
    words = said(LayerError, layers().run, "runs")
    advised = [name.strip("' ") for name in words.rpartition("[")[2].rpartition("]")[0].split(",")]
    assert "runs" in layers().run(advised)


@pytest.mark.parametrize(
    ("steps", "options", "error", "words"),
    [
        ("offset", {}, PluginError, r"Did you mean offsets\?"),
        ("match-lines", {"reach": 5}, JobError, "reach: 5 has no unit; write it as text with its unit"),
        ("match-lines", {"rech": "5 ft"}, JobError, r"rech: not an option here; did you mean reach\? it has reach, sc"),
        ("offsets", {"reach": "5 ft"}, JobError, "reach: not an option here; it has none"),
        (["match-lines", "bands"], {"reach": "5 ft"}, JobError, "reach: options belong to one step that is named"),
        (["bands", "bands"], {}, JobError, "'bands' is named more than once"),
        ([], {}, JobError, r"names none; geoqa.steps\(\) lists them"),
        ([3], {}, JobError, "must be names or steps, and one is a int"),
        ("kinds", {}, LayerError, "has nothing to do: these layers have shots.kind, shots.role already"),
        ("bands", {"limits": LIMITS}, LayerError, "these layers have limits already"),
    ],
)
def test_a_step_that_cannot_be_run_is_refused_in_one_sentence(steps, options, error, words):
    with pytest.raises(error, match=words):
        layers().run(steps, **options)


def test_limits_that_cannot_stand_are_named_as_in_the_call():
    words = said(JobError, layers, limits={"rim": {"horizontal": 0.1}}, uncertainty=None)
    assert 'limits["rim"]["horizontal"]: 0.1 has no unit' in words
    assert 'limits["rim"]["reference"]: missing' in words
    assert "uncertainty[" in said(JobError, layers, uncertainty={"rim": {"horizontal_random": "0.1 ft"}})


def test_all_that_lacks_is_said_in_one_message():
    words = said(
        LayerError,
        geoqa.Layers.from_tables,
        frame=CRS,
        shots=pd.DataFrame({"kind": ["a"], "u_h_random": [0.1]}),
        design_lines=pd.DataFrame({"line": ["a"]}),
        limits=pd.DataFrame({"kind": ["a"], "check": ["offset"]}),
    )
    for need in (
        "shots.easting (number, in the unit of the frame: in the job's frame) is missing; give it, or a geometry of po",
        "shots.u_v_common (number, in the unit of the frame: 1 sigma; H per axis) is missing; the step uncertainty mak",
        "design_lines.kind (text: feature kind) is missing; give it, or read it: design.csv, design.dxf",
        "design_elements (lines and arcs of the design, with elevations) is missing",
        "limits.upper (number, in the unit of its quantity: on the deviation; one-sided ±inf) is missing",
        "limits.reference (text: where the limit is written) is missing",
    ):
        assert need in words
    assert words.startswith("10 things are missing")


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({"shots": 3}, LayerError, "shots must be a DataFrame or GeoDataFrame, and is a int"),
        ({"shots": shots(satellites=[1.5, 2, 3])}, LayerError, r"shots.satellites \(as in the log\) holds 1.5, and is"),
        ({"shots": shots(pdop=["1", "2", "3"])}, LayerError, "shots.pdop is of dtype str and not of numbers"),
        ({"shots": shots(pdop=np.array([1, 2, None], object))}, LayerError, "shots.pdop is of dtype object and not"),
        ({"shots": shots(use=[1, 0, 1])}, LayerError, "shots.use .* is of dtype int64 and not true or false"),
        ({"shots": shots(time=pd.to_datetime(["2026-03-14"] * 3))}, LayerError, "a time needs its zone"),
        ({"shots": shots(elevation=3.0)}, LayerError, "shots.elevation stands in a column and in the geometry, and 3"),
        ({"shots": shots().set_axis([1, 1, 2])}, LayerError, r"shots.shot_key .* more than once; .*reset_index"),
        ({"design_lines": lines(kind=[None])}, LayerError, "design_lines.kind .* is missing in 1 row; fill it in"),
        ({"control": shots(mark=["a", "a", "b"])}, LayerError, "control.mark .* holds 'a' more than once"),
        ({"shots": pd.concat([shots(), shots()[["kind"]]], axis=1)}, LayerError, "shots has two columns 'kind'"),
        ({"precision": pd.DataFrame()}, JobError, "uncertainty: the table precision says the same"),
        ({"frame": "EPSG:4326"}, FrameError, "frame 'EPSG:4326' is WGS 84, a geographic 2D system"),
        ({"frame": 6547}, FrameError, "frame: must be the code of a projected coordinate system"),
        ({"vertical": "EPSG:5703"}, FrameError, "vertical: NAVD88 height is in metre, and the plan in international"),
        ({"frame": testing.frame(), "vertical": "EPSG:8228"}, FrameError, "vertical: the frame that is given has its"),
        ({"codes": {}}, JobError, "codes: names no code"),
    ],
)  # fmt: skip
def test_a_table_that_cannot_be_a_layer_is_refused_in_one_sentence(given, error, words):
    with pytest.raises(error, match=words) as caught:
        layers(**given)
    assert "[frame]" not in str(caught.value)


def test_no_table_states_a_system():
    words = said(FrameError, geoqa.Layers.from_tables, shots=pd.DataFrame({"kind": ["a"]}))
    assert 'no table states a coordinate system; name it, for example frame="EPSG:6547"' in words


def test_names_that_are_given_twice_take_their_keys_from_the_index():
    made = layers(shots=shots(shot=["1", "1", "2"]))["shots"]
    assert made["shot_key"].tolist() == ["shots/A", "shots/B", "shots/C"]
    assert made["shot"].tolist() == ["1", "1", "2"]


def test_tables_of_ones_own_and_rows_without_a_place_stay():
    places = shots()
    places.loc["B", "geometry"] = None
    made = layers(shots=places, mine=pd.DataFrame({"a": [1]}))
    assert made["mine"]["a"].tolist() == [1]
    assert made["shots"]["easting"].isna().tolist() == [False, True, False]
    done = made.run(ORDER)["findings"].set_index("shot")
    assert len(made["shots"]) == 3
    assert "shots/B" not in done.index or done.loc["shots/B", "verdict"] == "NO_DATA"
