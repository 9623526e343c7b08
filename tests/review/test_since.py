"""A job that names the round before says on its own what `geoqa compare` says of the two folders."""

import json

import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.errors import OutputError
from geoqa.job.run import run
from geoqa.present.map.overview import changes
from geoqa.review.rounds import STATES, compare
from tests.review.job_of_rounds import write
from tests.review.test_rounds import FIRST, SECOND

pytestmark = pytest.mark.long


def next_round(folder, previous):
    job = write(folder, SECOND)
    job.write_text(job.read_text("utf-8").replace("[frame]", f'previous = "{previous}"\n[frame]'), "utf-8")
    return job


def test_it_tells_what_compare_tells_and_goes_on_with_the_numbers(tmp_path):
    run(write(tmp_path / "r1", FIRST))
    results = run(next_round(tmp_path / "r2", "../r1/out"))
    found = compare([tmp_path / "r1" / "out", tmp_path / "r2" / "out"])
    since = results.summary["since"]
    assert since["states"] == {STATES[state]: [each.item for each in found.of(state)] for state in ("open", "closed")}
    assert (since["numbers"], since["same"]) == (found.numbers, found.same)
    assert (since["new_shots"], since["shots"]) == (found.new_shots, found.shots)
    assert found.register_kept
    told = changes(results)
    assert told.startswith("Since r1/out: 1 still open (")
    assert str(tmp_path) not in json.dumps(results.summary)
    again = run(tmp_path / "r2" / "curb.toml")
    assert json.dumps(again.summary) == json.dumps(results.summary)


@pytest.mark.parametrize("summary", [True, False])
def test_where_the_round_before_was_moved_verify_says_so_and_checks_all_else(tmp_path, summary):
    run(write(tmp_path / "r1", FIRST))
    job = next_round(tmp_path / "r2", "../r1/out")
    if summary:
        job.write_text(job.read_text("utf-8").replace('["csv"]', '["csv", "summary"]'), "utf-8")
    run(job)
    out = tmp_path / "r2" / "out"
    assert CliRunner().invoke(main, ["verify", str(out)]).exit_code == 0
    (tmp_path / "r1").rename(tmp_path / "elsewhere")
    told = CliRunner().invoke(main, ["verify", str(out)])
    assert told.exit_code == 1
    assert told.output.startswith("Identical as far as it could be checked: ")
    assert "Not checked: what changed since the round before: its folder, ../r1/out, is not there" in told.output
    assert ("taken from summary.json as it stands" in told.output) == summary
    assert "all else was made again" in told.output
    findings = out / "findings.csv"
    findings.write_text(findings.read_text("utf-8").replace("IN", "OUT"), "utf-8")
    told = CliRunner().invoke(main, ["verify", str(out)])
    assert "findings.csv: changed" in told.output
    assert "Made otherwise" not in told.output


def test_a_folder_that_is_none_of_a_run_is_refused_before_anything_is_written(tmp_path):
    (tmp_path / "r1" / "out").mkdir(parents=True)
    with pytest.raises(OutputError, match=r"out holds no record\.json"):
        run(next_round(tmp_path / "r2", "../r1/out"))
    assert not (tmp_path / "r2" / "out").exists()
