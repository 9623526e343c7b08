"""The view turned along a long and thin job: north told, and every coordinate and distance still that of the grid.

Where a shot lies on the screen is found here from the azimuth that is up and from the scale alone, without the page.
"""

import math
import re

import pyproj
import pytest

pytestmark = [pytest.mark.browser, pytest.mark.long]

STATE = """() => { const { map, about } = opened, size = map.getSize();
const box = map.getContainer().getBoundingClientRect();
const middle = geoqa.view.placeOf(map.getCenter()), d = geoqa.view.digit();
return { up: geoqa.view.up(), zoom: map.getZoom(), left: box.x + size.x / 2, top: box.y + size.y / 2,
easting: middle.easting * d + about.origin[0], northing: middle.northing * d + about.origin[1] }; }"""


def on_screen(state, easting, northing):
    """Pixels of a place of the grid, from the middle of the map, the azimuth that is up, and the scale."""
    east, north, up = easting - state["easting"], northing - state["northing"], math.radians(state["up"])
    length, azimuth = math.hypot(east, north) * 2 ** state["zoom"], math.atan2(east, north) - up
    return state["left"] + length * math.sin(azimuth), state["top"] - length * math.cos(azimuth)


def go(page, easting, northing, zoom):
    page.evaluate(
        """([e, n, z]) => { const { origin: o } = opened.about, d = geoqa.view.digit();
        const place = { easting: (e - o[0]) / d, northing: (n - o[1]) / d };
        opened.map.setView(geoqa.view.latLng(place), z, { animate: false }); }""",
        [easting, northing, zoom],
    )


def cursor(page, where):
    page.mouse.move(*where)
    said = page.locator("#cursor").inner_text()
    return [float(each) for each in re.match(r"E (\S+)\s+N (\S+) ", said).groups()]


def test_a_long_and_thin_job_lies_along_the_screen_and_north_goes_up_at_a_press(slanting, show):
    opened = show(slanting, width=1280, height=800)
    page = opened.page
    state = page.evaluate(STATE)
    assert state["up"] == pytest.approx(-50, abs=3)  # azimuth 40 to the right is azimuth -50 up
    shots = slanting.shots[["easting", "northing"]]
    seen = [on_screen(state, *place) for place in shots.to_numpy()]
    box = page.locator("#map").bounding_box()
    assert all(box["x"] < x < box["x"] + box["width"] and box["y"] < y < box["y"] + box["height"] for x, y in seen)
    assert page.locator("#north").get_attribute("aria-label") == f"Grid north is {-state['up']}° right of up"
    page.locator("#north-up").click()
    north_up = page.evaluate(STATE)
    assert north_up["up"] == 0
    assert state["zoom"] >= north_up["zoom"]
    assert page.locator("#north").get_attribute("aria-label") == "Grid north is up"
    page.locator("#north-up").click()
    assert page.evaluate(STATE) == state
    assert opened.messages == []


def test_a_wide_job_on_a_wide_screen_stays_north_up_without_a_switch(sample, show):
    page = show(sample, width=1280, height=800).page
    assert page.evaluate(STATE)["up"] == 0
    assert not page.locator("#north-up").is_visible()


def test_on_a_phone_the_job_runs_up_the_screen(sample, show):
    page = show(sample, width=390, height=844).page
    state = page.evaluate(STATE)
    assert abs(state["up"]) == pytest.approx(90, abs=10)
    tools = page.locator("#tools").bounding_box()
    design = sample.layers["design_elements"]
    tops = [on_screen(state, *place)[1] for place in design[["start_easting", "start_northing"]].to_numpy()]
    assert min(tops) > tools["y"] + tools["height"]  # no key lies on the job


@pytest.mark.parametrize("width", [1280, 390])
def test_the_cursor_says_what_the_coordinate_library_says(sample, show, width):
    """pyproj 3.7, EPSG:6547: from longitude and latitude to the grid, to the digits that are shown."""
    page = show(sample, width=width, height=844).page
    there = pyproj.Transformer.from_crs("EPSG:6318", "EPSG:6547", always_xy=True)
    back = pyproj.Transformer.from_crs("EPSG:6547", "EPSG:6318", always_xy=True)
    for name, zoom in (("CP-2", 5), ("CP-3", 3), ("CP-5", 1)):
        mark = sample.layers["control"].set_index("mark").loc[name]
        longitude, latitude = (round(each, 9) for each in back.transform(mark.easting, mark.northing))
        east, north = there.transform(longitude, latitude)
        go(page, east - 2, north + 3, zoom)
        state = page.evaluate(STATE)
        told = cursor(page, on_screen(state, east, north))
        # the browser points to whole pixels at worst
        assert math.dist(told, (east, north)) < 0.75 / 2**zoom + 0.01


def test_a_click_opens_the_shot_and_a_distance_is_that_of_the_grid(slanting, show):
    page = show(slanting, width=1280, height=800).page
    first, second = (slanting.shots.iloc[row] for row in (700, 703))
    go(page, (first.easting + second.easting) / 2, (first.northing + second.northing) / 2, 3)
    state = page.evaluate(STATE)
    assert state["up"]
    page.locator("#measure-button").click()
    for shot in (first, second):
        page.mouse.click(*on_screen(state, shot.easting, shot.northing))
    told = page.locator("#measured").inner_text()
    east, north = second.easting - first.easting, second.northing - first.northing
    assert told.startswith(f"{math.hypot(round(east, 3), round(north, 3)):.3f} ft at shot {second.shot}")
    assert f"azimuth {math.degrees(math.atan2(east, north)) % 360:.2f}°" in told
    page.keyboard.press("Escape")
    page.mouse.click(*on_screen(state, first.easting, first.northing))
    page.wait_for_selector(".card")
    assert first.shot in page.locator(".card").inner_text()


def test_numbers_of_the_grid_stand_where_their_lines_meet_the_edge(slanting, show):
    page = show(slanting, width=1280, height=800).page
    state, box = page.evaluate(STATE), page.locator("#map").bounding_box()
    told = page.locator("#grid-numbers span")
    assert told.count() >= 4
    for each in told.all():
        axis, value = each.inner_text().split()
        at = each.bounding_box()
        edge_y = at["y"] - box["y"] < 8
        middle = (at["x"] + at["width"] / 2, box["y"]) if edge_y else (box["x"], at["y"] + at["height"] / 2)
        east, north = cursor_at(state, middle)
        assert {"E": east, "N": north}[axis] == pytest.approx(float(value), abs=1.0 / 2 ** state["zoom"])


def cursor_at(state, where):
    """The place of the grid under a pixel; the reverse of `on_screen`."""
    right, down = where[0] - state["left"], where[1] - state["top"]
    length, azimuth = math.hypot(right, down) / 2 ** state["zoom"], math.atan2(right, -down) + math.radians(state["up"])
    return state["easting"] + length * math.sin(azimuth), state["northing"] + length * math.cos(azimuth)


def test_on_paper_the_job_lies_along_the_sheet_at_a_round_scale(slanting, sample, show):
    page = show(slanting, width=1280, height=800).page
    before = page.evaluate(STATE)
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    state = page.evaluate(STATE)
    assert state["up"] == pytest.approx(-50, abs=3)
    feet = float(re.match(r"1 in = ([\d,]+) ft", page.locator("#paper-scale").inner_text())[1].replace(",", ""))
    assert 96 / 2 ** state["zoom"] == pytest.approx(feet)
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    assert page.evaluate(STATE) == pytest.approx(before)
    page = show(sample, width=390, height=844).page
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate(STATE)["up"] == 0
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    assert abs(page.evaluate(STATE)["up"]) > 80
