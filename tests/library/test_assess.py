"""A job from memory: what tables may look like, what is refused and in which words, and what comes back."""

import json
import subprocess
import sys

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely

import geoqa
from geoqa.errors import AreaError, FrameError, JobError, OutputError, SourceError
from geoqa.library.assess import assess

CRS = "EPSG:6547"
EAST, NORTH = 2228000.0, 444000.0
TOLERANCES = {"walk-front": {"horizontal": "0.15 ft", "vertical": "0.06 ft", "reference": "C-101"}}
UNCERTAINTY = {
    "default": {
        "horizontal_random": "0.02 ft",
        "vertical_random": "0.01 ft",
        "horizontal_common": "0 ft",
        "vertical_common": "0 ft",
        "reference": "repeats",
    }
}


def walk(shape=None, **columns):
    shape = shape or shapely.LineString([(EAST, NORTH, 1457.0), (EAST + 100, NORTH, 1458.0)])
    return geopandas.GeoDataFrame({"kind": ["walk-front"], "name": ["W-1"], **columns}, geometry=[shape], crs=CRS)


def shots(count=4, *, crs=CRS, flat=False):
    easting = EAST + 10 + 20.0 * np.arange(count)
    place = [(each, NORTH - 0.02) if flat else (each, NORTH - 0.02, 1457 + (each - EAST) / 100) for each in easting]
    names = {"shot": [str(101 + at) for at in range(count)], "code": ["WKF"] * count}
    return geopandas.GeoDataFrame(names, geometry=[shapely.Point(each) for each in place], crs=crs)


def with_shapes(table, shapes, crs=CRS):
    return table.set_geometry(geopandas.GeoSeries(shapes, index=table.index, crs=crs))


def judged(collected=None, design=None, **others):
    given = {"frame": CRS, "codes": {"WKF": "walk-front"}, "tolerances": TOLERANCES, "uncertainty": UNCERTAINTY}
    return assess(shots() if collected is None else collected, walk() if design is None else design, **given | others)


def verdicts(results, check):
    findings = results.findings
    return findings[findings["check"] == check].set_index("shot")["verdict"].to_dict()


def said(error, *args, **others):
    with pytest.raises(error) as caught:
        judged(*args, **others)
    return str(caught.value)


@pytest.fixture(scope="module")
def results():
    return judged()


@pytest.mark.long
def test_what_is_built_as_designed_is_in(results):
    assert set(verdicts(results, "offset").values()) == {"IN"}
    assert set(verdicts(results, "elevation").values()) == {"IN"}
    offsets = results.findings.query("check == 'offset'")["deviation"]
    np.testing.assert_allclose(offsets, 0.02, atol=1e-9)


@pytest.mark.long
def test_points_in_columns_are_the_same_as_points_in_a_geometry(results):
    table = pd.DataFrame(shots().drop(columns="geometry"))
    xyz = shapely.get_coordinates(shots().geometry, include_z=True)
    table[["E", "N", "Z"]] = xyz
    other = judged(table, columns={"easting": "E", "northing": "N", "elevation": "Z"})
    held = ["finding", "deviation", "u", "verdict"]
    pd.testing.assert_frame_equal(pd.DataFrame(results.findings[held]), pd.DataFrame(other.findings[held]))


@pytest.mark.long
def test_a_column_may_hold_the_kind_itself(results):
    table = shots().drop(columns="code").assign(what="walk-front")
    assert verdicts(judged(table, codes="what"), "offset") == verdicts(results, "offset")
    assert verdicts(judged(table.rename(columns={"what": "kind"}), codes=None), "offset") == verdicts(results, "offset")


@pytest.mark.long
def test_marks_make_check_shots_of_the_kind_control():
    marks = geopandas.GeoDataFrame({"mark": ["CP-1"]}, geometry=[shapely.Point(EAST, NORTH + 50, 1460)], crs=CRS)
    check = geopandas.GeoDataFrame(
        {"shot": ["CP-1"], "code": ["CHK"]}, geometry=[shapely.Point(EAST + 0.3, NORTH + 50, 1460)], crs=CRS
    )
    limits = {"control": {"horizontal": "0.1 ft", "reference": "C-101"}}
    found = judged(
        pd.concat([shots(), check], ignore_index=True),
        control=marks,
        codes={"WKF": "walk-front", "CHK": "control"},
        tolerances=TOLERANCES | limits,
    )
    assert found.survey.query("check == 'control-position'")["verdict"].tolist() == ["OUT"]
    assert set(found.work["check"]) <= {"offset", "elevation"}


@pytest.mark.long
def test_rows_come_back_in_order_on_the_index_of_the_caller():
    table = shots().set_axis(["d", "b", "c", "a"])
    found = judged(table)
    assert found.shots.index.tolist() == ["d", "b", "c", "a"]
    assert found.shots["shot"].tolist() == table["shot"].tolist()


@pytest.mark.long
def test_inputs_are_not_changed():
    given = {"shots": shots(), "design": walk()}
    kept = {name: table.copy(deep=True) for name, table in given.items()}
    limits = json.dumps(TOLERANCES)
    judged(given["shots"], given["design"], columns={"code": "code"})
    for name, table in given.items():
        pd.testing.assert_frame_equal(pd.DataFrame(table), pd.DataFrame(kept[name]), check_exact=True)
    assert json.dumps(TOLERANCES) == limits


@pytest.mark.long
def test_a_file_may_stand_where_a_table_does(tmp_path, results):
    table = pd.DataFrame(shots().drop(columns="geometry"))
    table[["easting", "northing", "elevation"]] = shapely.get_coordinates(shots().geometry, include_z=True)
    table.to_csv(tmp_path / "shots.csv", index=False)
    found = judged(tmp_path / "shots.csv")
    assert found.findings["finding"].tolist() == results.findings["finding"].tolist()
    assert found.originals == ((tmp_path / "shots.csv").resolve(),)


@pytest.mark.long
def test_a_file_that_was_read_is_never_written_over(tmp_path):
    walk().to_file(tmp_path / "checked.gpkg", layer="walks")
    found = judged(None, tmp_path / "checked.gpkg")
    with pytest.raises(OutputError, match=r"would replace checked\.gpkg"):
        found.write(tmp_path, layers=["gpkg"])


@pytest.mark.long
def test_steps_are_named_changed_and_switched_off(results):
    off = judged(steps=[{"use": "coverage", "off": True}, "tilt-study", geoqa.default_steps()[0]])
    names = [each["step"] for each in off.record["steps"]]
    assert "coverage" not in names
    assert "coverage" in [each["step"] for each in results.record["steps"]]


# what bad input gets


@pytest.mark.long
def test_no_system():
    words = said(FrameError, shots(crs=None))
    assert "shots: its GeoDataFrame has no coordinate reference system" in words
    assert 'set_crs("EPSG:6547")' in words
    assert verdicts(judged(shots(crs=None), declared={"shots": {"frame": CRS}}), "offset")["shots/101"] == "IN"


@pytest.mark.long
def test_another_system_is_refused_unless_it_is_declared():
    metres = with_shapes(
        shots(), [shapely.transform(each, lambda xy: xy * 0.3048) for each in shots(flat=True).geometry]
    )
    metres = with_shapes(metres, metres.geometry.tolist(), crs="EPSG:6546")
    words = said(FrameError, metres)
    assert "shots: is in NAD83(2011) / North Dakota South (metre), the job in" in words
    assert 'declared={"shots": {"frame": "EPSG:6546"}}' in words
    found = judged(metres, declared={"shots": {"frame": "EPSG:6546"}})
    np.testing.assert_allclose(found.findings.query("check == 'offset'")["deviation"], 0.02, atol=1e-6)
    assert "design: is in" in said(FrameError, None, walk().set_crs("EPSG:6559", allow_override=True))


def test_degrees():
    assert "shots: is in WGS 84, in degrees" in said(FrameError, shots().set_crs("EPSG:4326", allow_override=True))
    numbers = pd.DataFrame({"x": [-100.1, -100.2], "y": [46.1, 46.2], "code": ["WKF"] * 2})
    assert "2 of 2 positions lie outside the area of use" in said(AreaError, numbers)
    assert "geographic" in said(FrameError, frame="EPSG:4326")


@pytest.mark.long
def test_no_elevation_is_no_data_and_said():
    found = judged(shots(flat=True))
    assert set(verdicts(found, "elevation").values()) == {"NO_DATA"}
    assert set(verdicts(found, "offset").values()) == {"IN"}
    assert any("without elevation" in note for note in found.notes)


@pytest.mark.long
def test_flat_design_against_shots_with_elevations():
    found = judged(None, walk(shapely.LineString([(EAST, NORTH), (EAST + 100, NORTH)])))
    elevations = found.findings.query("check == 'elevation'")
    assert set(elevations["verdict"]) == {"NO_DATA"}
    assert elevations["deviation"].isna().all()


@pytest.mark.long
def test_two_elevations_that_differ():
    words = said(SourceError, shots().assign(elevation=3.0))
    assert "its geometry has elevations, and so has its column 'elevation', and 4 differ, the first in row 1" in words
    found = judged(shots().assign(elevation=3.0), columns={"elevation": "geometry.elevation"})
    assert set(verdicts(found, "elevation").values()) == {"IN"}


@pytest.mark.long
def test_lines_of_several_parts_become_several_lines():
    parts = [[(EAST, NORTH), (EAST + 45, NORTH)], [(EAST + 55, NORTH), (EAST + 100, NORTH)]]
    found = judged(None, walk(shapely.MultiLineString(parts)))
    assert found.layers["design_lines"]["line"].tolist() == ["W-1-1", "W-1-2"]
    assert set(found.findings.query("check == 'offset'")["subject"]) == {"W-1-1", "W-1-2"}


def test_lines_where_points_belong():
    words = said(SourceError, walk(code=["WKF"]))
    assert "'shots': row 1 is a LineString, and a row here is one Point (1 such)" in words


@pytest.mark.long
def test_empty_geometries_stay_rows():
    shapes = shots().geometry.tolist()
    shapes[1], shapes[2] = shapely.Point(), None
    found = judged(with_shapes(shots(), shapes))
    assert len(found.shots) == 4
    assert found.shots["easting"].isna().tolist() == [False, True, True, False]
    assert verdicts(found, "offset")["shots/102"] == "NO_DATA"
    assert any("2 without (rows without a geometry" in each for each in found.record["evidence"])
    two = pd.concat([walk(), with_shapes(walk(name=["W-2"]), [None])], ignore_index=True)
    assert any("'W-2' has no geometry; not read" in each for each in judged(None, two).record["troubles"])


def test_a_repeated_index():
    words = said(JobError, shots().set_axis([0, 1, 1, 2]))
    assert "shots: its index holds '1' more than once (1 such row)" in words
    assert "reset_index(drop=True)" in words


@pytest.mark.long
def test_numbers_held_as_objects():
    xyz = shapely.get_coordinates(shots().geometry, include_z=True)
    table = pd.DataFrame({"shot": [1, 2, 3, 4], "code": ["WKF"] * 4, **dict(zip(("e", "n", "z"), xyz.T, strict=True))})
    table = table.astype(object)
    table.loc[1, "e"], table.loc[2, "z"], table.loc[3, "e"] = str(table.loc[1, "e"]), "n/a", None
    found = judged(table)
    offsets = verdicts(found, "offset")
    assert [offsets[f"shots/{each}"] for each in (1, 2, 3, 4)] == ["IN", "IN", "IN", "NO_DATA"]
    assert verdicts(found, "elevation")["shots/3"] == "NO_DATA"
    assert "shots, line 3, elevation: 'n/a' is not a number" in found.record["troubles"]


def test_missing_columns():
    placeless = pd.DataFrame({"a": [1.0], "northing": [1.0], "code": ["WKF"]})
    assert "'shots' has no column for easting; its columns are a, northing, code" in said(SourceError, placeless)
    assert "'shots' has no column 'Z'" in said(SourceError, columns={"elevation": "Z"})
    assert "names 'hoehe', which is no column here" in said(SourceError, columns={"hoehe": "Z"})
    assert "codes: none of 4 shots has a code" in said(JobError, shots().drop(columns="code"))
    assert "codes: shots has no column 'what'" in said(JobError, codes="what")
    assert "has no attribute 'kind'" in said(SourceError, None, walk().drop(columns="kind"))
    assert "design: is a table without a geometry" in said(JobError, None, pd.DataFrame({"kind": ["walk-front"]}))


@pytest.mark.long
def test_kinds_without_tolerance_are_shown_and_not_judged():
    found = judged(tolerances={"rim": TOLERANCES["walk-front"]})
    assert (
        "No tolerance is given for these kinds, so their shots are shown and not judged: walk-front (4)." in found.notes
    )
    assert len(found.shots) == 4
    assert not (found.findings["verdict"] == "IN").any()


@pytest.mark.parametrize(
    ("argument", "value", "words"),
    [
        ("tolerances", {"rim": {"horizontal": "-0.1 ft", "reference": "C"}}, "limits are written without a sign"),
        ("tolerances", {"rim": {"horizontal": 0.1, "reference": "C"}}, "0.1 has no unit; write it as text with its"),
        ("tolerances", {"rim": {"horizontal": "0.1 ft"}}, "missing, and it has no default"),
        ("tolerances", {"rim": {"horizontl": "0.1 ft", "reference": "C"}}, "did you mean horizontal?"),
        ("tolerances", {"rim": "0.1 ft"}, "must be a table"),
        ("uncertainty", {"rim": {"horizontal_random": 0.1, "reference": "C"}}, "0.1 has no unit"),
        ("rule", "strict", "guarded"),
        ("steps", ["offset"], "Did you mean offsets?"),
        ("vertical", 3, "must be text in quotes"),
        ("declared", {"shots": {"frme": CRS}}, "did you mean frame?"),
        ("declared", {"shots": {"held": 1}}, "said by the table itself"),
        ("declared", {"control": {"frame": CRS}}, "is not among the inputs"),
        ("frame", None, "must be the code of a projected coordinate system"),
        ("codes", {}, "names no code"),
    ],
)
def test_an_argument_that_cannot_stand_is_named(argument, value, words):
    message = said(JobError, **{argument: value})
    assert words in message
    assert f"{argument}:" in message or f"{argument}[" in message


def test_all_arguments_are_named_at_once():
    words = said(JobError, tolerances={"rim": {"horizontal": 0.1}}, rule="strict")
    assert words.startswith("3 arguments cannot stand:")


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ([1, 2], "shots: must be a GeoDataFrame, a DataFrame or the path of a file, and is a list"),
        (shots().iloc[:0], "shots: has no rows"),
        (pd.concat([shots(), shots()[["code"]]], axis=1), "shots: has two columns 'code'"),
        ({"day 1": shots()}, "the name 'day 1' stands in keys of shots"),
    ],
)
def test_what_is_no_table_of_shots(table, words):
    assert words in said(JobError, table)


# what comes back


@pytest.mark.long
def test_a_run_stands_for_its_shots_and_the_worst_comes_first():
    table = shots(12)
    table = with_shapes(table, [shapely.transform(each, _aside, include_z=True) for each in table.geometry])
    long = walk(shapely.LineString([(EAST, NORTH, 1457.0), (EAST + 300, NORTH, 1460.0)]))
    found = judged(table, long)
    assert found.work["verdict"].iloc[0] == "OUT"
    assert found.work["run"].isna().all()
    assert len(found.work) < (found.findings["check"].isin(["offset", "elevation"])).sum()


def _aside(xyz):
    return xyz + np.where(xyz[:, :1] > EAST + 90, [[0.0, 0.4, 0.0]], 0.0)


def test_the_map_is_one_page_that_shows_in_a_notebook(results, tmp_path):
    page = results.map()
    saved = page.save(tmp_path / "map.html")
    text = saved.read_text(encoding="utf-8")
    assert text == page.html
    assert text.startswith("<!DOCTYPE html>")
    frame = page._repr_html_()
    assert frame.startswith('<iframe srcdoc="&lt;!DOCTYPE html&gt;')
    assert '"' not in frame.partition('srcdoc="')[2].partition('" title=')[0]
    assert "map.html" in repr(page)
    assert results.map().html == page.html


@pytest.mark.long
def test_files_are_written_with_a_record_of_the_tables(results, tmp_path):
    written = results.write(tmp_path / "out", layers=["gpkg", "csv"])
    assert [each.name for each in written][-1] == "record.json"
    assert not (tmp_path / "out" / "map.html").exists()
    record = json.loads((tmp_path / "out" / "record.json").read_text(encoding="utf-8"))
    assert "checked.gpkg" in record["outputs"]
    assert [each["path"] for each in record["inputs"]] == ["shots", "codes", "design"]
    everything = results.write(tmp_path / "all")
    assert {"map.html", "summary.json"} <= {each.name for each in everything}
    with pytest.raises(JobError, match=r"No writer named 'gpk'\. Did you mean gpkg"):
        results.write(tmp_path / "out", layers=["gpk"])


@pytest.mark.long
def test_the_hash_is_that_of_the_content(results):
    def hashed(found):
        return {each["path"]: each["sha256"] for each in found.record["inputs"]}

    moved = shots()
    moved.loc[0, "geometry"] = shapely.Point(EAST + 10, NORTH - 0.03, 1457.1)
    assert hashed(judged()) == hashed(results)
    assert hashed(judged(shots().set_axis(list("abcd")))) == hashed(results)
    other = hashed(judged(moved))
    assert other["shots"] != hashed(results)["shots"]
    assert other["design"] == hashed(results)["design"]


@pytest.mark.long
def test_it_is_handed_on_without_work_at_import():
    code = "import sys, geoqa; before = 'pandas' in sys.modules; geoqa.assess; print(before, 'pandas' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.split()[0] == "False"
    assert geoqa.assess is assess
