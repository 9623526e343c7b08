"""LandXML that is written: read back by our own reader, its structure, its unit, hostile text, surfaces."""

from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.errors import OutputError
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.read.landxml.contents import surfaces_of
from geoqa.read.landxml.design import DesignLandXML
from geoqa.read.landxml.points import ShotsLandXML
from geoqa.steps.linework.asbuilt_lines import AsBuiltLines
from geoqa.write.cad.landxml import FILE, LandXML

SPACE = "{http://www.landxml.org/schema/LandXML-1.2}"
CHILDREN = ["Units", "CoordinateSystem", "Project", "Application", "CgPoints", "PlanFeatures", "Surfaces"]
NEEDED = {
    "LandXML": {"version", "date", "time"},
    "Imperial": {"areaUnit", "linearUnit", "volumeUnit", "temperatureUnit", "pressureUnit"},
    "Metric": {"areaUnit", "linearUnit", "volumeUnit", "temperatureUnit", "pressureUnit"},
    "Project": {"name"},
    "Application": {"name"},
    "PlanFeature": {"name"},
    "Surface": {"name"},
    "Definition": {"surfType"},
    "P": {"id"},
}
"""Attributes that the schema asks for."""
TRIANGLES = {
    "surface_points": {
        "surface": ["EG"] * 4 + ["FG"] * 3,
        "source": "tin",
        "point": [0, 1, 2, 3, 0, 1, 2],
        "easting": [0.1, 100.0, 0.0, 100.0, 5.0, 6.0, 5.0],
        "northing": [0.0, 0.0, 100.0, 100.0, 5.0, 5.0, 1.0 / 3.0],
        "elevation": [100.0, 101.0, 102.0, 103.0, 7.0, 8.0, 9.0],
    },
    "surface_faces": {
        "surface": ["EG", "EG", "FG"],
        "source": "tin",
        "first": [0, 1, 0],
        "second": [1, 3, 1],
        "third": [2, 2, 2],
    },
}


def with_surfaces(results):
    tables = {name: conform(name, pd.DataFrame(columns)) for name, columns in TRIANGLES.items()}
    return replace(results, layers=Layers({**dict(results.layers.items()), **tables}, frame=results.layers.frame))


def in_unit(results, unit):
    frame = replace(results.layers.frame, unit=unit)
    return replace(results, layers=Layers(dict(results.layers.items()), frame=frame))


def test_our_own_reader_gives_every_shot_back(results, tmp_path):
    LandXML().write(results, tmp_path)
    found = ShotsLandXML().read(tmp_path / FILE, source="x").layers["shots"].set_index("shot")
    shots = results.shots[results.shots["easting"].notna()]
    assert len(found) == len(shots) == len(results.shots) - 1
    names = shots["shot"].fillna(shots["shot_key"]).tolist()
    for column in ("easting", "northing", "elevation"):
        np.testing.assert_array_equal(found.loc[names, column].to_numpy(), shots[column].to_numpy())
    assert found["code"].tolist() == ["CTB"] * len(found)


def joined(results):
    """The results with the lines that the step makes of their shots."""
    made = testing.run(results.layers, AsBuiltLines())
    return replace(results, layers=made)


def lines_in(folder, name):
    reader = DesignLandXML(states=("existing",), kinds={name: "curb-top", "*": ""})
    return reader.read(folder / FILE, source="x")


def test_lines_the_crew_joined_go_through_their_shots_in_order(results, tmp_path):
    LandXML().write(joined(results), tmp_path)
    source = lines_in(tmp_path, "CTB CTB-L")
    elements = source.layers["design_elements"]
    shots = results.shots[results.shots["easting"].notna() & results.shots["use"]]
    assert set(elements["line"]) == {"CTB CTB-L"}
    assert len(elements) == len(shots) - 1
    np.testing.assert_allclose(elements["end_easting"].to_numpy(), np.sort(shots["easting"].to_numpy())[1:], atol=1e-6)
    assert source.crs == "EPSG:6547"


@pytest.mark.parametrize("hours", [0.75, 24.0])
@pytest.mark.parametrize("seed", range(3))
def test_a_line_shot_again_is_a_line_of_its_own_for_each_pass(results, tmp_path, seed, hours):
    """Planted: one line walked twice; no line may go from the end of one pass to the beginning of the other."""
    rng, day = np.random.default_rng(seed), pd.Timestamp("2026-03-14 14:00", tz="UTC")
    places = [(float(at), nth) for nth in (0, 1) for at in np.arange(0.0, 201.0, 25.0) + 9.0 * nth]
    rows = [
        {"offset": float(rng.normal(0, 0.02)), "station": at, "elevation": 100.0, "line_id": "1", "sequence": None,
         "session": "AB"[nth] if hours > 1 else "A", "time": day + pd.Timedelta(hours=hours * nth, minutes=at / 25.0)}
        for at, nth in places
    ]  # fmt: skip
    made = testing.run(testing.layers(shots=testing.judged_shots(rows)), AsBuiltLines())
    tables = {**dict(results.layers), **{name: made[name] for name in AsBuiltLines.gives}}
    LandXML().write(replace(results, layers=Layers(tables, frame=results.layers.frame)), tmp_path)
    elements = lines_in(tmp_path, "CTB *").layers["design_elements"]
    assert sorted(set(elements["line"])) == ["CTB 1", "CTB 1, second pass"]
    assert (elements["length"] < 26.0).all()


def test_without_the_lines_of_that_step_none_is_made_up(results, tmp_path):
    """Drawing and GeoPackage draw none either: what a line is, and what its second pass, the step alone says."""
    LandXML().write(results, tmp_path)
    assert LandXML().read_back(results, tmp_path)[FILE]["lines"] == 0


def test_surfaces_come_back_as_they_were(results, tmp_path):
    LandXML().write(with_surfaces(results), tmp_path)
    found = {each.name: each for each in surfaces_of(tmp_path / FILE)}
    assert sorted(found) == ["EG", "FG"]
    np.testing.assert_array_equal(found["FG"].points, [[5.0, 5.0, 7.0], [6.0, 5.0, 8.0], [5.0, 1.0 / 3.0, 9.0]])
    assert found["EG"].faces.tolist() == [[0, 1, 2], [1, 3, 2]]


@pytest.mark.parametrize(
    ("unit", "word"), [(FOOT, "foot"), (US_SURVEY_FOOT, "USSurveyFoot"), (METRE, "meter")], ids=lambda each: str(each)
)
def test_the_foot_is_the_jobs_own(results, tmp_path, unit, word):
    LandXML().write(in_unit(results, unit), tmp_path)
    root = ElementTree.parse(tmp_path / FILE).getroot()
    assert [each.get("linearUnit") for each in root.find(f"{SPACE}Units")] == [word]
    assert ShotsLandXML().read(tmp_path / FILE, source="x").unit == unit


def test_the_structure_is_that_of_the_schema(results, tmp_path):
    LandXML().write(joined(with_surfaces(results)), tmp_path)
    root = ElementTree.parse(tmp_path / FILE).getroot()
    names = [each.tag.removeprefix(SPACE) for each in root]
    assert names == sorted(names, key=CHILDREN.index)
    for element in root.iter():
        own = element.tag.removeprefix(SPACE)
        assert not own.startswith("{")
        assert NEEDED.get(own, set()) <= set(element.keys()), own
    assert {each.tag.removeprefix(SPACE) for each in root.iter(f"{SPACE}Line") for each in each} == {"Start", "End"}
    points = [each.get("name") for each in root.iter(f"{SPACE}CgPoint")]
    assert len(points) == len(set(points))


def test_hostile_text_stays_text(results, tmp_path):
    LandXML().write(results, tmp_path)
    root = ElementTree.parse(tmp_path / FILE).getroot()
    notes = {each.get("name"): each.get("desc") for each in root.iter(f"{SPACE}CgPoint")}
    assert notes["100"].startswith("<script>alert(1)</script>")
    assert notes["107"] == "nul␀after nul" or "␀" in notes["107"]


def test_reading_back_finds_what_was_changed(results, tmp_path):
    judged = with_surfaces(results)
    LandXML().write(judged, tmp_path)
    counts = LandXML().read_back(judged, tmp_path)[FILE]
    assert (counts["points"], counts["surface points"], counts["faces"]) == (len(results.shots) - 1, 7, 3)
    text = (tmp_path / FILE).read_text(encoding="utf-8")
    for old, new, what in (
        ('linearUnit="foot"', 'linearUnit="USSurveyFoot"', "unit"),
        ("<F>1 2 3</F>", "<F>1 3 2</F>", "faces"),
        ("446000.0 2228500.0", "446000.01 2228500.0", "points"),
    ):
        assert old in text
        (tmp_path / FILE).write_text(text.replace(old, new, 1), encoding="utf-8")
        with pytest.raises(OutputError, match=f"gives back other {what}"):
            LandXML().read_back(judged, tmp_path)
    (tmp_path / FILE).write_text(text[:500], encoding="utf-8")
    with pytest.raises(OutputError, match="cannot be opened again"):
        LandXML().read_back(judged, tmp_path)
