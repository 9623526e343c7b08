"""The sample job read aloud: what a run prints, and every note, as they stand on a page of the documentation."""

import os
import re
import shutil
from pathlib import Path

import click
import pandas as pd
import pytest

import geoqa
from geoqa.cli.terminal import summary
from geoqa.contract.meanings import explain_any
from geoqa.contract.sentences import note_lines
from geoqa.write.sheets.sheets import _tables

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "demo.md"
HEAD = """# The sample job, read aloud

What `geoqa run sample_jobs/tannery_lane/tannery_lane.toml` prints, and every note that is read first on the map.
The job is invented, and so are its defects. Renewed by `GEOQA_WRITE_DOCS=1 .venv/bin/pytest -q -m long
tests/test_demo_page.py`.
"""


LABELS = {
    "findings": ("check", "verdict", "why", "rule", "quantity"),
    "flags": ("flag", "step"),
    "notes": ("note", "step"),
    "causes": ("status", "cause"),
    "shots": ("role", "solution", "flags"),
}
"""Columns whose cells are words of geoqa."""


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "job"
    shutil.copytree(ROOT / "sample_jobs" / "tannery_lane", folder, ignore=shutil.ignore_patterns("out"))
    return folder, geoqa.run(folder / "tannery_lane.toml")


@pytest.mark.long
def test_every_label_of_the_sample_job_is_explained(ran):
    folder, results = ran
    # collectors want the list for the field without a header
    headed = [path for path in (folder / "out").glob("*.csv") if path.stem != "field_list"]
    tables = {**_tables(results), **{path.stem: pd.read_csv(path) for path in headed}}
    heads = {str(column) for table in tables.values() for column in table}
    cells = {
        word
        for table, names in LABELS.items()
        for name in names
        for word in results.layers[table][name].dropna().astype(str).unique()
    }
    assert len(heads) > 100
    assert len(cells) > 30
    assert sorted(word for word in heads | cells if word and explain_any(word) is None) == []


@pytest.mark.long
def test_the_page_says_what_the_sample_job_prints(ran):
    folder, results = ran
    printed = re.sub(r"Open .*out/", "Open out/", click.unstyle(summary(results, folder / "out")))
    notes = "\n".join(f"- {line}" for line in note_lines(results.layers["notes"], results.layers.frame.unit.name))
    text = f"{HEAD}\n```text\n{printed.rstrip()}\n```\n\n## Read first\n\n{notes}\n"
    assert str(folder) not in text
    if os.environ.get("GEOQA_WRITE_DOCS") == "1":
        PAGE.write_text(text, encoding="utf-8", newline="\n")
    assert PAGE.read_text(encoding="utf-8") == text
