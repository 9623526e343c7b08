"""Texts that no job file needs are refused before they are taken apart, with their line."""

import os
import time

import pytest

from geoqa.errors import JobError
from geoqa.job.document.load import load, parse

HEAD = '[job]\nname = "A {{ [ # not counted"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
DEEP = 100_000


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (HEAD + ".".join(["a"] * DEEP) + " = 1\n", r"line 7: a key has more than 30 parts"),
        (HEAD + " . ".join(['"a"'] * DEEP) + " = 1\n", r"line 7: a key has more than 30 parts"),
        (HEAD + "[" + ".".join(["a"] * 500) + "]\nb = 1\n", r"line 7: a key has more than 30 parts"),
        (HEAD + "x = " + "[" * DEEP + "]" * DEEP, r"line 7: tables and lists lie more than 30 deep"),
        (HEAD + "x = " + "{a = " * DEEP + "1" + "}" * DEEP, r"line 7: tables and lists lie more than 30 deep"),
        (HEAD + "x = [\n" * 50 + "]" * 50, r"line 37: tables and lists lie more than 30 deep"),
        (HEAD + "x = " + "9" * 5_000, r"line 7: a number has more than 4,000 digits"),
        (HEAD + "[frame.geoid]\nx = " + "9" * 400, r"\[frame\.geoid\], x, line 8: .* at most 9,223,372,036"),
        (HEAD + '[[steps]]\nuse = "runs"\nshortest = ' + "9" * 30, r"\[\[steps\]\] 1 \(runs\), shortest, line 9: must"),
    ],
)  # fmt: skip
def test_what_no_job_needs_is_refused_at_once(text, said):
    began = time.process_time()
    with pytest.raises(JobError, match=said):
        parse(text)
    assert time.process_time() - began < 2


def test_marks_within_text_and_comments_count_nothing():
    long = "[" * 60 + "a." * 60
    text = HEAD.replace('"A', f'"A {long}') + f"# {long}\n'''\n{long}\n''' = 1\n"
    with pytest.raises(JobError, match=r"not an option here|Illegal character|not valid TOML"):
        parse(text)
    assert parse(HEAD.replace('"A', f'"{long[:100]}') + f"# {long}\n").job.name.startswith("[[[")


@pytest.mark.parametrize(
    "path", [r"a\u0000b.csv", r"a\u007F.csv", "n" * 300 + ".csv", "a/" * 2_500 + "b.csv", r"a\nb.csv"]
)
def test_a_path_that_no_disk_takes_is_named_with_its_place(path):
    with pytest.raises(JobError, match=r"(?s)\[\[shots\]\] 1 .*, file, line 6: is no path"):
        parse(HEAD.replace("a.csv", path))
    with pytest.raises(JobError, match=r"\[outputs\], folder, line 8: is no path"):
        parse(HEAD + f'[outputs]\nfolder = "{path}"\n')


@pytest.mark.skipif(os.name != "posix", reason="links are made freely only there")
def test_a_link_to_itself_is_told(tmp_path):
    (tmp_path / "job.toml").symlink_to("job.toml")
    with pytest.raises(JobError, match=r"job\.toml: is a link that leads back to itself"):
        load(tmp_path / "job.toml")
    with pytest.raises(JobError, match=r"cannot be read|There is no job file|leads back"):
        load(tmp_path / ("n" * 300 + ".toml"))


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("sub\udce4/job.toml", r"job\.toml: the name of the folder sub\\udce4 has a sign"),
        ("job\udce4.toml", r"job\\udce4\.toml: its name has a sign"),
    ],
)
def test_a_name_with_a_byte_that_is_no_text_is_told_before_anything_is_read(tmp_path, name, said):
    """As where a folder was named on a system of another encoding; the libraries below fail over it half way."""
    with pytest.raises(JobError, match=said) as told:
        load(tmp_path / name)
    assert str(told.value).isascii()
