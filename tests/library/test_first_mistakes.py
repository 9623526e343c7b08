"""What somebody tries first, and gets wrong: told in a sentence; what helps, helps."""

import pydoc

import geopandas
import pandas as pd
import pytest
from shapely import LineString

import geoqa

LOG = pd.DataFrame({"E": [2228000.0, 2228010.0], "N": [444000.0, 444000.0], "C": ["WKF", "HYD"]})
HEAD = {"job": {"name": "A"}, "frame": {"horizontal": "EPSG:6547"}}
WALK = geopandas.GeoDataFrame(
    {"name": ["W"], "kind": ["walk-front"]}, geometry=[LineString([(2228000, 444000), (2228100, 444000)])],
    crs="EPSG:6547",
)  # fmt: skip


@pytest.mark.parametrize(("kind", "text"), [("Length", "3 in"), ("Slope", "2 %")])
def test_a_quantity_called_with_its_text_says_how_to_read_it(kind, text):
    with pytest.raises(geoqa.GeoqaError, match=rf"geoqa\.{kind}\.parse\('{text}'\)"):
        getattr(geoqa, kind)(text)
    assert getattr(geoqa, kind).parse(text).text == text


def test_a_line_without_length_is_named_and_what_to_leave_out():
    lines = geopandas.GeoSeries(
        [LineString([(0, 0), (9, 0)]), LineString([(5, 5)] * 2)], index=["a", "b"], crs="EPSG:6547"
    )
    with pytest.raises(geoqa.GeoqaError, match=r"lines: 'b' has no length.*lines\[lines\.length > 0\]"):
        geoqa.station_offset([(1.0, 1.0)], lines)
    assert geoqa.station_offset([(1.0, 1.0)], lines[lines.length > 0])["offset"].tolist() == [-1.0]


def test_help_is_short_and_says_what_to_give():
    job, steps = (pydoc.plain(pydoc.render_doc(each)) for each in (geoqa.Job, geoqa.steps))
    assert len(job.split("\n")) < 80
    assert "shots : sequence of tables" in job
    assert "object at 0x" not in job
    assert 'geoqa.steps("runs")' in steps


@pytest.mark.long
def test_a_job_takes_a_table_with_the_options_of_a_file_and_pairs_of_code_and_kind():
    shots = {"table": LOG, "columns": {"easting": "E", "northing": "N", "code": "C"}, "id": "day1"}
    codes = {"WKF": "walk-front", "HYD": "hydrant"}
    job = geoqa.Job(**HEAD, shots=[shots], codes=codes, design=[WALK])
    made = geoqa.run(job, write=False)
    assert made.shots["shot_key"].str.startswith("day1/").all()
    assert made.shots["kind"].tolist() == ["walk-front", "hydrant"]
    assert made.layers["codes"].set_index("code")["geometry"].to_dict() == {"WKF": "line", "HYD": "point"}
    assert 'columns = { easting = "E"' in job.to_toml()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"shots": [{"table": 3}]}, r'shots: "table" must be a GeoDataFrame or a DataFrame; it is of type int'),
        ({"shots": [{"table": LOG, "colums": {}}]}, r'shots\[0\]\["colums"\]: .*did you mean columns\?'),
        ({"shots": [LOG], "codes": {}}, r"codes: names no code"),
    ],
)
def test_what_a_job_cannot_take_is_told(given, said):
    with pytest.raises(geoqa.GeoqaError, match=said):
        geoqa.Job(**HEAD, **given)
