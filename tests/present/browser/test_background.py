"""The picture under the map in a real browser: where it should be, faint, under the signs, and switched off."""

from dataclasses import replace

import numpy as np
import pytest
import rasterio
from affine import Affine

from geoqa.model.background import Background
from geoqa.read.background import BackgroundRaster

pytestmark = [pytest.mark.browser, pytest.mark.long]

COLOUR = """([e, n]) => { const o = opened.about.origin, d = geoqa.view.digit(), layer = opened.layer;
const canvas = document.querySelector("canvas.drawing");
const view = geoqa.view.windowOf(opened.map, layer.topLeft, canvas.clientWidth, canvas.clientHeight);
const ratio = canvas.width / canvas.clientWidth;
const place = [(e - o[0]) / d, (n - o[1]) / d], x = view.x(...place) * ratio, y = view.y(...place) * ratio;
return [...canvas.getContext("2d").getImageData(Math.round(x), Math.round(y), 1, 1).data]; }"""


@pytest.fixture(scope="module")
def pictured(street, tmp_path_factory):
    """The street over grey ground with one red square of 20 ft, and where its middle is."""
    east, north = 2_228_700.0, 445_900.0
    path = tmp_path_factory.mktemp("picture") / "ortho.tif"
    bands = np.full((3, 800, 1600), 120, np.uint8)
    transform = Affine(1, 0, east - 300.0, 0, -1, north + 400.0)
    bands[:, 390:410, 290:310] = np.array([255, 0, 0], np.uint8)[:, None, None]
    profile = {"driver": "GTiff", "count": 3, "dtype": "uint8", "width": 1600, "height": 800, "crs": "EPSG:6547"}
    with rasterio.open(path, "w", **profile, transform=transform) as out:
        out.write(bands)
    frame = replace(street.layers.frame, horizontal_wkt=rasterio.CRS.from_epsg(6547).to_wkt())
    box = (east - 250.0, north - 350.0, east + 1250.0, north + 350.0)
    picture = BackgroundRaster().picture(
        path, frame=frame, box=box, declared="EPSG:6547", accept=False, what="ortho.tif"
    )
    shown = Background(file="ortho.tif", caption="", opacity=0.5, picture=picture)
    return replace(street, background=shown), (east, north)


def look(opened, east, north, zoom, up=0):
    page = opened.page
    page.wait_for_selector("body[data-pictured]")
    page.evaluate(
        """([e, n, z, up]) => { const o = opened.about.origin, d = geoqa.view.digit(); geoqa.view.turn(up);
        for (const name of Object.keys(geoqa.choice.state.layers))
        if (name !== "background") geoqa.choice.state.layers[name] = false;
        const centre = geoqa.view.latLng({ easting: (e - o[0]) / d, northing: (n - o[1]) / d });
        opened.map.setView(centre, z, {animate: false}); opened.layer.redraw(); }""",
        [east, north, zoom, up],
    )


def is_red(colour):
    red, green, blue, alpha = colour
    return alpha > 0 and red - max(green, blue) > 60


@pytest.mark.parametrize(("zoom", "up"), [(-1, 0), (1.5, 0), (4, 0), (1.5, 37), (4, -90)])
def test_a_painted_square_lies_at_its_coordinates_at_any_zoom_and_turned(pictured, show, zoom, up):
    results, (east, north) = pictured
    opened = show(results)
    look(opened, east, north, zoom, up)
    assert opened.messages == []  # reading pixels back, as below, makes the browser talk
    colour = lambda e, n: opened.page.evaluate(COLOUR, [e, n])  # noqa: E731
    reach = 2.0 if zoom > 0 else 4.0  # a screen pixel is 2 ft wide when far away
    for side in (-1, 1):
        assert is_red(colour(east + side * (10 - reach), north))
        assert not is_red(colour(east + side * (10 + reach), north))
        assert is_red(colour(east, north + side * (10 - reach)))
        assert not is_red(colour(east, north + side * (10 + reach)))
    assert opened.requests == [opened.url]


def test_the_picture_is_faint_and_its_switch_takes_it_away(pictured, show):
    results, (east, north) = pictured
    opened = show(results)
    look(opened, east, north, 2)
    *_, alpha = opened.page.evaluate(COLOUR, [east + 40, north + 40])
    assert alpha == pytest.approx(127, abs=2)
    drawn = opened.page.evaluate("() => opened.layer.drawn")
    opened.page.locator("#legend-button").click()
    opened.page.locator("#layer-background").uncheck()
    opened.page.wait_for_function("(before) => opened.layer.drawn > before", arg=drawn)
    assert opened.page.evaluate(COLOUR, [east + 40, north + 40])[3] == 0


def test_the_legend_says_what_the_picture_is_and_that_nothing_is_measured_on_it(pictured, show):
    page = show(pictured[0]).page
    said = page.locator("#background-words").inner_text()
    assert said == "ortho.tif, pixel 1 ft. Picture only: nothing is measured on it."
    assert page.locator("label", has_text="Background picture").count() == 1
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    assert page.locator("#background-words").is_visible()


def test_a_map_without_a_picture_has_no_switch_for_it(street, show):
    page = show(street).page
    assert page.locator("#layer-background").count() == 0
    assert page.locator("#background-words").count() == 0


def test_a_browser_that_cannot_decode_it_says_so_and_shows_the_rest(pictured, show):
    opened = show(pictured[0], before="window.createImageBitmap = () => Promise.reject(new Error('no'));")
    opened.page.wait_for_function(
        "() => document.getElementById('background-words').textContent.includes('cannot show')"
    )
    assert opened.page.locator("#list .item").count() > 0
    assert opened.messages == []
