"""What changed between runs in one folder stands in the record and the report, each with its reason or with none."""

import json
import re
import shutil

import pytest

import geoqa
from geoqa.errors import JobError
from geoqa.job.edited.changes import changes, settings
from geoqa.review.verify import verify
from tests.review.job_of_rounds import STATIONS, curb, valves, write

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    path = write(tmp_path_factory.mktemp("edits"), {"log.csv": curb(STATIONS, first=101) + valves(first=10)})
    path.write_text(path.read_text("utf-8").replace("pages = []", 'pages = ["report"]'), "utf-8")
    geoqa.run(path)
    return path


@pytest.fixture
def job(made, tmp_path):
    return shutil.copytree(made.parent, tmp_path / "job") / made.name


def edit(path, old, new):
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")


def log_of(path):
    return json.loads((path.parent / "out" / "record.json").read_text("utf-8"))["edits"]


def told(row):
    return row.get("what"), row.get("was"), row.get("is"), row.get("why")


def test_a_first_run_has_no_log_and_the_same_again_adds_nothing(job):
    before = (job.parent / "out" / "record.json").read_bytes()
    geoqa.run(job)
    assert log_of(job) == []
    assert (job.parent / "out" / "record.json").read_bytes() == before
    assert "Changes since earlier runs" not in (job.parent / "out" / "report.html").read_text("utf-8")


def test_an_edited_point_and_rows_that_came_and_went_are_told_and_the_file_itself(job):
    edit(job.parent / "log.csv", "12,500020.003", "12,500020.013")
    edit(job.parent / "log.csv", "11,500010.003,4500010.001,100.2,VLV,V-1\n", "")
    edit(job.parent / "log.csv", "13,500030.003", "14,500030.003")
    geoqa.run(job)
    rows = [told(row) for row in log_of(job)]
    assert rows[0][0] == "log.csv"
    assert all(re.fullmatch("file [0-9a-f]{12}", text) for text in rows[0][1:3])
    assert ("log.csv, shot 12, easting", "500020.003", "500020.013", None) in rows
    assert {row[0]: row[2] for row in rows[1:] if "easting" not in row[0]} == {
        "log.csv, shot 14": "new row",
        "log.csv, shot 11": "no row",
        "log.csv, shot 13": "no row",
    }
    assert len(rows) == 5


def test_a_limit_that_was_changed_is_told_by_its_key_with_the_reason_the_job_states(job):
    edit(job, 'vertical = "0.05 m"', 'vertical = "0.06 m"')
    with job.open("a", encoding="utf-8") as stream:
        stream.write('[[edits]]\nwhat = "tolerance.curb"\nwhy = "Addendum <2>, item 4"\non = 2026-05-20\n')
    geoqa.run(job)
    (row,) = log_of(job)
    assert told(row) == ("tolerance.curb.vertical", "0.05 m", "0.06 m", "Addendum <2>, item 4")
    assert row["on"] == "2026-05-20"
    page = (job.parent / "out" / "report.html").read_text("utf-8")
    assert "Addendum &lt;2&gt;, item 4" in page
    assert "1 change of the job file" in page
    assert "without a reason" not in page


def test_the_log_goes_on_and_a_reason_that_comes_later_is_put_where_it_belongs(job):
    edit(job, 'vertical = "0.05 m"', 'vertical = "0.06 m"')
    geoqa.run(job)
    edit(job.parent / "marks.csv", "100.000,0.002", "100.001,0.002")
    with job.open("a", encoding="utf-8") as stream:
        stream.write('[[edits]]\nwhat = "tolerance.curb.vertical"\nwhy = "Addendum 2"\n')
    geoqa.run(job)
    first, second = log_of(job)
    assert told(first) == ("tolerance.curb.vertical", "0.05 m", "0.06 m", "Addendum 2")
    assert second["what"] == "marks.csv"
    assert "why" not in second
    assert "no reason is stated" in (job.parent / "out" / "report.html").read_text("utf-8")
    before = (job.parent / "out" / "record.json").read_bytes()
    geoqa.run(job)
    assert (job.parent / "out" / "record.json").read_bytes() == before
    assert verify(job.parent / "out").identical


def test_a_reason_of_which_nothing_is_known_stands_as_one(job):
    with job.open("a", encoding="utf-8") as stream:
        stream.write('[[edits]]\nwhat = "log.csv"\nwhy = "shot 12 typed anew in the office"\n')
    geoqa.run(job)
    (row,) = log_of(job)
    assert told(row) == ("log.csv", None, None, "shot 12 typed anew in the office")
    assert "no change by the record" in (job.parent / "out" / "report.html").read_text("utf-8")


def test_a_name_is_taken_only_where_persons_are_asked_for(job):
    text = job.read_text("utf-8")
    named = '[[edits]]\nwhat = "log.csv"\nwhy = "again"\nby = "A. Reader"\n'
    job.write_text(text + named, "utf-8")
    with pytest.raises(JobError, match="personal = true"):
        geoqa.run(job)
    job.write_text(text.replace("[outputs]", "[outputs]\npersonal = true") + named, "utf-8")
    geoqa.run(job)
    assert [row["by"] for row in log_of(job) if row["what"] == "log.csv"] == ["A. Reader"]


@pytest.mark.parametrize("spoilt", ['{"edits": 5, "run": "x", "inputs": [1], "job": []}', "[]", "{", '{"edits": [{}]}'])
def test_a_record_of_anybody_spoils_nothing(job, spoilt):
    from geoqa.job.edited.log import with_edits

    (job.parent / "out" / "record.json").write_text(spoilt, "utf-8")
    made = with_edits({"run": "a", "inputs": [], "versions": {}}, (), job.parent / "out", None)
    assert made["edits"] == []


def test_values_of_tables_of_one_kind_are_told_apart_by_their_file():
    was = settings('[[design]]\nfile = "a"\n[[design]]\nfile = "b"\nunit = "ft"')
    assert was == {"design.a.file": "a", "design.b.file": "b", "design.b.unit": "ft"}
    record = {"job": {"text": '[job]\nname = "A"'}, "geoqa": "1", "versions": {"numpy": "1"}}
    after = {"job": {"text": '# a comment\n[job]\nname = "A"'}, "geoqa": "2", "versions": {"numpy": "2"}}
    assert [row["what"] for row in changes(record, after)] == ["version of geoqa", "version of numpy"]


def test_a_table_that_comes_with_its_file_is_told_of_the_file_alone():
    old = {"job": {"text": '[[shots]]\nfile = "a"\nunit = "ft"'}, "inputs": [{"path": "a", "sha256": "1"}]}
    new = {
        "job": {"text": '[[shots]]\nfile = "a"\nunit = "m"\n[[shots]]\nfile = "b"\nunit = "ft"'},
        "inputs": [{"path": "a", "sha256": "1"}, {"path": "b", "sha256": "2"}],
    }
    assert [(row["what"], row["is"]) for row in changes(old, new)] == [("shots.a.unit", "m"), ("b", "file 2")]


def test_a_file_under_another_name_is_known_byte_for_byte():
    (gone, new) = changes({"inputs": [{"path": "a", "sha256": "1"}]}, {"inputs": [{"path": "b", "sha256": "1"}]})
    assert gone == {"what": "a", "was": "file 1", "is": "not read"}
    assert new == {"what": "b", "was": "not read", "is": "file 1, a byte for byte"}
