"""Any text in the place of a job file: a job that says what stands there, or a refusal in words."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geoqa.errors import GeoqaError
from geoqa.job.document.load import load, parse
from tests.review import job_of_four

pytestmark = pytest.mark.long

MARKS = [*"[]{}\"'=.,#\n\r\\ \t-", "[[", "]]", '"""', "'''", "\x00", "\ufeff", "\u2028", "½", "nan", "1e999", "0x1"]
NAMES = ["job", "shots", "frame", "tolerance", "outputs", "file", "horizontal", "steps", "use", "version", "design"]
PIECES = st.one_of(
    st.sampled_from(MARKS), st.sampled_from(NAMES), st.text(st.characters(codec="utf-8"), max_size=5),
    st.floats().map(repr), st.integers().map(str), st.sampled_from(['"0.1 ft"', "true", "2026-03-14", "12:00:00"]),
)  # fmt: skip


@st.composite
def texts(draw):
    """A sound job file into which something is put, in place of something; or nothing but that."""
    sound = job_of_four.JOB
    at = draw(st.integers(0, len(sound)))
    gone = draw(st.sampled_from([0, 0, 1, 3, 20, len(sound)]))
    return sound[:at] + "".join(draw(st.lists(PIECES, max_size=8))) + sound[at + gone :]


def taken(path):
    """The job, or the words of the refusal; no other error may come."""
    try:
        return load(path).job, ""
    except GeoqaError as error:
        return None, str(error)


@given(text=texts())
@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_is_a_job_or_is_refused_in_words(tmp_path, text):
    path = tmp_path / "any.toml"
    path.write_text(text, encoding="utf-8", newline="")
    job, words = taken(path)
    assert "any.toml" in words if job is None else parse(job.to_toml()) == job


@given(data=st.binary(max_size=60))
@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_bytes_are_refused_in_words(tmp_path, data):
    path = tmp_path / "any.toml"
    path.write_bytes(data)
    with pytest.raises(GeoqaError, match=r"any\.toml"):
        load(path)
