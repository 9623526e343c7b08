"""From a number back to the row of a file."""

from types import SimpleNamespace

import pandas as pd
import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.errors import JobError
from geoqa.model.tables.finding import earlier_id
from geoqa.review.trace import _other_sources, trace
from geoqa.review.trace_lines import _arithmetic, _limit, trace_lines


@pytest.mark.long
def test_an_id_leads_to_the_line_of_the_file_and_the_text_that_stands_there(judged):
    job, results = judged
    finding = results.findings.set_index("subject").loc["V-2", "finding"]
    (traced,) = trace(results, finding)
    (shot,) = traced.shots
    line = (job.parent / shot.path).read_text("utf-8").splitlines()[shot.shot["line"] - 1].split(",")
    assert line[:4] == ["103", *(shot.shot[name] for name in ("raw_easting", "raw_northing", "raw_elevation"))]
    assert [source["path"] for source in traced.sources] == ["design.csv"]


@pytest.mark.parametrize("name", ["V-2", "103", "log/103", "1"])
def test_a_subject_a_shot_and_its_key_find_the_same(judged, name):
    assert [each.finding["subject"] for each in trace(judged[1], name)] == ["V-2"]


def test_a_finding_is_known_by_the_beginning_of_its_id_as_an_earlier_geoqa_wrote_it(judged):
    name = judged[1].findings.set_index("subject").loc["V-2", "finding"]
    for beginning in (earlier_id(name), name[:9]):
        assert [each.finding["subject"] for each in trace(judged[1], beginning)] == ["V-2"]


def test_a_beginning_of_several_ids_is_refused(judged):
    findings = judged[1].findings.assign(finding=[f"Fabcdef{row:010x}" for row in range(len(judged[1].findings))])
    results = SimpleNamespace(findings=findings, shots=judged[1].shots, layers=judged[1].layers)
    with pytest.raises(JobError, match=rf"several findings \({len(findings)}\) begin with 'Fabcdef0'"):
        trace(results, "Fabcdef0")


def test_a_mark_leads_to_the_control_file(judged):
    traced = trace(judged[1], "M1")
    assert {each.finding["check"] for each in traced} == {"control-position", "control-elevation"}
    assert {source["path"] for each in traced for source in each.sources} == {"marks.csv"}


def test_the_lines_hold_the_arithmetic_the_limit_and_its_source(judged):
    told = "\n".join(trace_lines(judged[1], trace(judged[1], "V-2")))
    # the root of 0.350^2 + 0.003^2; the limit and its source as the job states them
    assert "measured 0.3500 m, design 0.0000 m, deviation 0.3500 m" in told
    assert (
        "limit: at most 0.100 m; from sheet 7, note 3; rule guarded; less than 0.1 % that it lies within the limits"
        in told
    )
    assert "103: log.csv, line 4, read as 500020.350 4500010.003 100.201; VLV V-2" in told
    assert "job file: four.toml (sha256 " in told


def test_a_number_within_limits_of_its_own_is_no_difference_to_its_design(judged):
    findings = judged[1].findings
    row = findings[findings["subject"] == "V-2"].iloc[[0]].assign(design=0.15, measured=0.22, deviation=0.22)
    results = SimpleNamespace(findings=row, shots=judged[1].shots, layers=judged[1].layers)
    told = "\n".join(trace_lines(judged[1], trace(results, row["finding"].iloc[0])))
    assert "measured 0.2200 m, design 0.1500 m, judged is the measured number itself;" in told


def test_a_name_nobody_has_is_refused_with_what_may_be_named(judged):
    with pytest.raises(JobError, match=r"No finding is called 'V-9'.*findings\.csv"):
        trace(judged[1], "V-9")


@pytest.mark.long
def test_the_command_prints_and_writes_nothing(judged):
    folder = judged[0].parent
    before = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    told = CliRunner().invoke(main, ["trace", str(judged[0]), "V-2"])
    assert told.exit_code == 0, told.output
    assert "read as 500020.350" in told.output
    assert {path: path.stat().st_mtime_ns for path in folder.rglob("*")} == before


def test_what_rests_on_measure_downs_names_the_file_of_structures(judged):
    """The same finding, once as of an invert: the notes of structures are among its sources."""
    results = judged[1]
    row = results.findings[results.findings["subject"] == "V-2"].drop(columns="geometry").to_dict("records")[0]
    table = results.layers["sources"]
    notes = pd.concat([table, table.iloc[:1].assign(source="st", role="structures", path="pits.csv")])
    kept = SimpleNamespace(layers={"sources": notes})
    paths = {
        check: [each["path"] for each in _other_sources(kept, row | {"check": check})] for check in ("invert", "x")
    }
    assert ("pits.csv" in paths["invert"], "pits.csv" in paths["x"]) == (True, False)


def test_a_count_is_told_as_a_count(judged):
    row = trace(judged[1], "V-2")[0].finding | {"quantity": "count", "measured": 124.0, "design": 0.0}
    assert _arithmetic(row, "m") == "124"
    assert _limit(row | {"check": "diagnosis"}, "m") == "limit: none, it is a count"
