"""The tilt page: the same bytes, nothing obeyed, and something to say in every case."""

from types import SimpleNamespace

import pandas as pd
import pytest

from geoqa.frames.systems.resolve import resolve
from geoqa.model.results import Title
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.present.drawing import text, ticks
from geoqa.present.tilt.page import TiltPage, page

HOSTILE = "</p><script>alert(1)</script>&\"'"


def results_of(tables, *, unit="EPSG:6547", name=HOSTILE):
    starting = {name: empty(name) for name in ("tilt_pairs", "tilt_model", "tilt_curve", "tilt_classes", "tilt_limits")}
    layers = Layers(starting | {"tilt_plan": empty("tilt_plan")} | tables, frame=resolve(unit))
    return SimpleNamespace(title=Title(name=name, date="2026-03-14", client=HOSTILE), layers=layers)


def one_test(**changes):
    facts = {"points": 1, "plumb_shots": 2, "tilted_shots": 2, "left_out": 0, "tilt_low": 10.0, "tilt_high": 20.0}
    facts |= {"with_azimuths": False, "conclusion": HOSTILE, "setting": HOSTILE}
    return conform("tilt_test", pd.DataFrame([facts | changes]))


def some_pairs(azimuth=None):
    rows = [
        {"shot_key": f"a/{number}", "point": HOSTILE, "tilt": tilt, "azimuth": azimuth, "plumb_shots": 2,
         "difference_e": 0.01 * number, "difference_n": -0.02, "difference_v": 0.005}
        for number, tilt in enumerate((10.0, 20.0))
    ]  # fmt: skip
    return conform("tilt_pairs", pd.DataFrame(rows))


def some_classes():
    rows = [
        {"low": 5.0, "high": 12.0, "largest": 10.0, "shots": 1},
        {"low": 18.0, "high": 25.0, "largest": 20.0, "shots": 1},
    ]
    return conform("tilt_classes", pd.DataFrame(rows))


def test_a_job_without_a_test_says_so():
    assert "no shots of a tilt test" in page(results_of({}))


@pytest.mark.parametrize("unit", ["EPSG:6547", "EPSG:6546"])
def test_a_test_without_azimuths_is_drawn_in_either_unit_and_says_what_is_missing(unit):
    tables = {"tilt_test": one_test(), "tilt_pairs": some_pairs(), "tilt_classes": some_classes()}
    made = page(results_of(tables, unit=unit))
    assert "The log has no azimuths of the lean" in made
    assert "no azimuths in the log" in made
    assert made.count("<svg ") == 7


def test_text_of_files_is_shown_and_never_obeyed():
    plan = conform("tilt_plan", pd.DataFrame({"order": [1], "shots": [0], "words": [HOSTILE], "reason": [HOSTILE]}))
    tables = {
        "tilt_test": one_test(),
        "tilt_pairs": some_pairs(45.0),
        "tilt_classes": some_classes(),
        "tilt_plan": plan,
    }
    made = page(results_of(tables))
    assert "<script" not in made
    assert made.count("&lt;script&gt;") >= 5
    assert "<script" not in text(1, 2, HOSTILE)


def test_the_file_is_the_same_for_the_same_results(tmp_path):
    results = results_of({"tilt_test": one_test(), "tilt_pairs": some_pairs(45.0), "tilt_classes": some_classes()})
    assert TiltPage().write(results, tmp_path) == ("tilt.html",)
    first = (tmp_path / "tilt.html").read_bytes()
    TiltPage().write(results, tmp_path)
    assert (tmp_path / "tilt.html").read_bytes() == first
    assert b"\r" not in first


def test_ticks_are_round_and_inside():
    assert ticks(0.0, 0.0) == [0.0]
    for low, high in ((-0.231, 0.231), (0.0, 35.0), (-71.0, 68.0), (1e-6, 3e-6)):
        found = ticks(low, high)
        assert low <= found[0]
        assert found[-1] <= high
        assert 3 <= len(found) <= 11
