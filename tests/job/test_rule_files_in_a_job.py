"""A job with its contract, a town's rule file and a published set: from files to the headline."""

import pytest
from click.testing import CliRunner

from bench.walk_shots import CODES, walk_rows
from geoqa.cli import main
from geoqa.job.document.load import load
from geoqa.job.run import run
from geoqa.testing import ORIGIN

JOB = """
[job]
name = "Three sets"
[frame]
horizontal = "EPSG:6547"
vertical = "EPSG:8228"
[[shots]]
file = "shots.csv"
unit = "ft"
[codes]
file = "codes.csv"
[[rules]]
file = "../town.toml"
[tolerance.walk]
rules = ["town", "prowag-2023"]
width = "54 in"
reference = "Contract, SP 12"
[uncertainty.default]
horizontal_random = "0.01 ft"
vertical_random = "0.01 ft"
horizontal_common = "0 ft"
vertical_common = "0.02 ft"
reference = "repeats"
[outputs]
pages = []
"""
TOWN = """title = "Town"
edition = "2nd"
date = 2024
verified = false
[walk]
width = { limit = "60 in", clause = "4.1" }
"""


@pytest.mark.long
def test_three_rule_sets_are_judged_side_by_side_and_counted_once(tmp_path):
    rows = ["point,easting,northing,elevation,code,line_id,sequence,time_utc,session,solution"]
    for number, row in enumerate(walk_rows([0, 25, 50], width=4.75), start=101):
        place = f"{ORIGIN[0] + row['offset']:.3f},{ORIGIN[1] + row['station']:.3f},{row['elevation']:.3f}"
        when = row["time"].strftime("%Y-%m-%dT%H:%M:%SZ")
        rows.append(f"{number},{place},{row['code']},{row['line_id']},{row['sequence'] + 1},{when},A,fixed")
    (tmp_path / "job").mkdir()
    (tmp_path / "job" / "shots.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    CODES.to_csv(tmp_path / "job" / "codes.csv", index=False)
    (tmp_path / "job" / "job.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "town.toml").write_text(TOWN, encoding="utf-8")
    told = CliRunner().invoke(main, ["check", str(tmp_path / "job" / "job.toml")]).output
    assert "rule set town holds for walk: Town, 2nd, 2024; ../town.toml. NOT VERIFIED" in told
    assert "rule set prowag-2023 holds for walk: PROWAG, final rule, 88 FR 53604, 2023-08-08. NOT VERIFIED" in told
    results = run(load(tmp_path / "job" / "job.toml"), write=False)
    widths = results.layers["findings"].query("check == 'clear-width'")
    sets = widths["against"].str.partition("; ")[0]
    assert widths.groupby(sets)["verdict"].unique().map(list).to_dict() == {
        "job": ["IN"], "prowag-2023": ["IN"], "town": ["OUT"],
    }  # fmt: skip
    reported = widths[widths["run"].isna()]
    assert set(sets[reported.index]) == {"town"}
    (tally,) = [each for each in results.summary["by_check"] if each["check"] == "clear-width"]
    assert (tally["OUT"], tally["IN"]) == (len(reported), 0)
    (note,) = [each for each in results.notes if "rule sets differ" in each]
    assert "job (Contract, SP 12)" in note
    assert "town is the strictest by its numbers" in note
    assert [each["name"] for each in results.record["rule_sets"]] == ["prowag-2023", "town"]
    assert results.record["inputs"][-1]["path"] == "../town.toml"
