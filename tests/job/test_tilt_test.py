"""The sample job tilt_test: what it says, its page, and that it is what the simulator writes."""

import re
import shutil
import tomllib
from pathlib import Path

import pytest

from bench.leaning import HEADING_BIAS
from bench.tilt_story import STORY_FILE, U_PLUMB, WRONG, write_story
from geoqa.job.run import run

pytestmark = pytest.mark.long

SAMPLE = Path(__file__).resolve().parents[2] / "sample_jobs" / "tilt_test"


@pytest.fixture(scope="module")
def results():
    return run(SAMPLE / STORY_FILE, write=False)


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tilt") / "job"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("out"))
    run(folder / STORY_FILE)
    return (folder / "out" / "tilt.html").read_text(encoding="utf-8")


def test_the_folder_holds_exactly_one_job_file_and_its_story():
    assert [each.name for each in SAMPLE.glob("*.toml")] == [STORY_FILE]
    assert (SAMPLE / "README.md").is_file()


def test_a_tolerance_that_only_the_rod_has_to_prove_is_not_called_misspelt(results):
    assert results.layers["tilt_limits"]["kind"].nunique() == 3
    assert not [note for note in results.notes if "misspelt" in note]


def test_the_sample_is_what_the_simulator_writes(tmp_path):
    write_story(tmp_path)
    files = [each for each in tmp_path.rglob("*") if each.is_file()]
    assert len(files) == 5
    for file in files:
        assert (SAMPLE / file.relative_to(tmp_path)).read_text(encoding="utf-8") == file.read_text(encoding="utf-8")


def test_what_is_planted_lies_inside_its_own_bands(results):
    model = results.layers["tilt_model"].set_index("quantity")
    planted = {
        "heading-bias": HEADING_BIAS,
        "heading-spread": WRONG.heading_spread,
        "angle-spread": WRONG.angle_spread,
        "angle-bias": 0.0,
        "rod-error": 0.0,
        "plumb-h": U_PLUMB,
        "plumb-v": U_PLUMB,
    }
    for name, true in planted.items():
        assert model.loc[name, "low"] <= true <= model.loc[name, "high"], name
    assert set(model.index[model["significant"]]) == {"heading-bias"}


def test_the_first_note_is_the_conclusion_with_the_number_of_shots(results):
    assert results.notes[0].startswith(
        "How far the rod may lean, with half of a tolerance used up (cautious limits). In plan: "
    )
    assert "From 144 tilted and 48 plumb shots on 12 points" in results.notes[0]
    assert "the heading is read" in results.notes[0]


def test_the_largest_lean_is_larger_once_the_heading_is_set_right(results):
    limits = results.layers["tilt_limits"]
    mine = limits[(limits["kind"] == "curb-top") & (limits["check"] == "offset") & (limits["deviation"] == 0)]
    kept, right = (mine.loc[mine["biases"] == each, "tilt"].iloc[0] for each in ("kept", "removed"))
    assert 5.0 < kept < right < 31.5
    assert (limits["tilt"].dropna() <= limits["tested"].max()).all()


def test_the_proposed_setting_is_a_valid_table_that_covers_bias_and_scatter(results):
    table = tomllib.loads(results.layers["tilt_test"]["setting"].iloc[0])["tilt"]
    assert 1.5 < table["heading_deg"] < 2.2
    assert table["up_to_deg"] <= 31.5


def test_the_page_says_the_conclusion_and_fetches_nothing(page, results):
    assert results.layers["tilt_test"]["conclusion"].iloc[0] in page
    assert page.count("<svg ") >= 5
    links = re.findall(r"(?:src|href|url)\s*[=(]\s*[\"']?([^\"')\s>]+)", page)
    assert [each for each in links if not each.startswith("#")] == []
    assert re.findall(r"https?://(?!www\.w3\.org/2000/svg)\S+", page) == []
    assert "<script" not in page


def test_the_page_prints_the_number_of_shots_behind_every_plot(page):
    assert page.count("n = 48") == 9
