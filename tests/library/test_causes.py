"""Blunders at control by tables: what was put in is found on the index of the shots, and a job says the same."""

import geopandas
import geopandas.testing
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import geoqa
from bench import make
from geoqa.errors import FrameError, GeometryInputError, LayerError, QuantityError
from geoqa.frames.systems.resolve import resolve
from geoqa.model.tables.layer import Layers
from geoqa.simulate.site import scenario
from geoqa.steps.causes.diagnosis import Diagnose
from geoqa.steps.precision.uncertainty import Uncertainty
from geoqa.steps.shots.kinds import Kinds

ZONE = "EPSG:6547"
MARKS = np.array([[0, 0, 50], [1500, 100, 52], [1400, 1200, 54], [100, 1300, 51], [700, 600, 55]], dtype=float)
MARKS += [2_228_000, 444_000, 1400]
NAMES = [f"CP-{row}" for row in range(1, 6)]
SAID = {"mark": "on", "u_h": "0.02 ft", "u_v": "0.03 ft", "u_h_common": "0.015 ft", "u_v_common": "0.02 ft"}
LOG = {"session": "half", "time": "at", "initialization": "init"}


def marks(places=MARKS, index=NAMES, crs=ZONE):
    return geopandas.GeoDataFrame(geometry=shapely.points(places), crs=crs, index=index)


def log(*, crs=ZONE, seed=4):
    """Two half days; in each every mark is shot, and five shots of the work in between."""
    draw, rows = np.random.default_rng(seed), []
    for half in ("am", "pm"):
        for name, mark in zip(NAMES, MARKS, strict=True):
            rows.append((half, name, mark))
            rows.append((half, None, mark + draw.uniform(20, 90, 3) * [1, 1, 0.02]))
    table = pd.DataFrame(rows, columns=["half", "on", "place"])
    places = np.stack(table.pop("place")) + draw.normal(0, [0.015, 0.015, 0.02], (len(table), 3))
    table["at"] = pd.date_range("2026-05-04 08:00", periods=len(table), freq="20min")
    table["init"] = table["half"] + [str(row // 4) for row in range(len(table))]
    index = [f"s{row}" for row in range(len(table))]
    return geopandas.GeoDataFrame(table, geometry=shapely.points(places), crs=crs).set_axis(index)


def moved(shots, rows, shift):
    places = shots.get_coordinates(include_z=True).to_numpy(copy=True)
    places[np.asarray(rows)] += shift
    return shots.set_geometry(geopandas.points_from_xy(*places.T, crs=shots.crs))


def test_a_sound_log_names_nothing():
    shots = log()
    before = shots.copy(deep=True)
    found = geoqa.diagnose(shots, marks(), **SAID, **LOG)
    assert found.status == "none"
    assert found.causes["title"].iloc[0] == "No known blunder shows"
    assert len(found.acts) == 0
    assert found.shots["causes"].isna().all()
    assert not found.shots["doubtful"].any()
    assert found.shots["mark"].tolist()[::2] == NAMES * 2
    assert found.shots["mark"].isna().tolist() == [False, True] * 10
    geopandas.testing.assert_geodataframe_equal(shots, before)


def test_elevations_that_were_off_all_afternoon_are_one_question_with_the_very_shots_it_spoiled():
    late = log()["half"] == "pm"
    found = geoqa.diagnose(moved(log(), late, [0, 0, -0.656]), marks(), **SAID, **LOG)
    assert (
        found.status == "group"
    )  # a rod, an antenna, the base and the vertical datum make the same of a whole session
    first = found.causes.iloc[0]
    assert (first["cause"], first["subject"]) == ("elevation-constant", "session pm")
    assert first["alike"] == "antenna; base; rod; vertical-datum"
    assert first["probability"] > 0.9
    # the mean of five residuals with 0.02 ft of their own strays by 0.02 / sqrt(5) = 0.009 ft
    assert first["shift_elevation"] == pytest.approx(-0.656, abs=0.03)
    assert first["shots"] == 10
    assert first["first"] == "s10"
    assert "rod height, antenna, base elevation or vertical datum look alike" in first["words"]
    assert "the first s10" in first["words"]
    assert found.shots["causes"].notna().tolist() == late.tolist()
    assert found.acts.index.tolist() == log().index[late].tolist()
    np.testing.assert_allclose(found.shots.loc[late, "shift_elevation"], first["shift_elevation"], atol=1e-9)
    assert (found.causes["explanation"] == 2).sum() == 1


def test_a_disturbed_mark_acts_on_its_own_shots_alone():
    on = (log()["on"] == "CP-3").to_numpy()
    found = geoqa.diagnose(moved(log(), on, [0.4, -0.3, 0.0]), marks(), **SAID, **LOG)
    first = found.causes.iloc[0]
    assert (first["cause"], first["subject"]) == ("mark", "CP-3")
    assert first[["shift_easting", "shift_northing"]].tolist() == pytest.approx([0.4, -0.3], abs=0.05)
    assert found.acts.index.tolist() == log().index[on].tolist()
    assert found.acts["sure"].all()


def test_the_wrong_foot_moves_every_shot_by_what_two_parts_in_a_million_are_there():
    places = log().get_coordinates(include_z=True).to_numpy()
    # 1 ft = 0.3048 m exactly, 1 ftUS = 1200/3937 m exactly; a file in ftUS shows smaller numbers
    ratio = 0.3048 / (1200 / 3937)
    wrong = moved(log(), np.full(20, True), places * (ratio - 1))
    found = geoqa.diagnose(wrong, marks(), **SAID, **LOG)
    assert "foot" in found.causes["cause"].tolist()
    assert found.status in ("named", "group")
    shift = found.shots[["shift_easting", "shift_northing"]]
    np.testing.assert_allclose(shift, places[:, :2] * (ratio - 1), atol=0.05)


def test_of_two_marks_that_disagree_none_is_picked_and_no_mark_is_no_control():
    two = log()[log()["on"].isin(["CP-1", "CP-2"]) | log()["on"].isna()]
    found = geoqa.diagnose(moved(two, (two["on"] == "CP-2").to_numpy(), [0.5, 0, 0]), marks(), **SAID, **LOG)
    assert found.status == "two-disagree"
    assert len(found.acts) == 0
    nobody = geoqa.diagnose(log().assign(on="TEMP"), marks(), **SAID, **LOG)
    assert nobody.status == "no-control"
    assert nobody.shots["mark"].isna().all()
    assert "line_id" in nobody.gaps["field"].tolist()


def test_what_the_log_lacks_is_said():
    found = geoqa.diagnose(log(), marks(), **SAID)
    assert {"session", "initialization", "rod_height", "tilt", "time"} <= set(found.gaps["field"])
    full = log().assign(pole=2.0, lean=1.0, toward=0.0)
    more = geoqa.diagnose(full, marks(), **SAID, **LOG, rod="pole", tilt="lean", azimuth="toward", unit="m")
    assert set(more.gaps["field"]) == {"design"}


def test_a_rod_entry_that_differs_is_named_by_its_number_in_the_unit_of_the_system():
    late = np.arange(20) >= 12
    shots = moved(log(), late, [0, 0, 0.2 / 0.3048]).assign(pole=np.where(late, 1.8, 2.0))
    found = geoqa.diagnose(shots, marks(), **SAID, **LOG, rod="pole", unit="m")
    assert found.causes["cause"].iloc[0] == "rod"
    assert "rod entered as 5.906 where the other shots have 6.562" in found.causes["variant"].iloc[0]
    assert found.shots["causes"].notna().tolist() == late.tolist()


def test_labels_may_repeat_and_rows_without_a_place_stay_rows():
    late = (log()["half"] == "pm").to_numpy()
    shots = moved(log(), late, [0, 0, -0.656])
    shots.iloc[11, shots.columns.get_loc("geometry")] = None
    shots.iloc[1, shots.columns.get_loc("geometry")] = shapely.Point()
    shots.index = ["x", *range(19)]
    one = geoqa.diagnose(shots, marks(), **SAID, **LOG)
    two = geoqa.diagnose(shots.set_axis(["x"] * 20), marks(), **SAID, **LOG)
    assert one.shots.index.tolist() == ["x", *range(19)]
    assert one.causes["first"].iloc[0] == 9
    assert two.shots.index.tolist() == ["x"] * 20
    assert two.causes["first"].iloc[0] == "x"
    for found in (one, two):
        # a row that measured nothing is under no cause
        assert found.shots["causes"].notna().tolist() == (late & ~shots.geometry.isna()).tolist()
        assert len(found.acts) == 9
    assert geoqa.diagnose(shots.iloc[:0], marks(), **SAID, **LOG).status == "no-control"


@pytest.fixture(scope="module")
def job():
    simulated = make(seed=3, plants=("T06",), frame=resolve(ZONE, scenario.VERTICAL))
    layers = simulated.layers()
    for step in (Kinds(), Uncertainty()):
        layers = layers.after(step, step.run(layers))
    return layers


@pytest.mark.long
def test_a_job_and_its_tables_give_one_answer(job):
    shots, control = job["shots"], job["control"]
    nameless = shots.assign(shot=pd.Series([None] * len(shots), index=shots.index, dtype="str"))  # called by their keys
    step = Diagnose(blocks=False).run(Layers({**job, "shots": nameless}, frame=job.frame))
    system = f"{ZONE}+{scenario.VERTICAL.removeprefix('EPSG:')}"

    def placed(table):
        here = geopandas.points_from_xy(table["easting"], table["northing"], table["elevation"])
        return geopandas.GeoDataFrame(pd.DataFrame(table.drop(columns="geometry", errors="ignore")), geometry=here)

    by_name = shots["line_id"].where(shots["role"] == "check")
    table = placed(shots).set_crs(system).assign(on=by_name).set_axis(shots["shot_key"])
    u = {f"u_{axis}{end}": shots[f"u_{axis}_{name}"].to_numpy() for axis in "hv"
         for end, name in (("", "random"), ("_common", "common"))}  # fmt: skip
    assert control[["u_h", "u_v"]].nunique().tolist() == [1, 1]
    found = geoqa.diagnose(
        table, placed(control).set_crs(system), mark="on", mark_id="mark", **u, unit="ft", session="session",
        time="time", initialization="initialization", rod="rod_height", tilt="tilt", azimuth="tilt_azimuth",
        source="source", mark_u_h=f"{control['u_h'].iloc[0]} ft", mark_u_v=f"{control['u_v'].iloc[0]} ft",
    )  # fmt: skip
    names = ["explanation", "status", "cause", "variant", "subject", "shots", "first", "words", "remedy"]
    assert found.causes[names].to_dict("list") == step["causes"][names].to_dict("list")
    np.testing.assert_array_equal(found.causes["probability"], step["causes"]["probability"])
    assert set(found.acts.index) == set(step["cause_shots"]["shot_key"])
    assert len(found.acts) == len(step["cause_shots"]) > 100


@settings(max_examples=5)
@given(seed=st.integers(0, 1000))
@pytest.mark.long
def test_the_order_of_the_rows_does_not_matter(seed):
    late = (log()["half"] == "pm").to_numpy()
    shots, known = moved(log(), late, [0, 0, -0.656]), marks()
    draw = np.random.default_rng(seed)
    order = draw.permutation(20)
    found = geoqa.diagnose(shots, known, **SAID, **LOG)
    other = geoqa.diagnose(shots.iloc[order], known.iloc[draw.permutation(5)], **SAID, **LOG)
    pd.testing.assert_frame_equal(other.shots, found.shots.iloc[order], atol=1e-7, rtol=0)
    assert other.causes["words"].tolist() == found.causes["words"].tolist()


BAD = {
    "no system": (lambda: log(crs=None), marks, {}, FrameError, "shots have no coordinate system"),
    "degrees": (lambda: log(crs="EPSG:4326"), marks, {}, FrameError, "shots are in degrees"),
    "another system": (log, lambda: marks(crs="EPSG:6565"), {}, FrameError, "shots are in .* marks in "),
    "two units": (lambda: log(crs="EPSG:6547+5703"), marks, {}, FrameError, "plan in ft and their elevations in m"),
    "no mark column": (log, marks, {"mark": "m"}, LayerError, "shots have no column 'm' for mark"),
    "no session column": (log, marks, {"session": "s"}, LayerError, "shots have no column 's' for session"),
    "no start column": (log, marks, {"initialization": "i"}, LayerError, "no column 'i' for initialization"),
    "times as text": (log, marks, {"time": "half"}, LayerError, "times in 'half' are of dtype str"),
    "tilts as text": (log, marks, {"tilt": "half"}, LayerError, "'half' for tilt is of dtype str and not of numbers"),
    "rods without a unit": (lambda: log().assign(p=2.0), marks, {"rod": "p"}, QuantityError, "numbers without a unit"),
    "a bare uncertainty": (log, marks, {"u_v": 0.02}, QuantityError, "u_v holds numbers without a unit"),
    "a bare shared one": (log, marks, {"u_h_common": 0.02}, QuantityError, "u_h_common holds numbers without a unit"),
    "a negative one": (
        log,
        marks,
        {"u_v_common": "-1 in"},
        QuantityError,
        "u_v_common holds -0.08.*an uncertainty is not negative; give its size",
    ),
    "objects": (
        log,
        marks,
        {"u_h": np.array(["a"] * 20, dtype=object), "unit": "ft"},
        LayerError,
        "u_h is of dtype str and not of numbers",
    ),
    "a bare separation": (log, marks, {"separation": -80.0}, QuantityError, "separation is -80.0, a number without"),
    "two of a name": (log, lambda: marks(index=["A"] * 5), {}, LayerError, "marks: two of them are called 'A'"),
    "lines": (lambda: log().set_geometry(log().buffer(1)), marks, {}, GeometryInputError, "shots: 20 rows are no poi"),
    "no geometry": (lambda: pd.DataFrame(log().drop(columns="geometry")), marks, {}, LayerError, "without geometry"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_refused_in_one_sentence_that_says_what_next(case):
    shots, known, options, error, words = BAD[case]
    with pytest.raises(error, match=words):
        geoqa.diagnose(shots(), known(), **SAID | options)
