"""The link that opens a place on a phone: where the coordinate library puts it, and nothing fetched."""

import re
from dataclasses import replace

import pyproj
import pytest

from geoqa.model.results import Results, Title
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import Layers, placed

pytestmark = [pytest.mark.browser, pytest.mark.long]

GEOD = pyproj.Geod(ellps="GRS80")


def test_a_shot_opens_on_a_phone_where_the_coordinate_library_puts_it(street, show):
    opened = show(street)
    page = opened.page
    page.locator("#search").fill("c2")
    page.locator(".result", has_text="C2control").first.click()
    page.wait_for_selector(".card")
    href = page.locator(".whereabouts a").get_attribute("href")
    latitude, longitude = map(float, re.fullmatch(r"geo:(-?\d+\.\d{6}),(-?\d+\.\d{6})", href).groups())
    shot = street.shots.loc[street.shots["shot"] == "C2"].iloc[0]
    there = pyproj.Transformer.from_crs("EPSG:6547", "EPSG:4326", always_xy=True)
    *_, miss = GEOD.inv(longitude, latitude, *there.transform(shot.easting, shot.northing))
    assert miss < 0.15  # six decimals of a degree
    said = page.locator(".whereabouts").inner_text()
    assert "about 2 m, for finding the place, never for measuring" in said
    assert f"{latitude:.6f}, {longitude:.6f} (latitude, longitude)" in said
    assert opened.requests == [opened.url]
    assert opened.messages == []


def test_every_corner_of_the_mesh_agrees_with_the_library(street, show):
    page = show(street).page
    origin = page.evaluate("() => opened.about.origin")
    there = pyproj.Transformer.from_crs("EPSG:6547", "EPSG:4326", always_xy=True)
    for east, north in ((0, 0), (120_000, -90_000), (-131_000, 131_000), (7_777.7, 99_999.9)):
        found = page.evaluate(
            "([e, n]) => geoqa.whereabouts.of({ easting: e / geoqa.view.digit(), northing: n / geoqa.view.digit() })",
            [east, north],
        )
        *_, miss = GEOD.inv(
            found["longitude"], found["latitude"], *there.transform(origin[0] + east, origin[1] + north)
        )
        assert miss < 0.3
    assert page.evaluate("() => geoqa.whereabouts.of({ easting: 2e9, northing: 0 })") is None


def test_a_shot_without_a_place_has_no_link(street, show):
    page = show(street).page
    page.locator("#search").fill("903")
    page.locator(".result", has_text="Shot 903").first.click()
    page.wait_for_selector(".card")
    assert page.locator(".whereabouts").count() == 0


def test_a_grid_on_a_datum_of_its_own_has_no_link(street, show):
    local = replace(street.layers.frame, horizontal="WKT", horizontal_wkt=LOCAL)
    table = placed("shots", street.layers["shots"].drop(columns="geometry"), local)
    tables = {"shots": table, "findings": street.layers["findings"].iloc[:0], "evidence": street.layers["evidence"]}
    tables["design_lines"] = empty("design_lines")
    page = show(Results(title=Title(name="Local"), layers=Layers(tables, frame=local), summary={}, record={})).page
    page.locator("#search").fill("c2")
    page.locator(".result").first.click()
    page.wait_for_selector(".card")
    assert page.locator(".whereabouts").count() == 0


LOCAL = (
    'PROJCRS["site grid",BASEGEOGCRS["unknown",DATUM["Unknown datum",ELLIPSOID["GRS 1980",6378137,298.257222101]]],'
    'CONVERSION["site",METHOD["Transverse Mercator",ID["EPSG",9807]],'
    'PARAMETER["Latitude of natural origin",46,ANGLEUNIT["degree",0.0174532925199433]],'
    'PARAMETER["Longitude of natural origin",-100,ANGLEUNIT["degree",0.0174532925199433]],'
    'PARAMETER["Scale factor at natural origin",1,SCALEUNIT["unity",1]],'
    'PARAMETER["False easting",0,LENGTHUNIT["foot",0.3048]],PARAMETER["False northing",0,LENGTHUNIT["foot",0.3048]]],'
    'CS[Cartesian,2],AXIS["easting",east],AXIS["northing",north],LENGTHUNIT["foot",0.3048]]'
)
