"""A job file's mistakes are all told at once, with addresses, before any data is opened."""

import re

import pytest

from geoqa.errors import JobError
from geoqa.job.document.load import load, parse
from geoqa.job.document.locate import locate

NINE = """
[job]
name = ""

[frame]
horizontal = 6547

[[shots]]
file = "day1.csv"
delimeter = ";"

[[shots]]
file = "day2.xyz"

[tolerance.curb-top]
horizontal = 0.10
vertical = { hi = "0.08 ft" }

[[steps]]
use = "slopes"

[outputs]
layers = ["gpkg", "pdf"]
"""


def problems(text):
    with pytest.raises(JobError) as caught:
        parse(text, name="job.toml")
    return str(caught.value).splitlines()


def test_nine_mistakes_get_nine_messages_with_address_line_and_what_is_allowed():
    said = problems(NINE)
    assert said[0] == "job.toml has 9 problems:"
    assert len(said) == 10
    text = "\n".join(said)
    for pattern in (
        r"\[job\], name, line 3: must not be empty",
        r"\[frame\], horizontal, line 6: must be text in quotes",
        r"\[\[shots\]\] 1 \(day1.csv\), delimeter, line 10: not an option here; did you mean delimiter\? allowed: ",
        r"\[\[shots\]\] 2 \(day2.xyz\), file, line 13: no reader for shots files that end in .xyz; known: .csv, .tab",
        r"\[tolerance.curb-top\], horizontal, line 16: 0.1 has no unit; .*0.10 ft",
        r"\[tolerance.curb-top.vertical\], line 17: takes a length .* low and high",
        r"\[tolerance.curb-top\], reference, line 15: missing",
        r"\[\[steps\]\] 1 \(slopes\), line 19: No step named 'slopes'. Installed: .*offsets",
        r"\[outputs\], layers, 1, line 23: No writer named 'pdf'. Installed: .*gpkg",
    ):
        assert re.search(pattern, text), pattern


def test_a_frame_nobody_filled_in_is_a_mistake_in_the_job_file():
    text = '[job]\nname = "x"\n[frame]\nhorizontal = "REQUIRED"\n[[shots]]\nfile = "a.csv"\n'
    assert "[frame], horizontal, line 4: still to be filled in" in "\n".join(problems(text))


def test_a_path_in_double_quotes_with_backslashes_says_how_to_write_it():
    text = '[job]\nname = "x"\n[[shots]]\nfile = "C:\\Users\\me\\day1.csv"\n'
    assert re.search(r"line 4.*paths with / between the folders, or in single quotes", "\n".join(problems(text)))


def test_a_factor_without_an_origin_is_refused():
    text = '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\ncombined_factor = 0.9999\n[[shots]]\nfile = "a.csv"\n'
    assert "[frame], line 3: combined_factor needs ground_origin" in "\n".join(problems(text))


def test_a_job_without_shots_is_told_what_to_add():
    assert "add [[shots]] with file" in "\n".join(
        problems('shots = []\n[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n')
    )


def test_two_files_of_one_name_need_an_id():
    text = (
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n'
        '[[shots]]\nfile = "a/day1.csv"\n[[shots]]\nfile = "b/day1.csv"\n'
    )
    assert "two [[shots]] tables are called day1" in "\n".join(problems(text))


def test_a_limit_with_a_sign_is_refused():
    text = (
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
        '[tolerance.walk]\nvertical = "-0.1 ft"\nreference = "r"\n'
    )
    assert "written without a sign" in "\n".join(problems(text))


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ('[tolerance.walk]\nvertical = "1e999 ft"\nreference = "r"\n', "'1e999 ft' is not a length"),
        ('[tolerance.walk]\nvertical = "1 ft"\nspacing = "-3 ft"\nreference = "r"\n', "must be more than 0, and -3 ft"),
        ('[uncertainty.default]\nvertical_random = "0 ft"\nreference = "r"\n', "must be more than 0, and 0 ft is not"),
        ('[uncertainty.default]\nvertical_common = "-1 mm"\nreference = "r"\n', "must not be negative, and -1 mm is"),
        ('[[steps]]\nuse = "runs"\noff = "yes"\n', "off must be true or false"),
        ('[review]\nby = "A"\non = "soon"\n', "must be a date, such as 2026-05-15"),
        ('[outputs]\nfolder = ""\n', "must not be empty"),
    ],
)
def test_numbers_nobody_can_mean_are_refused_in_the_words_of_the_file(table, message):
    text = '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
    assert message in "\n".join(problems(text + table))


def test_a_step_that_is_not_off_is_on():
    text = '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
    (step,) = parse(text + '[[steps]]\nuse = "runs"\noff = false\n').steps
    assert step.name == "runs"


def test_an_option_of_a_step_is_checked_with_the_steps_own_options():
    text = (
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
        '[[steps]]\nuse = "runs"\nshortst = 3\n'
    )
    said = "\n".join(problems(text))
    assert "[[steps]] 1 (runs), shortst, line 9: not an option here; did you mean shortest?" in said


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"\xff\xfe\x00", "not UTF-8"),
        (b"[job", "not valid TOML"),
        (b"x = 1\n" * 200_000, "a job file is TOML text of a few pages"),
    ],
)
def test_what_is_no_job_file_says_so(tmp_path, content, message):
    path = tmp_path / "job.toml"
    path.write_bytes(content)
    with pytest.raises(JobError, match=message):
        load(path)


def test_a_missing_job_file_says_how_to_make_one(tmp_path):
    with pytest.raises(JobError, match="geoqa init"):
        load(tmp_path / "none.toml")
    with pytest.raises(JobError, match="is a folder"):
        load(tmp_path)


def test_keys_are_located_also_after_values_of_several_lines():
    text = '[job]\nname = """\n[frame]\n"""\nrevision = "b"\n[outputs]\nlayers = [\n  "gpkg",\n]\nfolder = "o"\n'
    places = locate(text)
    assert places[("job", "revision")] == 5
    assert ("frame",) not in places
    assert places[("outputs", "folder")] == 10
