"""The difference of two surfaces in a real browser: off at first, where it should be, with its legend, offline."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.present.map.difference import ABOVE, ALPHA
from present.browser.test_background import COLOUR

pytestmark = [pytest.mark.browser, pytest.mark.long]

EAST, NORTH = 2_228_700.0, 445_900.0


@pytest.fixture
def differing(street):
    """A pad of 40 ft, 0.3 ft high, in cells of 4 ft, north-east of a place; level with the design beyond it."""
    row, column = np.divmod(np.arange(400), 20)
    high = (row < 10) & (column >= 10)
    cells = pd.DataFrame({"column": column, "row": row, "cell": 4.0, "surface": "FG",
                          "difference": np.where(high, 0.3, 0.0), "easting": EAST - 40 + (column + 0.5) * 4,
                          "northing": NORTH + 40 - (row + 0.5) * 4})  # fmt: skip
    tables = {**street.layers, "surface_picture": conform("surface_picture", cells)}
    return replace(street, layers=Layers(tables, frame=street.layers.frame))


def look(opened, zoom):
    opened.page.wait_for_selector("body[data-difference]")
    opened.page.evaluate(
        """([e, n, z]) => { const o = opened.about.origin, { layers } = geoqa.choice.state;
        for (const name of Object.keys(layers)) if (name !== "difference") layers[name] = false;
        opened.map.setView([n - o[1], e - o[0]], z, {animate: false}); opened.layer.redraw(); }""",
        [EAST, NORTH, zoom],
    )


@pytest.mark.parametrize("zoom", [0, 2, 4])
def test_it_is_off_at_first_and_lies_at_its_coordinates_once_it_is_on(differing, show, zoom):
    opened = show(differing)
    look(opened, zoom)
    colour = lambda east, north: opened.page.evaluate(COLOUR, [EAST + east, NORTH + north])  # noqa: E731
    assert colour(20, 20)[3] == 0
    assert not opened.page.locator("#difference").is_visible()
    drawn = opened.page.evaluate("() => opened.layer.drawn")
    opened.page.locator("#legend-button").click()
    assert not opened.page.locator("#layer-difference").is_checked()
    opened.page.locator("#layer-difference").check()
    opened.page.wait_for_function("(before) => opened.layer.drawn > before", arg=drawn)
    high = tuple(int(ABOVE[0][at : at + 2], 16) for at in (1, 3, 5))
    for east, north in ((3, 3), (37, 37), (3, 37)):
        red, green, blue, alpha = colour(east, north)
        assert alpha == pytest.approx(ALPHA, abs=2)
        assert (red, green, blue) == pytest.approx(high, abs=3)
    assert colour(-3, 3)[:3] != list(high)
    assert colour(44, 20)[3] == 0
    said = opened.page.locator("#difference").inner_text()
    assert "above" in said
    assert "judges nothing" in said
    assert opened.foreign() == []


def test_a_map_without_two_surfaces_has_neither_switch_nor_script(street, show):
    page = show(street).page
    assert page.locator("#layer-difference").count() == 0
    assert "geoqa-difference" not in page.content()
