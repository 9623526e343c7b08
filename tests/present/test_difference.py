"""The picture of two surfaces: which cell lies where, in which colour, and what the legend says of it."""

import warnings

import numpy as np
import pandas as pd
import pytest
from rasterio.errors import NotGeoreferencedWarning
from rasterio.io import MemoryFile

from geoqa.model.tables.columns import conform
from geoqa.present.map.difference import ABOVE, ALPHA, BELOW, NEAR, difference
from geoqa.testing import layers

WEST, NORTH = 2_228_500.0, 446_400.0


def made(values, *, cell=4.0, limit=0.10, where=None):
    """A row of cells; `where` says which columns they stand in."""
    column = np.arange(len(values)) if where is None else np.array(where)
    cells = pd.DataFrame({"column": column, "row": 0, "cell": cell, "difference": values, "surface": "FG",
                          "easting": WEST + (column + 0.5) * cell, "northing": NORTH - 0.5 * cell})  # fmt: skip
    tables = {"surface_picture": conform("surface_picture", cells)}
    if limit:
        row = {"ruleset": "job", "kind": "ground", "check": "surface", "quantity": "length", "lower": -limit,
               "upper": limit, "rule": "guarded", "reference": "-", "edition": None, "verified": False}  # fmt: skip
        tables["limits"] = conform("limits", pd.DataFrame([row]))
    return difference(layers(**tables), (2_229_000.0, 446_000.0))


def pixels(picture):
    with (
        warnings.catch_warnings(action="ignore", category=NotGeoreferencedWarning),
        MemoryFile(picture.png) as file,
        file.open() as raster,
    ):
        palette = raster.colormap(1)
        return [palette[each] for each in raster.read(1)[0].tolist()]


def test_every_class_has_the_colour_that_the_legend_tells():
    found = made([0.3, 0.15, 0.07, 0.0, -0.07, -0.15, -0.3])
    classes = found.about["classes"]
    assert [each["colour"] for each in classes] == [*ABOVE[::-1], NEAR, *BELOW]
    assert [f"#{r:02x}{g:02x}{b:02x}" for r, g, b, _ in pixels(found)] == [each["colour"] for each in classes]
    assert {alpha for *_, alpha in pixels(found)} == {ALPHA}
    assert [each["text"] for each in classes] == [
        "more than 0.20 ft above", "0.10 ft to 0.20 ft above", "0.05 ft to 0.10 ft above",
        "within 0.05 ft of the design",
        "0.05 ft to 0.10 ft below", "0.10 ft to 0.20 ft below", "more than 0.20 ft below",
    ]  # fmt: skip
    assert "the tolerance of the surface is 0.10 ft" in found.about["words"]
    assert "judges nothing" in found.about["words"]


def test_it_lies_by_its_outer_corner_counted_from_the_origin_and_holes_are_clear():
    found = made([0.0, 0.3], where=[2, 5])
    place = {name: found.about[name] for name in ("west", "north", "pixel", "width", "height")}
    assert place == {"west": WEST + 8.0 - 2_229_000.0, "north": 400.0, "pixel": 4.0, "width": 4, "height": 1}
    assert [alpha for *_, alpha in pixels(found)] == [ALPHA, 0, 0, ALPHA]


def test_the_same_cells_make_the_same_bytes_and_few_of_them():
    values = np.random.default_rng(3).normal(0, 0.1, 40_000)
    assert made(values).png == made(values).png
    assert len(made(np.repeat(values[:400], 100)).png) < 40_000


@pytest.mark.parametrize(
    ("scale", "said"), [(0.09, "within 0.05 ft of the design"), (1.7, "within 1.00 ft of the design")]
)
def test_without_a_tolerance_the_classes_are_round_sizes_of_what_there_is(scale, said):
    found = made(np.linspace(-scale, scale, 41), limit=None)
    assert said in [each["text"] for each in found.about["classes"]]
    assert "tolerance" not in found.about["words"]


def test_a_job_without_cells_has_no_picture():
    assert difference(layers(), (0.0, 0.0)) is None
