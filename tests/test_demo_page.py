"""The sample job read aloud: what a run prints, and every note, as they stand on a page of the documentation."""

import os
import re
import shutil
from pathlib import Path

import click
import pytest

import geoqa
from geoqa.cli.terminal import summary
from geoqa.contract.sentences import note_lines

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "demo.md"
HEAD = """# The sample job, read aloud

What `geoqa run sample_jobs/tannery_lane/tannery_lane.toml` prints, and every note that is read first on the map.
The job is invented, and so are its defects. Renewed by `GEOQA_WRITE_DOCS=1 .venv/bin/pytest -q -m long
tests/test_demo_page.py`.
"""


@pytest.mark.long
def test_the_page_says_what_the_sample_job_prints(tmp_path):
    folder = shutil.copytree(
        ROOT / "sample_jobs" / "tannery_lane", tmp_path / "job", ignore=shutil.ignore_patterns("out")
    )
    results = geoqa.run(folder / "tannery_lane.toml")
    printed = re.sub(r"Open .*out/", "Open out/", click.unstyle(summary(results, folder / "out")))
    notes = "\n".join(f"- {line}" for line in note_lines(results.layers["notes"], results.layers.frame.unit.name))
    text = f"{HEAD}\n```text\n{printed.rstrip()}\n```\n\n## Read first\n\n{notes}\n"
    assert str(tmp_path) not in text
    if os.environ.get("GEOQA_WRITE_DOCS") == "1":
        PAGE.write_text(text, encoding="utf-8", newline="\n")
    assert PAGE.read_text(encoding="utf-8") == text
