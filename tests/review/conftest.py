"""The small job, run once."""

import shutil

import pytest

from geoqa.job.run import run
from tests.review.job_of_four import write


@pytest.fixture(scope="session")
def judged(tmp_path_factory):
    """Job file and results of the small job, outputs written beside it."""
    job = write(tmp_path_factory.mktemp("four"))
    return job, run(job)


@pytest.fixture(scope="session")
def three_out(tmp_path_factory):
    """The small job with all three valves out of tolerance: items 1, 2 and 3; run once."""
    job = write(tmp_path_factory.mktemp("three"))
    log = job.parent / "log.csv"
    text = log.read_text("utf-8").replace("500010.004", "500010.604").replace("500030.001", "500030.501")
    log.write_text(text, "utf-8")
    run(job)
    return job


@pytest.fixture
def decided_on(three_out, tmp_path):
    """A copy of that job with its outputs, to be decided on."""
    shutil.copytree(three_out.parent, tmp_path / "job")
    return tmp_path / "job" / three_out.name
