"""The sample job wrong_foot: what it says, that its one remedy clears it, and that it is what the simulator writes."""

import shutil
from pathlib import Path

import pandas as pd
import pytest

from bench.wrong_foot import STORY_FILE, write_story
from geoqa.job.run import run
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT

pytestmark = pytest.mark.long

SAMPLE = Path(__file__).resolve().parents[2] / "sample_jobs" / "wrong_foot"


@pytest.fixture(scope="module")
def results():
    return run(SAMPLE / STORY_FILE, write=False)


def test_the_folder_holds_exactly_one_job_file_and_its_story():
    assert [each.name for each in SAMPLE.glob("*.toml")] == [STORY_FILE]
    assert (SAMPLE / "README.md").is_file()


def test_the_sample_is_what_the_simulator_writes(tmp_path):
    write_story(tmp_path)
    files = [each for each in tmp_path.rglob("*") if each.is_file() and each.suffix not in (".gpkg", ".tif")]
    assert len(files) == 11
    for file in files:
        kept = SAMPLE / file.relative_to(tmp_path)
        assert kept.read_text(encoding="utf-8") == file.read_text(encoding="utf-8"), kept.name


def test_day_two_is_said_to_be_in_survey_feet_and_day_one_to_be_sound(results):
    told = results.layers["causes"].query("explanation == 1").iloc[0]
    assert (told["status"], told["cause"], told["subject"]) == ("named", "foot", "file day2")
    shots = results.layers["shots"].set_index("shot_key")
    spoiled = results.layers["cause_shots"]["shot_key"]
    assert set(spoiled) == set(shots.index[shots["source"] == "day2"])
    # the ratio of the two feet is exact: 1 - 0.3048 / (1200/3937)
    short = 1 - float(FOOT.metres / US_SURVEY_FOOT.metres)
    middle = shots.loc[spoiled, ["easting", "northing"]].mean()
    assert told["shift_easting"] == pytest.approx(-middle["easting"] * short, abs=0.001)
    assert told["shift_northing"] == pytest.approx(-middle["northing"] * short, abs=0.001)


def test_the_first_note_names_the_blunder_and_the_change_to_make(results):
    assert results.notes[0].startswith("Survey blunder? Wrong kind of foot")
    assert 'set unit = "ftUS" in [[shots]] of day2, and run again' in results.notes[0]


def test_no_shot_of_day_two_is_called_a_defect(results):
    findings = results.findings
    out = findings[(findings["verdict"] == "OUT") & findings["shot"].str.startswith("day2/")]
    assert set(out["check"]) <= {"control-position"}
    assert set(findings.loc[findings["verdict"] == "OUT", "check"]) == {"diagnosis", "control-position"}


def test_the_one_remedy_clears_everything(tmp_path):
    folder = tmp_path / "job"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("out"))
    path = folder / STORY_FILE
    text = path.read_text(encoding="utf-8")
    first, second = text.split('file         = "shots/day2.csv"')
    path.write_text(
        first + 'file         = "shots/day2.csv"' + second.replace('unit         = "ft" ', 'unit         = "ftUS" ', 1),
        encoding="utf-8",
    )
    after = run(path, write=False)
    assert after.layers["causes"].query("explanation == 1")["status"].tolist() == ["none"]
    assert "OUT" not in set(after.findings["verdict"])
    before = pd.read_csv(SAMPLE / "shots" / "day2.csv")
    assert len(before) == (after.layers["shots"]["source"] == "day2").sum()
