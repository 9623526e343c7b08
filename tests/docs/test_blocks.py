"""Every block of every page is run, read, or says why not."""

import re
import tomllib

import click
import pytest

from bench.pages import DOCS, ROOT, agrees, blocks, is_followed, pages, written_into
from geoqa.cli import COMMANDS, main
from geoqa.job.document.load import validated
from geoqa.job.document.rule_files import rule_file
from geoqa.read.structures import StructuresText

ALL = [block for page in pages() for block in blocks(page)]
FOLLOWED_PAGES = {page.name for page in pages() if is_followed(page)}
ELSEWHERE = {"cookbook.md": "tests/test_cookbook.py", "demo.md": "tests/test_demo_page.py"}
"""Pages whose blocks a test of their own runs."""

BY_CI = re.compile(r"<!-- (demo|test) -->\n```bash")
"""Commands of the README that .ci/run takes from there."""

FILES = {"town_rules.toml", "storm.csv"}
"""Files that are shown whole, each with a test below."""

LINES = [
    each
    for each in ALL
    if each.language == "toml" and each.page not in FOLLOWED_PAGES and not each.excuse and each.title not in FILES
]
COMMAND_LINES = [
    (each, line)
    for each in ALL
    if each.language in ("", "bash") and not each.excuse
    for line in each.text.splitlines()
    if line.startswith("geoqa ")
]


def test_every_block_is_run_or_read_by_some_test_or_says_why_not():
    left = [
        each.name
        for each in ALL
        if not each.excuse
        and each.page not in FOLLOWED_PAGES
        and each.page not in ELSEWHERE
        and each.language != "toml"
        and each.title not in FILES
        and not all(line.startswith("geoqa ") or not line for line in each.text.splitlines())
        and not (each.page == "README.md" and each.language == "bash" and ".venv/bin/" in each.text)
        and not (each.page == "README.md" and each.language == "python")  # test_followed.py
    ]
    assert left == []
    assert len(BY_CI.findall((ROOT / "README.md").read_text(encoding="utf-8"))) == 2


def test_every_fence_is_closed_and_known():
    for page in pages():
        fences = re.findall(r"^```.*$", page.read_text(encoding="utf-8"), re.MULTILINE)
        assert len(fences) == 2 * len(blocks(page)), page.name
        assert set(fences[1::2]) <= {"```"}, page.name


@pytest.mark.parametrize("block", LINES, ids=lambda each: each.name)
def test_lines_of_a_job_file_are_taken_by_a_job_file(block, tmp_path):
    """A rule file that they name is one that comes with geoqa."""
    said = tomllib.loads(block.text)
    for each in said.get("rules", ()):
        rules = (ROOT / "geoqa/presets/rules/prowag-2023.toml").read_text(encoding="utf-8")
        path = tmp_path / "job" / each["file"]
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(rules, encoding="utf-8")
    (tmp_path / "job").mkdir(exist_ok=True)
    whole = {
        "job": {"name": "A page"},
        "frame": {"horizontal": "EPSG:6547"},
        "shots": [{"file": "shots.csv"}],
        **({"baseline": {"file": "line.csv"}} if said.keys() & {"profile", "section"} else {}),
        **said,
    }
    validated(whole, name=block.name, text=block.text, folder=tmp_path / "job")


def shown(title):
    [block] = [each for each in ALL if each.title == title and each.page not in FOLLOWED_PAGES]
    return block.text


def test_the_rule_file_that_is_shown_is_one(tmp_path):
    (tmp_path / "town_rules.toml").write_text(shown("town_rules.toml"), encoding="utf-8")
    said = rule_file(tmp_path / "town_rules.toml", shown="town_rules.toml")
    assert (said.name, list(said.limits)) == ("town_rules", ["walk"])


def test_the_list_of_structures_that_is_shown_is_read(tmp_path):
    (tmp_path / "storm.csv").write_text(shown("storm.csv"), encoding="utf-8")
    read = StructuresText().read(tmp_path / "storm.csv", source="storm").layers["structure_notes"]
    assert read["pipe"].tolist() == ["P1", "P1", "P2", "W-1"]


@pytest.mark.parametrize(("block", "line"), COMMAND_LINES, ids=lambda each: getattr(each, "name", None))
def test_a_command_that_is_shown_exists_with_its_options(block, line):
    words = re.split(r"\s#", line)[0].split()
    assert words[1] in COMMANDS or words[1] == "--version", line
    if words[1] in COMMANDS:
        command = main.get_command(click.Context(main), words[1])
        known = {name for each in command.params for name in each.opts}
        assert {word.partition("=")[0] for word in words[2:] if word.startswith("--")} <= known, line


def test_lines_go_into_their_tables_as_a_person_would_write_them():
    job = '[frame]\nhorizontal = "REQUIRED"   # e.g.\n\n[[shots]]\nfile = "a.csv"\n\n[outputs]\nfolder = "out"\n'
    block = '[frame]\nhorizontal = "EPSG:6547"\nvertical = "EPSG:8228"\n\n[[shots]]\nfile = "a.csv"\nunit = "ft"\n'
    said = tomllib.loads(written_into(written_into(job, block), '[tolerance.rim]\nvertical = "0.1 ft"\n'))
    assert said == {
        "frame": {"horizontal": "EPSG:6547", "vertical": "EPSG:8228"},
        "shots": [{"file": "a.csv", "unit": "ft"}],
        "outputs": {"folder": "out"},
        "tolerance": {"rim": {"vertical": "0.1 ft"}},
    }


def test_lines_that_are_not_shown_may_be_left_out_and_no_others():
    assert agrees("a\n…\nd\n", "a\nb\nc\nd\n")
    assert agrees("…\nd\n", "a\nd\n")
    assert agrees("a\n", "a\n")
    assert not agrees("a\n…\nc\n", "a\nb\nd\n")
    assert not agrees("a\n", "a\nb\n")


def test_pages_that_are_followed_are_the_first_ones_a_stranger_reads():
    assert {"first_day.md", "from_a_drawing.md", "outside_check.md"} <= FOLLOWED_PAGES
    assert (DOCS / "index.md").is_file()
