"""Text that crews, programs and attackers leave in notes, through every output."""

import csv
import json
import sys

import fiona
import pyogrio
import pytest

from geoqa.write.gis.geojson import GeoJSON
from geoqa.write.gis.geopackage import FILE, GeoPackage
from geoqa.write.tables import Tables
from geoqa.write.text import one_line, safe_cell, visible


def _notes(results):
    return dict(zip(results.shots["shot_key"], results.shots["note"], strict=True))


@pytest.mark.long
def test_the_geopackage_gives_every_text_back_to_both_libraries(results, tmp_path):
    GeoPackage().write(results, tmp_path)
    wanted = {key: visible(note) for key, note in _notes(results).items()}
    found = pyogrio.read_dataframe(tmp_path / FILE, layer="shots").set_index("shot_key")["note"].to_dict()
    with fiona.open(tmp_path / FILE, layer="shots") as source:
        again = {record.properties["shot_key"]: record.properties["note"] for record in source}
    assert found == again == wanted
    assert len(wanted["day1/111"]) == 10_000


@pytest.mark.parametrize("file", ["shots.geojson", "shots_grid.geojson"])
def test_geojson_gives_every_text_back(results, tmp_path, file):
    GeoJSON().write(results, tmp_path)
    collection = json.loads((tmp_path / file).read_text(encoding="utf-8"))
    found = {each["properties"]["shot_key"]: each["properties"]["note"] for each in collection["features"]}
    assert found == {key: visible(note) for key, note in _notes(results).items()}


def test_delimited_text_gives_every_text_back_and_none_can_run(results, tmp_path):
    csv.field_size_limit(sys.maxsize)
    Tables().write(results, tmp_path)
    with (tmp_path / "shots.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    found = {row["shot_key"]: row["note"] for row in rows}
    assert found == {key: safe_cell(visible(note)) for key, note in _notes(results).items()}
    for row in rows:
        for cell in row.values():
            assert cell[:1] not in set("=+@\t\r\n＝＋－＠")
            assert cell[:1] != "-" or cell == "-" or float(cell) < 0


def test_a_nul_does_not_cut_a_text_short():
    assert visible("before\x00after") == "before␀after"


def test_direction_marks_markup_and_other_scripts_are_kept():
    text = "\u202eabc\u202c <b>&amp;</b> 雪 🙂"
    assert visible(text) == text


def test_half_a_character_is_replaced_and_not_an_error():
    assert visible("bad \ud800 half") == "bad ? half"


def test_text_for_one_line_keeps_its_words():
    assert one_line("a\r\nb\tc\x00") == "a / b c␀"
