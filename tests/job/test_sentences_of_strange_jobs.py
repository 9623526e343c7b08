"""Every sentence of a number of strange jobs: no doubled stop, wrong plural, value that is none, or loose space."""

import re
import shutil
from pathlib import Path

import pandas as pd
import pytest

from bench.tilt_story import write_story
from geoqa.job.check import check
from geoqa.job.run import run

pytestmark = pytest.mark.long

SAMPLES = Path(__file__).resolve().parents[2] / "sample_jobs"
MANY = "shots|lines|points|places|rows|files|marks|sessions|kinds|numbers|checks|days|curves|rods|columns|times|sides"
WRONG = {
    "doubled stop": re.compile(r"(?<![./])\.\.(?![./])"),
    "doubled mark": re.compile(r"[,;:]\s*[,;]|[,;:]\.(?=\s|$)"),
    "one of many": re.compile(rf"(?<![\d.,/:+-])1 ({MANY})\b(?! of)"),
    "nothing of nothing": re.compile(r"\b0 of 0\b"),
    "no value": re.compile(r"\bnan\b|\bNaN\b|\bNone\b|\bNaT\b|<NA>"),
    "loose space": re.compile(r"\s$|^\s|\S  +\S|[^:] [.,;](?=\s|$)|\( | \)"),
    "empty brackets": re.compile(r"\(\)"),
}
TOLD = ("notes", "findings", "tilt_test", "tilt_plan", "tilt_model", "tilt_limits", "impossible_checks", "causes")


def sample(name):
    def made(folder):
        return shutil.copytree(SAMPLES / name, folder / name, ignore=shutil.ignore_patterns("out")) / f"{name}.toml"

    return made


def edited(change):
    """The tilt test with its shots changed."""

    def made(folder):
        job = write_story(folder)
        file = folder / "shots" / "test.csv"
        table = change(pd.read_csv(file, dtype=str, keep_default_na=False))
        table.to_csv(file, index=False, lineterminator="\n")
        return job

    return made


def leaning(table):
    return (table["code"] == "TLT") & (table["tilt_deg"].astype(float) > 5)


JOBS = {
    "demo": sample("tannery_lane"),
    "wrong foot": sample("wrong_foot"),
    "tilt test": write_story,
    "no plumb shot": edited(lambda table: table[leaning(table)]),
    "one plumb shot a nail": edited(
        lambda table: table[
            leaning(table) | ~table.assign(flat=~leaning(table)).duplicated(["session", "line_id", "flat"])
        ]
    ),
    "one leaning shot": edited(lambda table: table[~leaning(table) | (leaning(table).cumsum() == 1)]),
    "one nail and side": edited(lambda table: table[(table["line_id"] == "N1") & (table["session"] == "D")]),
    "no azimuths": edited(lambda table: table.drop(columns="tilt_azimuth_deg")),
    "one shot": edited(lambda table: table.iloc[[3]]),
    "checks alone": edited(lambda table: table[table["code"] == "CHK"]),
    "an azimuth of none": edited(
        lambda table: table.assign(tilt_azimuth_deg=table["tilt_azimuth_deg"].where(table.index != 9, "999"))
    ),
    "no log": edited(lambda table: table[["point", "easting", "northing", "elevation", "code"]]),
}


def sentences(results):
    yield from ((f"note {number}", line) for number, line in enumerate(results.notes))
    for name in TOLD:
        if name not in results.layers:
            continue
        table = results.layers[name]
        for column in (each for each in table if str(table[each].dtype) in ("str", "string")):
            if column in ("written", "reference", "setting"):
                continue
            stop = "." if (name, column) == ("tilt_plan", "reason") else ""  # as its page prints it
            yield from ((f"{name}.{column}", text + stop) for text in table[column].dropna().unique())


@pytest.mark.parametrize("name", JOBS)
def test_no_sentence_is_told_badly(tmp_path, name):
    job = JOBS[name](tmp_path)
    told = [*sentences(run(job, write=False)), *(("check", line) for line in check(job).remarks)]
    assert len(told) > 10
    wrong = [(what, where, text) for where, text in told for what, shape in WRONG.items() if shape.search(text)]
    assert not wrong, "\n".join(map(str, wrong[:20]))
