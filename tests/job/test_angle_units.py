"""A log whose angles are in gon or radians, from `init` and `check` to the tilt test."""

import numpy as np
import pandas as pd
import pytest

from bench.tilt_story import STORY_FILE, write_story
from geoqa.job.begin.begin import FILE, begin
from geoqa.job.check import check
from geoqa.job.run import run

pytestmark = pytest.mark.long

TURNS = {"gon": 400.0, "rad": 2 * np.pi}


def story(folder, unit, *, stated="", heads=("Lean Angle", "Lean Azimuth")):
    """The tilt test, its angles in another unit and under other headings."""
    job = write_story(folder)
    file = folder / "shots" / "test.csv"
    table = pd.read_csv(file, dtype=str)
    for name in ("tilt_deg", "tilt_azimuth_deg"):
        table[name] = (table[name].astype(float) * TURNS[unit] / 360.0).map("{:.4f}".format)
    table = table.rename(columns=dict(zip(("tilt_deg", "tilt_azimuth_deg"), heads, strict=True)))
    table.to_csv(file, index=False, lineterminator="\n")
    if stated:
        text = job.read_text(encoding="utf-8")
        job.write_text(text.replace('confidence = "1 sigma"', f'confidence = "1 sigma"\nangle_unit = "{stated}"'))
    return job


@pytest.mark.parametrize("unit", ["gon", "rad"])
def test_the_test_says_nothing_until_the_unit_is_stated(tmp_path, unit):
    job = story(tmp_path, unit)
    results = run(job, write=False)
    test = results.layers["tilt_test"].iloc[0]
    assert test["conclusion"].startswith("Nothing can be said about tilt: the angles of test look like")
    assert results.layers["tilt_limits"].empty
    assert "angle_unit" in results.layers["tilt_plan"]["words"].iloc[0]
    (asked,) = [note for note in results.notes if "angle_unit" in note and note.startswith("shots/test.csv")]
    assert "No azimuth of this file is taken" in asked
    assert [each for each in check(job).remarks if "No azimuth of this file is taken" in each]


@pytest.mark.parametrize("unit", ["gon", "rad"])
def test_stated_it_is_the_test_in_degrees(tmp_path, unit):
    plain = run(write_story(tmp_path / "plain"), write=False).layers["tilt_model"].set_index("quantity")["value"]
    found = run(story(tmp_path / "other", unit, stated=unit), write=False).layers["tilt_model"]
    found = found.set_index("quantity")["value"]
    np.testing.assert_allclose(found["heading-bias"], plain["heading-bias"], atol=0.01)
    np.testing.assert_allclose(found["heading-spread"], plain["heading-spread"], atol=0.01)


def test_a_draft_asks_for_the_unit(tmp_path):
    story(tmp_path, "gon")
    (tmp_path / STORY_FILE).unlink()
    begin(tmp_path)
    text = (tmp_path / FILE).read_text(encoding="utf-8")
    (line,) = [each for each in text.splitlines() if each.startswith("angle_unit")]
    assert line.startswith('angle_unit = "REQUIRED"   # "gon"?')


def test_a_single_impossible_azimuth_is_flagged_for_its_shot(tmp_path):
    job = write_story(tmp_path)
    file = tmp_path / "shots" / "test.csv"
    table = pd.read_csv(file, dtype=str)
    table.loc[10, "tilt_azimuth_deg"] = "721.0"
    table.to_csv(file, index=False, lineterminator="\n")
    results = run(job, write=False)
    flags = results.layers["flags"]
    (key,) = flags.loc[flags["flag"] == "no-angle", "shot_key"]
    shots = results.layers["shots"].set_index("shot_key")
    assert shots.loc[key, "line"] == 12
    assert np.isnan(shots.loc[key, "tilt_azimuth"])
