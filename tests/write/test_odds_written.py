"""Work or survey? stands wherever a finding that is out is read."""

import base64
import csv
import sqlite3
import zlib

import pandas as pd
import pytest

from geoqa.cli.terminal import summary
from geoqa.model.results import Results
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.present.map.content import content
from geoqa.write.gis.geopackage import GeoPackage
from geoqa.write.sheets.lists import findings_list, return_list
from geoqa.write.tables import Tables

SAID = "even odds, the work or the shot: no neighbour"


@pytest.fixture
def weighed(results):
    """The small result with odds of its worst finding of the work."""
    told = results.reported[results.reported["verdict"] == "OUT"]
    name = told.loc[told["check"].isin(["offset", "elevation"]), "finding"].iloc[0]
    rows = [
        {"finding": name, "evidence": "prior", "variant": "", "count": 0, "total": 0, "log_ratio": 0.1},
        {"finding": name, "evidence": "neighbours", "variant": "", "count": 0, "total": 0, "log_ratio": 0.0},
    ]
    tables = {**dict(results.layers), "work_odds": conform("work_odds", pd.DataFrame(rows))}
    layers = Layers(tables, frame=results.layers.frame)
    counts = {**results.summary, "shots": len(layers["shots"])}
    made = Results(title=results.title, layers=layers, summary=counts, record=results.record)
    return made, name


@pytest.mark.long
def test_tables_sheets_and_layers_bear_it_and_read_back(weighed, tmp_path):
    results, name = weighed
    Tables().write(results, tmp_path)
    with (tmp_path / "findings.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["finding"]: row["odds"] for row in csv.DictReader(file)}
    assert rows.pop(name) == SAID
    assert set(rows.values()) == {""}
    Tables().read_back(results, tmp_path)
    GeoPackage().write(results, tmp_path)
    GeoPackage().read_back(results, tmp_path)
    with sqlite3.connect(tmp_path / "audit.gpkg") as file:
        assert file.execute("select odds from findings where finding = ?", [name]).fetchall() == [(SAID,)]
    told = findings_list(results).set_index("finding")["odds"]
    assert told[told.notna()].to_dict() == {name: SAID}


def test_who_goes_back_reads_it_first(weighed):
    results, name = weighed
    findings = results.findings
    findings.loc[findings["finding"] == name, "remedy"] = "shoot it again"
    notes = return_list(results)["note"]
    assert notes.str.contains(f"({SAID}): shoot it again", regex=False).sum() == 1


def test_the_map_and_the_terminal_bear_it(weighed, tmp_path):
    results, _ = weighed
    packed = zlib.decompress(base64.b64decode(content(results).payload), -15)
    assert SAID.encode() in packed
    assert f"\n      {SAID}" in summary(results, tmp_path)


def test_without_the_step_nothing_is_said(results, tmp_path):
    Tables().write(results, tmp_path)
    assert "odds" not in (tmp_path / "findings.csv").read_text(encoding="utf-8").splitlines()[0]
    assert findings_list(results)["odds"].isna().all()
