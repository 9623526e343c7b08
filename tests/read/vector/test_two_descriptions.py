"""Elements and the lines drawn beside them: what one says and the other contradicts is found all along the line."""

import math
import sqlite3
from contextlib import closing

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from geoqa.errors import SourceError
from geoqa.read.design import DesignVector
from geoqa.read.vector.linework import Line, chords, elements_of
from geoqa.read.vector.two_descriptions import refuse_contradiction


def drawn_line(rng, name):
    """A line of legs and arcs with elevations, and how it is drawn: in chords, with the elevations along them."""
    turns = np.cumsum(rng.uniform(-0.6, 0.6, 6))
    steps = rng.uniform(20, 120, 6)[:, None] * np.column_stack([np.cos(turns), np.sin(turns)])
    vertices = np.vstack([[0.0, 0.0], np.cumsum(steps, axis=0)]) + rng.uniform(1e5, 2e6, 2)
    bulges = np.where(rng.random(6) < 0.5, rng.uniform(-0.6, 0.6, 6), 0.0)
    line = Line(
        name=name, kind="curb-flow", vertices=vertices, elevations=1460.0 + np.cumsum(rng.normal(0, 0.4, 7)),
        bulges=bulges, number=1, layer="lines",
    )  # fmt: skip
    elements = elements_of([line])
    places, heights = [vertices[:1]], [line.elevations[:1]]
    for at in range(6):
        part = np.asarray(chords(vertices[at : at + 2], bulges[at : at + 1]).coords)[1:, :2]
        share = np.hypot(*np.diff(np.vstack([vertices[at], part]), axis=0).T).cumsum()
        rise = line.elevations[at + 1] - line.elevations[at]
        heights.append(line.elevations[at] + rise * share / share[-1])
        places.append(part)
    return elements, np.concatenate(places), np.concatenate(heights)


def as_line(name, places, heights):
    return Line(
        name=name, kind="curb-flow", vertices=places, elevations=heights, bulges=np.zeros(len(places) - 1),
        number=1, layer="lines",
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(12))
def test_what_is_drawn_as_it_is_described_passes_and_each_plant_is_found(seed):
    rng = np.random.default_rng(seed)
    made = [drawn_line(rng, f"L{n}") for n in range(5)]
    table = pd.concat([each[0] for each in made], ignore_index=True)
    lines = [as_line(f"L{n}", places, heights) for n, (_, places, heights) in enumerate(made)]
    refuse_contradiction(table, lines, "a.gpkg")
    nth, row = int(rng.integers(5)), int(rng.integers(1, len(lines[0].vertices) - 1))
    row = min(row, len(lines[nth].vertices) - 2)
    ahead = lines[nth].vertices[row + 1] - lines[nth].vertices[row - 1]
    aside = np.array([-ahead[1], ahead[0]]) / math.hypot(*ahead)
    moved = lines[nth].vertices.copy()
    moved[row] += 9.0 * aside
    with pytest.raises(SourceError, match=rf"line 'L{nth}' lies \d+\.\d+ beside its elements .*\(1 such line\)"):
        refuse_contradiction(
            table, [*lines[:nth], as_line(f"L{nth}", moved, made[nth][2]), *lines[nth + 1 :]], "a.gpkg"
        )
    raised = made[nth][2].copy()
    raised[row] += 0.5
    with pytest.raises(SourceError, match=rf"line 'L{nth}' has elevation .*, its elements "):
        refuse_contradiction(
            table, [*lines[:nth], as_line(f"L{nth}", moved * 0 + made[nth][1], raised), *lines[nth + 1 :]], "a"
        )
    cut = np.delete(made[nth][1], range(1, len(made[nth][1]) - 1), axis=0)
    with pytest.raises(SourceError, match="beside its elements"):
        refuse_contradiction(table, [*lines[:nth], as_line(f"L{nth}", cut, raised[[0, -1]]), *lines[nth + 1 :]], "a")


def file_of(path, *, table="elements", shift=0.0, rise=0.0):
    places = np.array([[2231000.0, 445000.0], [2231100.0, 445000.0], [2231200.0, 445000.0]])
    line = as_line("A", places, np.array([1458.0, 1458.5, 1459.0]))
    drawn = np.column_stack([places + np.array([[0, 0], [0, shift], [0, 0]]), line.elevations + rise])
    shape = gpd.GeoDataFrame({"name": ["A"], "kind": ["k"]}, geometry=[shapely.LineString(drawn)], crs="EPSG:6547")
    shape.to_file(path, layer="lines")
    pyogrio.write_dataframe(elements_of([line]).astype({"sense": "int64"}), path, layer=table)
    return path


def test_the_job_says_which_description_counts(tmp_path):
    path = file_of(tmp_path / "a.gpkg", shift=9.0)
    with pytest.raises(SourceError, match=r'lies 9\.000 beside.*judged = "elements" or judged = "lines"'):
        DesignVector().read(path, source="d")
    north = {}
    for word in ("elements", "lines"):
        rows = DesignVector(judged=word).read(path, source="d").layers["design_elements"]
        north[word] = rows["end_northing"].iloc[0]
    assert north == {"elements": 445000.0, "lines": 445009.0}
    with pytest.raises(SourceError, match=r"has elevation 1458\.500, its elements 1458\.000"):
        DesignVector().read(file_of(tmp_path / "b.gpkg", rise=0.5), source="d")


def test_a_table_of_elements_is_known_in_any_case(tmp_path):
    source = DesignVector().read(file_of(tmp_path / "a.gpkg", table="Elements"), source="d")
    assert any("table elements" in each.because for each in source.evidence)
    with pytest.raises(SourceError, match="contradicts itself"):
        DesignVector().read(file_of(tmp_path / "b.gpkg", table="ELEMENTS", shift=3.0), source="d")


def test_text_in_a_column_of_numbers_is_no_zero(tmp_path):
    path = file_of(tmp_path / "a.gpkg")
    with closing(sqlite3.connect(path)) as file:
        file.execute("UPDATE elements SET end_elevation = 'tbd' WHERE sequence = 1")
        file.commit()
    with pytest.raises(
        SourceError, match=r"table elements, row 2: column end_elevation holds 'tbd', which is no number"
    ):
        DesignVector().read(path, source="d")
