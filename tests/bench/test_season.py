"""A season of work: as many rows as asked for, read without trouble and judged as it was made."""

import numpy as np
import pytest

from bench import season
from geoqa.job.document.load import load
from geoqa.job.inputs.intake import take_in
from geoqa.job.run import judge

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    loaded = load(season.write_season(tmp_path_factory.mktemp("season"), 4_000))
    return loaded, take_in(loaded)


def test_every_row_is_read_and_every_shot_lies_on_its_line(small):
    _, intake = small
    shots = intake.layers["shots"]
    assert intake.troubles == ()
    assert len(shots) == 4_000 + 4 * 2 * season.CHECKS
    assert shots["session"].nunique() == 4
    assert len(intake.layers["design_lines"]) == 10
    assert shots[["satellites", "pdop", "reported_h", "tilt", "rod_height", "time"]].notna().all().all()
    assert shots["time"].is_monotonic_increasing


def test_one_shot_in_two_hundred_was_built_wrong_and_no_more_is_found_out(small):
    loaded, intake = small
    findings = judge(loaded, intake).findings
    offset = findings[(findings["check"] == "offset") & findings["verdict"].isin(["IN", "OUT"])]
    assert len(offset) > 3_900
    # binomial, 4,000 at 0.005: 20 +- 4.5; kinds with a limit of 0.50 take a miss of 0.4
    assert 3 <= (offset["verdict"] == "OUT").sum() <= 40
    assert set(findings["check"]) >= {"offset", "elevation", "coverage", "control-position", "control-elevation"}
    assert (findings.loc[findings["check"] == "control-elevation", "verdict"] == "IN").mean() > 0.8
    assert np.isfinite(findings["u"]).all()


def test_a_season_is_the_same_every_time(tmp_path):
    first, second = season.write_season(tmp_path / "a", 4_000), season.write_season(tmp_path / "b", 4_000)
    for name in ("shots/week01.csv", "control.csv", "season.toml"):
        assert (first.parent / name).read_bytes() == (second.parent / name).read_bytes()
