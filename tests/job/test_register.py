"""Numbers of items stay from run to run."""

import json

import pytest

from geoqa.errors import OutputError
from geoqa.job.earlier import RECORD
from geoqa.job.run import run
from tests.review.job_of_four import write


@pytest.fixture
def job(tmp_path):
    path = write(tmp_path)
    text = path.read_text("utf-8").replace('layers = ["csv", "summary"]', 'layers = ["gpkg"]')
    path.write_text(text, "utf-8")
    return path


def items(job):
    return {
        row["finding"]: row["item"] for row in json.loads((job.parent / "out" / RECORD).read_text("utf-8"))["items"]
    }


@pytest.mark.long
def test_a_second_run_keeps_numbers_and_bytes_and_a_new_defect_is_numbered_behind(job):
    log, out = job.parent / "log.csv", job.parent / "out"
    run(job)
    first, before = items(job), {path.name: path.read_bytes() for path in out.iterdir()}
    run(job)
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    # the first valve in the list is now worse than the one that was listed alone
    log.write_text(log.read_text("utf-8").replace("500010.004", "500011.504"), "utf-8")
    results = run(job)
    second = items(job)
    assert list(first.values()) == ["1"]
    assert second.items() > first.items()
    assert sorted(second.values()) == ["1", "2"]
    assert results.findings.set_index("subject")["item"].dropna().to_dict() == {"V-1": "2", "V-2": "1"}


@pytest.mark.long
def test_a_number_that_is_gone_is_not_given_again_and_comes_back_with_its_finding(job):
    log = job.parent / "log.csv"
    bad = log.read_text("utf-8")
    good = bad.replace("500020.350", "500020.003")
    run(job)
    log.write_text(good, "utf-8")
    assert run(job).layers["items"][["item", "state"]].to_numpy().tolist() == [["1", "gone"]]
    log.write_text(good.replace("500030.001", "500030.501"), "utf-8")
    assert run(job).findings.set_index("subject")["item"].dropna().to_dict() == {"V-3": "2"}
    log.write_text(bad, "utf-8")
    assert run(job).findings.set_index("subject")["item"].dropna().to_dict() == {"V-2": "1"}


@pytest.mark.long
@pytest.mark.parametrize("items", ['[{"item": "x"}]', '[{"item": "1"}, {"item": "1"}]', '"1"', '[{"item": 1}]', "7"])
def test_a_spoilt_register_is_refused_and_a_deleted_one_numbers_anew(job, items):
    out = job.parent / "out"
    out.mkdir()
    (out / RECORD).write_text(f'{{"items": {items}}}', "utf-8")
    with pytest.raises(OutputError, match=r"numbers of items in out/record\.json cannot be read.*delete it"):
        run(job, write=False)
    (out / RECORD).unlink()
    assert run(job, write=False).findings["item"].dropna().tolist() == ["1"]
