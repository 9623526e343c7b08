"""The summary file."""

import json

import pytest

from geoqa.errors import OutputError
from geoqa.model.results import Results
from geoqa.write.summary import Summary


def test_it_holds_the_counts_with_title_frame_and_version(results, tmp_path):
    assert Summary().write(results, tmp_path) == ("summary.json",)
    said = json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))
    assert said["reported"] == {"OUT": 3, "IN": 3, "UNDECIDED": 1, "NO_DATA": 1}
    assert said["schema_version"] == 1
    assert said["title"]["name"] == results.title.name
    assert said["frame_facts"]["unit"] == "ft"
    assert said["review"].startswith("PRELIMINARY")
    assert said["mean"] is None


def test_its_keys_are_sorted(results, tmp_path):
    Summary().write(results, tmp_path)
    keys = list(json.loads((tmp_path / "summary.json").read_text(encoding="utf-8")))
    assert keys == sorted(keys)


def test_a_summary_that_takes_a_name_of_the_file_is_refused(results, tmp_path):
    taken = Results(title=results.title, layers=results.layers, summary={"title": 1}, record={})
    with pytest.raises(OutputError, match=r"may not hold \['title'\]"):
        Summary().write(taken, tmp_path)


def test_another_count_in_the_file_is_found(results, tmp_path):
    Summary().write(results, tmp_path)
    path = tmp_path / "summary.json"
    path.write_text(path.read_text(encoding="utf-8").replace('"OUT": 3', '"OUT": 2'), encoding="utf-8")
    with pytest.raises(OutputError, match="another 'reported'"):
        Summary().read_back(results, tmp_path)


def test_a_nan_in_the_file_is_refused(results, tmp_path):
    Summary().write(results, tmp_path)
    path = tmp_path / "summary.json"
    path.write_text(path.read_text(encoding="utf-8").replace('"OUT": 3', '"OUT": NaN'), encoding="utf-8")
    with pytest.raises(OutputError, match="NaN"):
        Summary().read_back(results, tmp_path)
