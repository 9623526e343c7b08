"""The first hour: a stranger's files get in with a handful of answers, and what is wrong with the work is found."""

import hashlib

import pytest
from click.testing import CliRunner

from bench import fourth_hour, second_hour, third_hour
from bench.counts_agree import hold_counts, hold_day_page
from bench.extent import extent
from bench.first_hour import ZONES, edited, write_folder
from geoqa.cli import main
from geoqa.job.run import run
from geoqa.model.note_line import short_of

MOST_EDITS = 12
SOME = extent(3, of_a_change=1)
"""Zones in which each stranger comes; the first comes in one more."""


def geoqa(*arguments):
    return CliRunner().invoke(main, [str(each) for each in arguments])


def hashes(folder):
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(folder.iterdir()) if path.is_file()
    }


def run_whole(job, stranger, folder, originals):
    """Run the job: no shot is lost, every one has its place and kind, and no original file was touched."""
    results = run(job)
    shots = results.layers["shots"]
    assert len(shots) == stranger.shots
    assert shots[["easting", "northing", "elevation"]].notna().all(axis=None)
    assert shots["kind"].notna().all()
    assert {name: now for name, now in hashes(folder).items() if name in originals} == originals
    return results


@pytest.mark.long
@pytest.mark.parametrize("zone", ZONES[: SOME + 1], ids=lambda zone: zone.code)
def test_a_stranger_gets_in(tmp_path, zone):
    stranger = write_folder(tmp_path, zone, seed=7)
    originals = hashes(tmp_path)
    refused = []

    drafted = geoqa("init", tmp_path)
    assert drafted.exit_code == 0, drafted.output
    assert "left out" not in drafted.output
    job = tmp_path / "job.toml"
    text, edits = edited(job.read_text(encoding="utf-8"))
    job.write_text(text, encoding="utf-8")
    assert edits <= MOST_EDITS

    checked = geoqa("check", job)
    refused += [checked.output] * (checked.exit_code != 0)
    assert refused == []
    assert "in order" in checked.output
    assert f"to be compared: {stranger.shots - 6} shots of 6 kinds" in checked.output
    assert "  ! " not in checked.output

    job.write_text(text.replace('["map", "report"]', '["map", "day"]'), encoding="utf-8")
    results = run_whole(job, stranger, tmp_path, originals)

    findings = results.layers["findings"]
    out = findings[(findings["verdict"] == "OUT").to_numpy(bool)]
    found = {check: set(out.loc[(out["check"] == check).to_numpy(bool), "kind"]) for check in set(out["check"])}
    assert found.pop("elevation") == {"st-channel"}
    assert found.pop("position") == {"fireplug"}
    assert found.pop("coverage") == {"walk-back"}
    assert found == {}
    hold_counts(results)
    hold_day_page(results)
    assert max(len(short_of(note)) for note in results.notes) <= 160
    low = findings[(findings["kind"] == "st-channel").to_numpy(bool) & (findings["verdict"] == "OUT").to_numpy(bool)]
    assert low["deviation"].between(-0.36, -0.24).all()


@pytest.mark.long
@pytest.mark.parametrize(
    "zone", extent(second_hour.ZONES, of_a_change=second_hour.ZONES[:1]), ids=lambda zone: zone.code
)
def test_another_stranger_with_levels_readings_structures_and_a_surface_gets_in(tmp_path, zone):
    stranger = second_hour.write_folder(tmp_path, zone, seed=11)
    originals = hashes(tmp_path)
    drafted = geoqa("init", tmp_path)
    assert drafted.exit_code == 0, drafted.output
    assert "left out" not in drafted.output
    job = tmp_path / "job.toml"
    said = {"horizontal": zone.code, "closure": "0.05 ft", "reference": "contract, section 3", "u": "0.1 %"}
    text, edits = edited(job.read_text(encoding="utf-8"), said)
    job.write_text(text, encoding="utf-8")
    assert edits <= MOST_EDITS

    checked = geoqa("check", job)
    assert checked.exit_code == 0, checked.output
    assert f"to be compared: {stranger.shots - 6} shots of 7 kinds" in checked.output
    assert "to be judged: cross_slope, running_slope, width of walk: " in checked.output
    assert "not judged: 6 check shots on 3 marks of control: no tolerance" in checked.output
    assert "  ! " not in checked.output

    results = run_whole(job, stranger, tmp_path, originals)
    findings = results.layers["findings"]
    out = findings[(findings["verdict"] == "OUT").to_numpy(bool)]
    found = {check: set(out.loc[(out["check"] == check).to_numpy(bool), "kind"]) for check in set(out["check"])}
    assert found.pop("elevation") == {"curb-flow"}
    assert found.pop("position") == {"hydrant"}
    assert found.pop("coverage") == {"walk-back"}
    assert found.pop("cross-slope") == {"walk"}
    assert found == {}
    assert (findings["check"] == "pipe-slope").any()
    assert max(len(short_of(note)) for note in results.notes) <= 160


@pytest.mark.long
@pytest.mark.parametrize("zone", third_hour.ZONES[:SOME], ids=lambda zone: zone.code)
def test_a_third_stranger_with_a_file_a_day_gets_in(tmp_path, zone):
    stranger = third_hour.write_folder(tmp_path, zone, seed=13)
    originals = hashes(tmp_path)
    drafted = geoqa("init", tmp_path)
    assert drafted.exit_code == 0, drafted.output
    left = [line.partition("left out: ")[2] for line in drafted.output.splitlines() if "left out: " in line]
    assert [line.partition(": ")[0] for line in left] == list(third_hour.LEFT_OUT)
    assert all(why in line for why, line in zip(third_hour.LEFT_OUT.values(), left, strict=True))
    job = tmp_path / "job.toml"
    foot = "ftUS" if zone.us else "ft"
    said = {"horizontal": zone.code, "time_zone": "America/Denver", "closure": "0.10 ft", "setup_length": "220 ft"}
    text, edits = edited(job.read_text(encoding="utf-8"), said | {"reference": "contract, section 3", "unit": foot})
    job.write_text(_with_control(text), encoding="utf-8")
    assert edits + 1 <= MOST_EDITS

    checked = geoqa("check", job)
    assert checked.exit_code == 0, checked.output
    assert "to be compared: 16 check shots against 4 marks of control" in checked.output
    assert "not judged: 1 line of kind e-boundary: neither a shot nor a tolerance" in checked.output
    assert "not judged: 1 shot with code 'STUFF'" in checked.output
    assert "  ! " not in checked.output

    results = run(job, write=False)
    shots = results.layers["shots"]
    assert len(shots) == stranger.shots
    assert shots[["easting", "northing", "elevation"]].notna().all(axis=None)
    assert shots.loc[shots["kind"].isna(), "code"].tolist() == ["STUFF"]
    assert hashes(tmp_path).items() >= originals.items()
    assert shots["baseline_station"].notna().any()
    (run_of,) = results.layers["level_runs"].to_dict("records")
    assert (run_of["taken"], run_of["points"], len(results.layers["levelled"])) == (True, 4, 4)
    items = results.layers["items"]
    out = items[(items["verdict"] == "OUT").to_numpy(bool)]
    told = sorted(zip(out["check"], out["kind"], strict=True))
    assert told == [
        ("coverage", "hydrant"), ("coverage", "kerb-tb"), ("diagnosis", "control"), ("elevation", "kerb-tb"),
        ("position", "hydrant"),
    ]  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("zone", fourth_hour.ZONES, ids=lambda zone: zone.code)
def test_a_fourth_stranger_whose_design_is_landxml_alone_gets_in(tmp_path, zone):
    stranger = fourth_hour.write_folder(tmp_path, zone, seed=17)
    originals = hashes(tmp_path)
    drafted = geoqa("init", tmp_path)
    assert drafted.exit_code == 0, drafted.output
    assert "left out" not in drafted.output
    job = tmp_path / "job.toml"
    foot = "ftUS" if zone.us else "ft"
    text, edits = edited(job.read_text(encoding="utf-8"), {"horizontal": zone.code, "unit": foot})
    job.write_text(_with_control(text), encoding="utf-8")
    assert edits + 1 <= MOST_EDITS

    checked = geoqa("check", job)
    assert checked.exit_code == 0, checked.output
    assert f"to be compared: {stranger.shots - 6} shots of 6 kinds against 6 lines and 5 points" in checked.output
    assert "to be judged: cross_slope, running_slope, width of walk: " in checked.output
    assert "to be compared: 6 check shots against 3 marks of control" in checked.output

    results = run_whole(job, stranger, tmp_path, originals)
    shots, items = results.layers["shots"], results.layers["items"]
    assert shots.loc[(shots["role"] == "feature").to_numpy(bool), "baseline_station"].notna().all()
    assert shots.loc[(shots["code"] == "SMH").to_numpy(bool), "kind"].tolist() == ["rim"] * 3
    out = items[(items["verdict"] == "OUT").to_numpy(bool)]
    told = sorted(zip(out["check"], out["kind"], strict=True))
    assert told == [("coverage", "walk-back"), ("elevation", "curb-flow"), ("position", "hydrant")]


def _with_control(text):
    """The line of the limits of control, filled in too: one edit more."""
    line = next(each for each in text.splitlines() if each.startswith("# control "))
    filled = line.removeprefix("# ").replace("…", "0.10", 1).replace("…", "0.12", 1)
    return text.replace(line, filled.replace("drawing and note, or clause", "contract, section 3"))
