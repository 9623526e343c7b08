"""A file listed twice, and precisions whose meaning nobody says, are told before anything is judged."""

import shutil
from pathlib import Path

import pytest

from geoqa.job.begin.begin import FILE, begin
from geoqa.job.check import check
from geoqa.job.run import run

SAMPLE = Path(__file__).resolve().parents[2] / "sample_jobs" / "tannery_lane"

HEAD = "point,easting,northing,elevation,code,time,reported_h,reported_v"
ROWS = [
    f"{100 + n},{2228500 + 25 * n}.1{n % 10},446000.2{n % 10},1460.{n:02d},CTB,2026-05-12T13:{n:02d}:00Z,0.02,0.03"
    for n in range(12)
]
JOB = '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n'


def written(folder, name, rows, head=HEAD, ends="\n"):
    (folder / name).write_text(ends.join([head, *rows]) + ends, encoding="utf-8", newline="")


@pytest.fixture
def field(tmp_path):
    written(tmp_path, "day1.csv", ROWS)
    written(tmp_path, "day1_again.csv", [f"9{row}" for row in ROWS[:11]], ends="\r\n")  # other names, other bytes
    written(tmp_path, "day2.csv", [row.replace("05-12", "05-13").replace(".1", ".3") for row in ROWS])
    return tmp_path


def listed(names, more=""):
    return JOB + "".join(f'[[shots]]\nfile = "{name}"\n{more}' for name in names)


@pytest.mark.long
def test_check_says_which_file_repeats_which(field):
    (field / "job.toml").write_text(listed(["day1.csv", "day1_again.csv", "day2.csv"]))
    told = [remark for remark in check(field / "job.toml").remarks if "repeats day1" in remark]
    assert told == [
        "day1_again.csv repeats day1.csv: 11 of its 11 rows are the same measurements, and count once. "
        "Was it exported twice?"
    ]


def test_check_asks_what_precisions_mean_and_no_more_once_it_is_said(field):
    (field / "job.toml").write_text(listed(["day1.csv"]))
    (asked,) = [remark for remark in check(field / "job.toml").remarks if "1 sigma or 95 %" in remark]
    assert asked.startswith("day1.csv: do its precisions (reported_h, reported_v) mean 1 sigma or 95 %?")
    (field / "job.toml").write_text(listed(["day1.csv"], 'confidence = "95 %"\n'))
    assert not [remark for remark in check(field / "job.toml").remarks if "1 sigma or 95 %" in remark]


def test_check_asks_nothing_where_the_job_declares_the_uncertainty_itself(field):
    declared = '[uncertainty.default]\nhorizontal_random = "0.02 ft"\nvertical_random = "0.02 ft"\nreference = "x"\n'
    (field / "job.toml").write_text(listed(["day1.csv"]) + declared)
    assert not [remark for remark in check(field / "job.toml").remarks if "1 sigma or 95 %" in remark]


@pytest.mark.long
def test_the_draft_lists_a_repeated_file_as_a_comment_and_asks_too(field):
    text = begin(field, frame="EPSG:6547").path.read_text(encoding="utf-8")
    assert FILE == "job.toml"
    assert "# day1_again.csv repeats day1.csv: 11 of its 11 rows are the same measurements" in text
    assert '\n# file = "day1_again.csv"' in text
    assert '\nfile = "day1.csv"' in text
    assert '\nfile = "day2.csv"' in text
    assert "# QUESTION: do its precisions (reported_h, reported_v) mean 1 sigma or 95 %?" in text


@pytest.mark.long
def test_a_day_that_is_listed_twice_changes_no_verdict_of_the_work(tmp_path):
    job = shutil.copytree(SAMPLE, tmp_path / "job", ignore=shutil.ignore_patterns("out")) / f"{SAMPLE.name}.toml"
    once = run(job, write=False).findings
    text = job.read_text(encoding="utf-8")
    at = text.index("[[shots]]", text.index("day2.csv") - 200)
    table = text[at : text.index("\n\n", at)]
    shutil.copy(job.parent / "shots" / "day2.csv", job.parent / "shots" / "day2_again.csv")
    job.write_text(text.replace(table, f"{table}\n\n{table.replace('day2.csv', 'day2_again.csv')}"), encoding="utf-8")
    twice = run(job, write=False).findings
    judged = [each[each["why"] != "screened"] for each in (once, twice)]
    told = [sorted(map(tuple, each[["check", "subject", "label", "verdict"]].to_numpy())) for each in judged]
    assert told[1] == told[0]


def rounded(row, unit, digits):
    fields = row.split(",")
    scale = {"ft": 1.0, "m": 0.3048}[unit]
    fields[1:4] = [f"{float(each) * scale:.{digits}f}" for each in fields[1:4]]
    return ",".join(fields)


@pytest.mark.long
@pytest.mark.parametrize(("unit", "digits"), [("ft", 2), ("m", 3), ("m", 2)])
def test_an_export_with_other_decimals_or_in_another_unit_is_named_by_check_and_draft_as_by_the_run(
    tmp_path, unit, digits
):
    (folder := tmp_path / "field").mkdir()
    head = HEAD.replace("easting,northing,elevation", f"easting_{unit},northing_{unit},elevation_{unit}")
    first = HEAD.replace("easting,northing,elevation", "easting_ift,northing_ift,elevation_ift")
    written(folder, "day1.csv", [row.replace(".1", ".01") for row in ROWS], first)
    again = [rounded(row.replace(".1", ".01"), unit, digits) for row in ROWS]
    written(folder, "second.csv", again, head if unit == "m" else head.replace("_ft", "_ift"))
    (folder / "job.toml").write_text(listed(["day1.csv", "second.csv"]))
    (told,) = [each for each in check(folder / "job.toml").remarks if "repeats day1" in each]
    (noted,) = [each for each in run(folder / "job.toml", write=False).notes if "repeats day1" in each]
    assert told == noted
    (folder / "job.toml").unlink()
    assert f"# {told}" in begin(folder, frame="EPSG:6547").path.read_text(encoding="utf-8")
