"""A whole job with faults of the field: what is in doubt is not judged, and what was not checked is said first."""

import pytest

from bench import make, write
from geoqa.job.document.load import load
from geoqa.job.run import run

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    plants = ("T10", "T15", "T16", "S03")
    made = make(seed=1, plants=plants)
    job = write(made, tmp_path_factory.mktemp("job"))
    return made, run(load(job), write=False)


def keys(made, flag):
    return {key for item in made.truth.items if item["flag"] == flag for key in item["shots"]}


def test_miscoded_and_exchanged_shots_are_not_called_defects(results):
    made, done = results
    findings = done.findings
    for flag in ("code-slip", "swapped-pair", "row-twice"):
        mine = findings[findings["shot"].isin(keys(made, flag)) & findings["check"].isin(["offset", "elevation"])]
        assert set(mine["verdict"]) <= {"NO_DATA"}, flag
        used = done.shots.set_index("shot_key")["use"]
        assert not used[sorted(keys(made, flag))].any()


def test_the_code_stays_as_it_was_written(results):
    made, done = results
    codes = done.shots.set_index("shot_key")["code"]
    assert set(codes[sorted(keys(made, "code-slip"))]) == {"WKF"}


def test_the_missing_closing_check_is_among_the_first_notes(results):
    _, done = results
    assert any("closing" in note and "session C" in note for note in done.notes)


def test_the_tables_of_control_are_there(results):
    _, done = results
    assert {"control_table", "control_sessions", "session_checks", "accuracy", "impossible_checks"} <= set(done.layers)
    assert not done.layers["accuracy"]["allowed"].any()


def test_codes_keep_their_geometry_from_the_file(results):
    _, done = results
    assert set(done.layers["codes"]["geometry"]) == {"line", "point"}
