"""Delimited text: what a spreadsheet and a program find in it."""

import csv
import re

import numpy as np
import pandas as pd
import pytest

from geoqa.write.tables import Tables
from geoqa.write.text import safe_cell


@pytest.fixture
def folder(results, tmp_path):
    names = Tables().write(results, tmp_path)
    assert set(names) == {"findings.csv", "shots.csv", "gaps.csv", "control_residuals.csv", "control_checks.csv"}
    return tmp_path


def _rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_file_is_utf_8_with_line_feeds_and_no_mark(folder):
    data = (folder / "findings.csv").read_bytes()
    assert not data.startswith(b"\xef\xbb\xbf")
    assert data.decode("utf-8").splitlines()[0].startswith('"finding","item","check"')
    assert b"\r\n" not in (folder / "gaps.csv").read_bytes()
    assert data.endswith(b"\n")


def test_numbers_read_back_to_a_millionth_and_end_in_no_noise(results, folder):
    by_key = {row["finding"]: row for row in _rows(folder / "findings.csv")}
    for _, finding in results.findings.iterrows():
        row = by_key[finding["finding"]]
        assert float(row["deviation"]) == pytest.approx(finding["deviation"], abs=1e-6)
        assert (row["u"] == "") == np.isnan(finding["u"])
    tenths = by_key["F000000000009"]
    assert tenths["deviation"] == "0.3"  # 0.1 + 0.2
    cells = [cell for path in folder.glob("*.csv") for row in _rows(path) for cell in row.values()]
    numbers = [cell for cell in cells if re.fullmatch(r"-?[0-9]+\.[0-9]+", cell or "")]
    assert len(numbers) > 50
    assert not [number for number in numbers if len(number.partition(".")[2]) > 10]
    assert "-0.0" not in numbers
    assert tenths["station"] == "1000"


def test_a_limit_without_an_end_is_plain_text_beside_its_empty_cell(results, folder):
    open_below = results.findings.loc[np.isneginf(results.findings["lower"]), "finding"].tolist()
    rows = [row for row in _rows(folder / "findings.csv") if row["finding"] in open_below]
    assert rows
    assert {(row["lower"], row["lower_text"]) for row in rows} == {("", "-inf")}
    assert float(rows[0]["lower_text"]) == -np.inf


def test_findings_are_worst_first(results, folder):
    rows = _rows(folder / "findings.csv")
    assert "excess_text" not in rows[0]
    excess = [float(row["excess"] or "nan") for row in rows]
    assert (float(rows[0]["u"]), rows[0]["verdict"]) == (0.0, "OUT")
    assert np.isnan(excess[0])  # beyond its limit without any uncertainty: there is no such ratio
    assert excess[1:-1] == sorted(excess[1:-1], reverse=True)
    assert np.isnan(excess[-1])


def test_negative_numbers_stay_numbers_and_text_that_starts_a_formula_does_not(folder):
    rows = {row["shot_key"]: row for row in _rows(folder / "shots.csv")}
    assert rows["day1/104"]["raw_elevation"] == "-9999"
    assert rows["day1/101"]["note"].startswith("'=HYPERLINK")
    residual = _rows(folder / "control_checks.csv")[0]
    assert float(residual["residual_elevation"]) == pytest.approx(-0.54)
    assert residual["mark_reference"] == "'=cmd"


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_every_sign_that_starts_a_formula_is_neutralised(start):
    assert safe_cell(f"{start}A1") == f"'{start}A1"


@pytest.mark.parametrize("text", ["-12.5", "+3", "-", "12+50.25", "CTB-L", "", "1E5"])
def test_plain_numbers_and_names_are_left_as_they_are(text):
    assert safe_cell(text) == text


def test_missing_is_an_empty_cell_and_empty_text_is_empty_quotes(folder):
    lines = (folder / "shots.csv").read_text(encoding="utf-8")
    assert ',"fixed",' in lines
    found = pd.read_csv(folder / "shots.csv", dtype=str)
    assert found.set_index("shot_key")["time"].isna()["day1/105"]
    assert lines.splitlines()[1].endswith(',true,""')


def test_control_checks_show_what_is_measured_minus_published(results, folder):
    row = _rows(folder / "control_checks.csv")[0]
    shot = results.shots.set_index("shot_key").loc[row["shot"]]
    mark = results.layers["control"].set_index("mark").loc[row["mark"]]
    for name in ("easting", "northing", "elevation"):
        assert float(row[f"residual_{name}"]) == pytest.approx(shot[name] - mark[name], abs=1e-6)
    assert row["independent"] == "true"


def test_times_are_iso_8601_in_utc(folder):
    rows = {row["shot_key"]: row for row in _rows(folder / "shots.csv")}
    assert rows["day1/100"]["time"] == "2026-03-14T13:00:00.250000Z"


def test_a_job_without_control_and_gaps_writes_the_rest(results, tmp_path):
    from geoqa.model.results import Results
    from geoqa.model.tables.layer import Layers

    kept = {
        name: table for name, table in results.layers.items() if name not in ("control", "control_residuals", "gaps")
    }
    less = Results(title=results.title, layers=Layers(kept, frame=results.layers.frame), summary={}, record={})
    assert set(Tables().write(less, tmp_path)) == {"findings.csv", "shots.csv"}
