"""What somebody does who has read no more than the help: examples as typed, slips, and other zones."""

import doctest
import inspect
import re

import geopandas
import numpy as np
import pandas as pd
import pytest
import shapely

import geoqa

EAST, NORTH = 1_500_000.0, 500_000.0


def line() -> geopandas.GeoSeries:
    return geopandas.GeoSeries(
        [shapely.LineString([(EAST, NORTH, 700.0), (EAST + 200, NORTH, 702.0)])], index=["E-1"], crs="EPSG:2264"
    )


def points() -> geopandas.GeoSeries:
    return geopandas.GeoSeries([shapely.Point(EAST + 50, NORTH - 0.2, 700.53)], index=["p"], crs="EPSG:2264")


@pytest.mark.score  # they run as doctests too, with what their modules import
@pytest.mark.parametrize("name", [name for name in geoqa.__all__ if callable(getattr(geoqa, name))])
def test_examples_run_as_typed_where_only_geoqa_is_imported(name):
    finder = doctest.DocTestFinder(recurse=False)
    for test in finder.find(getattr(geoqa, name), name, module=False, globs={"geoqa": geoqa}):
        said: list[str] = []
        assert doctest.DocTestRunner(verbose=False).run(test, out=said.append).failed == 0, "".join(said)


@pytest.mark.parametrize("name", [*geoqa._LIBRARY])
def test_signatures_say_more_than_anything(name):
    function = getattr(geoqa, name)
    if inspect.isfunction(function):
        parameters = inspect.signature(function).parameters.values()
        assert not [each.name for each in parameters if str(each.annotation) in ("Any", "typing.Any")]


def test_deviations_names_its_own_options():
    assert list(inspect.signature(geoqa.deviations).parameters) == list(inspect.signature(geoqa.match).parameters)
    with pytest.raises(TypeError, match="deviations"):
        geoqa.deviations(points(), line(), knd="K")
    found = geoqa.deviations(points(), line(), max_distance="1 m")
    assert found.loc["p", "elevation_deviation"] == pytest.approx(0.03)
    assert found.loc["p", "offset"] == pytest.approx(0.2)


def test_a_bare_number_is_not_sent_to_an_option_that_is_not_there():
    for call in (
        lambda: geoqa.station_offset(points(), line(), max_distance=10),
        lambda: geoqa.match(points(), line(), scale=10),
        lambda: geoqa.coverage(geoqa.station_offset(points(), line()), line(), spacing=10),
    ):
        with pytest.raises(geoqa.GeoqaError, match='write it as text, for example "10 ftUS"') as caught:
            call()
        assert "unit=" not in str(caught.value)
    with pytest.raises(geoqa.GeoqaError, match="or state unit="):
        geoqa.tolerance_bands(line(), left=1, right="1 ft")
    with pytest.raises(geoqa.GeoqaError, match="left is a Series, which is no length"):
        geoqa.tolerance_bands(line(), left=pd.Series([1.0]), right="1 ft")


def test_a_shape_alone_is_told_what_it_lacks():
    with pytest.raises(geoqa.GeoqaError, match=r"lines are a LineString alone, .* geopandas.GeoSeries"):
        geoqa.station_offset(points(), line().iloc[0])


def marks() -> geopandas.GeoDataFrame:
    east, north = [400_000.0, 400_500.0, 400_000.0], [4_500_000.0, 4_500_000.0, 4_500_400.0]
    return geopandas.GeoDataFrame(
        {"name": ["A", "B", "C"]}, geometry=geopandas.points_from_xy(east, north, [1300.0] * 3), crs="EPSG:26912"
    )


def test_names_of_which_none_is_a_mark_are_refused_and_not_passed_over():
    shots = marks().rename(columns={"name": "on"})
    shots["common"] = 0.01
    sizes = {"u_h": "0.01 m", "u_v": "0.01 m"}
    said = "none of the names in 'on' is a mark, the first is 'A'; marks are called '0', '1', '2' by their index"
    for call in (geoqa.control_residuals, geoqa.site_fit):
        with pytest.raises(geoqa.GeoqaError, match=re.escape(said)):
            call(shots, marks(), mark="on", **sizes)
    found = geoqa.control_residuals(shots, marks(), mark="on", mark_id="name", **sizes).residuals
    assert (found["horizontal"] == 0).all()
    shots["on"] = ["A", "elsewhere", None]
    found = geoqa.control_residuals(shots, marks(), mark="on", mark_id="name", **sizes).residuals
    assert found["mark"].isna().tolist() == [False, True, True]
    with pytest.raises(geoqa.GeoqaError, match="at least two marks and has 1; shoot more marks, or do without a fit"):
        geoqa.site_fit(shots, marks(), mark="on", mark_id="name", **sizes)


def judged(**other):
    shots = geopandas.GeoDataFrame(
        {"desc": ["ED"], "when": pd.to_datetime(["2026-06-01 07:00"])}, geometry=points().to_numpy(), crs="EPSG:2264"
    )
    design = geopandas.GeoDataFrame({"kind": ["edge"], "name": ["E-1"]}, geometry=line().to_numpy(), crs="EPSG:2264")
    said = {
        "frame": "EPSG:2264",
        "codes": {"ED": "edge"},
        "tolerances": {"edge": {"horizontal": "0.1 ft", "reference": "C-1"}},
        "columns": {"code": "desc"},
    }
    return geoqa.assess(shots, design, **(said | other))


@pytest.mark.long
def test_the_system_of_a_table_is_a_frame():
    by_code, by_system = judged(), judged(frame=line().crs)
    pd.testing.assert_frame_equal(by_code.findings, by_system.findings)
    assert by_system.text == by_code.text
    layers = geoqa.Layers.from_tables(shots=points().to_frame("geometry"), frame=line().crs)
    assert layers.frame.unit.name == "ftUS"


@pytest.mark.long
def test_times_without_a_zone_in_a_named_column_are_refused():
    with pytest.raises(geoqa.GeoqaError, match="none of the 1 times in column 'when' says its zone"):
        judged(columns={"code": "desc", "time": "when"})
    results = judged(columns={"code": "desc", "time": "when"}, declared={"shots": {"time_zone": "America/New_York"}})
    assert results.shots["time"].dt.tz_convert("UTC").dt.hour.tolist() == [11]


@pytest.mark.long
def test_one_name_of_a_writer_is_not_taken_letter_by_letter(tmp_path):
    with pytest.raises(geoqa.GeoqaError, match=re.escape('layers: must be a sequence of names, for example ["gpkg"].')):
        judged().write(tmp_path / "out", layers="gpkg")
    assert not (tmp_path / "out").exists()


def test_what_is_no_job_is_refused_in_a_sentence():
    for wrong in ({"job": 1}, None, 5):
        with pytest.raises(geoqa.GeoqaError, match="job: must be the path of a job file"):
            geoqa.run(wrong)


def test_rows_keep_their_index_in_another_zone_by_an_independent_way():
    rng = np.random.default_rng(1)
    places = np.column_stack([EAST + rng.uniform(0, 200, 50), NORTH + rng.uniform(-9, 9, 50)])
    table = geopandas.GeoSeries(shapely.points(places), index=rng.permutation(50) + 0.5, crs="EPSG:2264")
    table.iloc[3] = None
    found = geoqa.station_offset(table, line())
    assert found.index.equals(table.index)
    there = table.notna().to_numpy()
    assert found["offset"].to_numpy()[there] == pytest.approx(NORTH - places[there, 1])
    assert found.loc[~there].isna().all(axis=None)
