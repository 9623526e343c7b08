"""The small job, run once."""

import pytest

from geoqa.job import run
from tests.review.job_of_four import write


@pytest.fixture(scope="session")
def judged(tmp_path_factory):
    """Job file and results of the small job, outputs written beside it."""
    job = write(tmp_path_factory.mktemp("four"))
    return job, run(job)
