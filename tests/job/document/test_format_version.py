"""A job file states its format: the current one is read, and what is not read is refused with the change to make."""

import pytest

from geoqa.errors import JobError
from geoqa.job.document import format_version
from geoqa.job.document.load import parse

TEXT = '[job]\nname = "A"\n{line}\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'


def test_a_file_that_states_none_is_of_the_current_format():
    assert parse(TEXT.format(line="")) == parse(TEXT.format(line=f"version = {format_version.CURRENT}"))
    assert parse(TEXT.format(line="")).job.version == format_version.CURRENT


@pytest.mark.parametrize("said", ["0", "-1", '"1"', "1.5", "true"])
def test_what_is_no_format_is_refused_with_its_line(said):
    with pytest.raises(JobError, match=r"\[job\], version, line 3: is no format of job files; write version = 1"):
        parse(TEXT.format(line=f"version = {said}"))


def test_a_file_of_a_later_geoqa_is_refused_before_its_tables_are_looked_at():
    text = TEXT.format(line="version = 2") + "[unheard_of]\nkey = 1\n"
    with pytest.raises(JobError, match=r"line 3: the file is of format 2, and geoqa \S+ reads format 1") as caught:
        parse(text)
    assert "unheard_of" not in str(caught.value)


def test_an_older_file_is_refused_with_the_change_to_make(monkeypatch):
    monkeypatch.setattr(format_version, "CURRENT", 3)
    monkeypatch.setattr(format_version, "CHANGES", {1: "Call [rod] now [tilt]."})
    with pytest.raises(JobError, match=r"1 is no longer read. Call \[rod\] now \[tilt\]. Then write version = 3"):
        parse(TEXT.format(line="version = 1"))
