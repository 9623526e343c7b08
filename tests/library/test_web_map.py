"""Results on a map of the web library: where things lie, what is said about them, and what cannot be shown."""

import html
import json
import re

import folium
import geopandas
import numpy as np
import pyproj
import pytest
import shapely

from geoqa.errors import FrameError, LayerError
from geoqa.library.assess import assess
from geoqa.model.signs import SIGNS
from geoqa.present.map.frame import leaflet
from geoqa.present.notebook import markers

CRS = "EPSG:6547"
EAST, NORTH = 2228000.0, 444000.0
HOSTILE = "</script><img src=x onerror=alert(1)>{{ 7*7 }}"


def lines(kind="walk-front", name="W-1", crs=CRS):
    line = shapely.LineString([(EAST, NORTH, 1457.0), (EAST + 400, NORTH + 30, 1458.0)])
    return geopandas.GeoDataFrame({"kind": [kind, "rim"], "name": [name, "R"]}, geometry=[line, line], crs=crs)


def shots(crs=CRS):
    off = [0.0, 0.5, 0.14, 0.01]
    along = np.array([400, 30]) / np.hypot(400, 30)
    right = np.array([along[1], -along[0]])
    place = [np.array([EAST, NORTH]) + (10 + 20 * at) * along + each * right for at, each in enumerate(off)]
    shapes = [shapely.Point(*each, 1457.0) for each in place] + [None, shapely.Point(EAST, NORTH + 30, 1400.0)]
    names = {"shot": ["101", "102", "103", "104", "105", "106"], "code": ["WKF"] * 5 + ["GND"]}
    return geopandas.GeoDataFrame(names, geometry=shapes, crs=crs)


def judged(table=None, design=None, *, frame=CRS, kind="walk-front", **others):
    given = {
        "frame": frame,
        "codes": {"WKF": kind, "GND": "ground"},
        "tolerances": {kind: {"horizontal": "0.15 ft", "reference": "C-101"}},
        "uncertainty": {
            "default": {
                "horizontal_random": "0.02 ft",
                "vertical_random": "0.02 ft",
                "horizontal_common": "0 ft",
                "vertical_common": "0 ft",
                "reference": "repeats",
            }
        },
        "steps": [{"use": "runs", "off": True}],
    }
    return assess(shots() if table is None else table, lines() if design is None else design, **given | others)


@pytest.fixture(scope="module")
def results():
    return judged()


def groups_of(shown):
    """Layers of a map by the name in its control: their features."""
    found = {}
    for group in shown._children.values():
        if isinstance(group, folium.FeatureGroup):
            (layer,) = (each for each in group._children.values() if isinstance(each, folium.GeoJson))
            found[group.layer_name] = (layer, layer.data["features"])
    return found


@pytest.mark.long
def test_it_is_an_ordinary_map_with_a_group_for_each_verdict_and_kind(results):
    shown = results.to_folium()
    assert type(shown) is folium.Map
    assert shown.crs == "EPSG3857"
    counts = {name: len(features) for name, (_, features) in groups_of(shown).items()}
    assert counts == {
        "― rim: design": 1,
        "― walk-front: design": 1,
        "▲ walk-front: out (1)": 1,
        "◆ walk-front: undecided (1)": 1,
        "● walk-front: in (2)": 2,
        "■ ground: not asked (1)": 1,
    }
    assert any(isinstance(each, folium.LayerControl) for each in shown._children.values())


def test_places_are_longitude_and_latitude_by_the_operation_that_is_named(results):
    shown = results.to_folium()
    to_wgs84 = pyproj.Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    shot = shots().geometry.iloc[1]
    _, (feature,) = groups_of(shown)["▲ walk-front: out (1)"]
    np.testing.assert_allclose(feature["geometry"]["coordinates"], to_wgs84.transform(shot.x, shot.y), atol=1e-9)
    _, (line,) = groups_of(shown)["― walk-front: design"]
    expected = np.column_stack(to_wgs84.transform([EAST, EAST + 400], [NORTH, NORTH + 30]))
    np.testing.assert_allclose(line["geometry"]["coordinates"], expected, atol=1e-9)
    page = shown.get_root().render()
    assert "To look at, never to measure" in page
    assert "NAD83(2011) to WGS 84 (1)" in page
    assert "good to 2 m" in page


def test_a_card_tells_every_number_about_a_shot_in_the_unit_of_the_job(results):
    _, (feature,) = groups_of(results.to_folium())["▲ walk-front: out (1)"]
    rows = re.findall(r"<tr>(.*?)</tr>", feature["properties"]["card"])
    cells = [re.findall(r"<t[dh].*?>(.*?)</t[dh]>", row) for row in rows]
    assert cells[0] == ["Check", "Deviation", "Allowed", "Uncertainty (1 sigma)", "Verdict"]
    (offset,) = (row for row in cells if row[0] == "Offset from design line")
    assert offset[1:4] == ["0.50 ft right", "0.15 left or right", "0.020"]
    assert offset[4].startswith("▲ out of tolerance: ")
    assert feature["properties"]["title"] == "▲ shot 102, walk-front"


def test_a_shot_that_no_check_asks_about_says_so(results):
    _, (feature,) = groups_of(results.to_folium())["■ ground: not asked (1)"]
    assert feature["properties"]["card"] == "<b>shot 106, ground</b><br>No check asks about it."


def test_verdicts_differ_by_shape_as_well_as_by_colour(results):
    found = groups_of(results.to_folium())
    drawn = {}
    for name, (layer, _) in found.items():
        if "design" not in name:
            icon = layer.marker.icon.options["html"] if layer.marker.icon else "circle"
            drawn[name[0]] = re.sub(r'aria-label=".*?"|#\w+', "", icon)
    assert set(drawn) == {"▲", "◆", "●", "■"}
    assert len(set(drawn.values())) == 4
    colours = {sign.colour for sign in SIGNS.values()}
    out = found["▲ walk-front: out (1)"][0].marker
    assert SIGNS["OUT"].colour in out.icon.options["html"]
    assert found["● walk-front: in (2)"][0].marker.options["fillColor"] in colours


def test_what_has_no_place_is_counted(results):
    assert "1 have no place and are not shown." in results.to_folium().get_root().render()


def test_only_the_kinds_that_are_asked_for_are_drawn(results):
    assert set(groups_of(results.to_folium(kinds=["ground", "rim"]))) == {"― rim: design", "■ ground: not asked (1)"}
    with pytest.raises(LayerError, match="nothing is of the kind 'curb'; there are ground, rim, walk-front"):
        results.to_folium(kinds=["curb"])
    with pytest.raises(LayerError, match=r'must be a sequence of names, for example \["ground"\]'):
        results.to_folium(kinds="ground")


def test_nothing_lies_underneath_unless_tiles_are_given(results):
    assert "L.tileLayer" not in results.to_folium().get_root().render()
    address = "https://tiles.example/{z}/{x}/{y}.png"
    page = results.to_folium(tiles=address, attr="Example").get_root().render()
    assert address in page
    assert re.search(r'"maxZoom": 24', page)
    layer = folium.TileLayer(address, attr="Example", name="mine")
    assert layer in results.to_folium(tiles=layer)._children.values()


@pytest.mark.long
def test_findings_of_no_one_shot_are_drawn_where_they_lie():
    wide = {"walk-front": {"horizontal": "0.15 ft", "spacing": "50 ft", "reference": "C-101"}}
    found = judged(tolerances=wide)
    gaps = found.evidence[found.evidence["verdict"] == "OUT"]
    assert len(gaps)
    (name,) = (name for name in groups_of(found.to_folium()) if name.startswith("▲ Design without as-built evidence"))
    _, features = groups_of(found.to_folium())[name]
    assert len(features) == len(gaps)
    to_wgs84 = pyproj.Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
    expected = np.column_stack(to_wgs84.transform(gaps["easting"], gaps["northing"]))
    np.testing.assert_allclose([each["geometry"]["coordinates"] for each in features], expected, atol=1e-9)


@pytest.mark.long
def test_text_from_files_is_neither_markup_nor_script_nor_template():
    found = judged(shots().assign(shot=HOSTILE), lines(HOSTILE, HOSTILE), kind=HOSTILE, name=HOSTILE)
    shown = found.to_folium()
    page = shown.get_root().render()
    assert "<img" not in page
    assert page.count("</script>") == page.count("<script")
    assert "{{ 7*7 }}" in page
    for name, (_, features) in groups_of(shown).items():
        assert "<" not in name
        for feature in features:
            assert "<img" not in json.dumps(feature)
            assert "<i" not in feature["properties"]["card"] + feature["properties"]["title"]
    cards = [feature["properties"]["card"] for _, features in groups_of(shown).values() for feature in features]
    assert sum(html.escape(HOSTILE) in card for card in cards) >= 5


@pytest.mark.long
def test_another_zone_in_metres_lies_where_it_should():
    line = shapely.LineString([(500000.0, 4200000.0), (500100.0, 4200000.0)])
    design = geopandas.GeoDataFrame({"kind": ["walk-front"], "name": ["W"]}, geometry=[line], crs="EPSG:6343")
    table = geopandas.GeoDataFrame(
        {"shot": ["1"], "code": ["WKF"]}, geometry=[shapely.Point(500050, 4199999.9)], crs="EPSG:6343"
    )
    limits = {"walk-front": {"horizontal": "20 mm", "reference": "C-101"}}
    shown = judged(table, design, frame="EPSG:6343", tolerances=limits).to_folium()
    _, (feature,) = groups_of(shown)["▲ walk-front: out (1)"]
    expected = pyproj.Transformer.from_crs("EPSG:6343", "EPSG:4326", always_xy=True).transform(500050, 4199999.9)
    np.testing.assert_allclose(feature["geometry"]["coordinates"], expected, atol=1e-9)
    assert "0.100 m right" in feature["properties"]["card"]


SITE = """PROJCRS["Site grid",BASEGEOGCRS["Unknown datum",DATUM["Unknown site datum",
ELLIPSOID["GRS 1980",6378137,298.257222101,LENGTHUNIT["metre",1]]],PRIMEM["Greenwich",0]],
CONVERSION["Site",METHOD["Transverse Mercator",ID["EPSG",9807]],
PARAMETER["Latitude of natural origin",46,ANGLEUNIT["degree",0.0174532925199433]],
PARAMETER["Longitude of natural origin",-100,ANGLEUNIT["degree",0.0174532925199433]],
PARAMETER["Scale factor at natural origin",1,SCALEUNIT["unity",1]],
PARAMETER["False easting",2228000,LENGTHUNIT["foot",0.3048]],
PARAMETER["False northing",444000,LENGTHUNIT["foot",0.3048]]],
CS[Cartesian,2],AXIS["easting",east],AXIS["northing",north],LENGTHUNIT["foot",0.3048]]"""


@pytest.mark.long
def test_a_datum_from_which_no_way_is_known_is_refused_and_the_offline_page_is_named():
    found = judged(shots(SITE), lines(crs=SITE), frame=SITE)
    with pytest.raises(FrameError, match=r"A map by longitude and latitude cannot be made: .* results\.map\(\)"):
        found.to_folium()


def test_a_way_that_is_missing_is_told_before_anything_is_drawn(monkeypatch, results):
    def refused(frame):
        raise FrameError("no known operation.")

    monkeypatch.setattr(markers, "display_operation", refused)
    with pytest.raises(FrameError, match="cannot be made: no known operation"):
        results.to_folium()


@pytest.mark.browser
@pytest.mark.long
def test_a_click_opens_the_card_and_text_of_files_runs_no_script(chromium):
    shown = judged(shots().assign(shot="<img src=x onerror=document.title='taken'>")).to_folium()
    page = chromium.new_page()
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))

    def answer(route):
        """Leaflet from the installed package, and nothing else from anywhere."""
        name = route.request.url.rpartition("/")[2]
        if name in ("leaflet.js", "leaflet.css"):
            kind = "text/javascript" if name.endswith("js") else "text/css"
            route.fulfill(body=leaflet(name), content_type=kind)
        else:
            route.abort()

    page.route("**/*", answer)
    page.set_content(shown.get_root().render())
    page.locator(".geoqa-sign").first.click(force=True)
    card = page.locator(".leaflet-popup-content")
    card.wait_for()
    assert "<img src=x onerror=document.title='taken'>" in card.inner_text()
    assert card.locator("img").count() == 0
    assert page.title() != "taken"
    assert errors == []
    page.close()
