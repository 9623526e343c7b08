"""What Windows does differently, as far as another system can show it.

Simulated: files with a byte order mark, line ends of two characters and a code page; paths with backslashes; names that
Windows keeps for itself, and names that differ in case alone; how long the paths are that a run makes; a file that
another program holds; a system whose links cannot be asked for; a terminal of one code page.

Not tried, for want of the system: Windows itself and its installer of wheels, a virus scanner that holds what was just
written, drives of a network (UNC), paths beyond 260 characters where the system forbids them, the console's own fonts.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pandas
import pytest

import geoqa
from bench.pages import DOCS, Reader, blocks
from geoqa.errors import JobError
from geoqa.job import deliver, placing
from geoqa.job.document.load import load

pytestmark = pytest.mark.long

JOB = """\
[job]
name = "As on Windows – 2°"
[frame]
horizontal = "EPSG:6547"
vertical = "EPSG:8228"
[[shots]]
file = 'shots\\day 1.txt'
[control]
file = "control.csv"
[codes]
file = "codes.csv"
[[design]]
file = "design.csv"
[tolerance.curb-top]
horizontal = "0.10 ft"
vertical = "0.08 ft"
reference = "Drawing C-101, note 4"
[outputs]
layers = ["gpkg", "geojson", "csv", "summary", "sheets", "field", "dxf", "shp", "parquet", "landxml"]
"""
KEPT = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?$")
FORBIDDEN = re.compile(r'[<>:"|?*\\\x00-\x1f]|[. ]$')
LONGEST_PATH = 260
FOLDER_OF_USERS = 140
"""Characters that a folder of jobs may take, such as C:\\Users\\NAME\\Documents\\Projects\\YEAR\\TOWN\\STREET."""


def files_of_the_first_day(folder):
    reader = Reader(folder)
    for block in blocks(DOCS / "first_day.md"):
        if block.title.startswith("my_job/"):
            reader.do(block)
    made = folder / "my_job"
    (made / "shots").mkdir()
    (made / "shots.txt").rename(made / "shots" / "day 1.txt")
    codes = "code,kind,role,meaning\nCTB,curb-top,feature,top of curb ±\nCHK,control,check,Prüfpunkt\n"
    (made / "codes.csv").write_text(codes, encoding="utf-8")
    (made / "job.toml").write_text(JOB, encoding="utf-8")
    return made


def as_saved_on_windows(folder):
    """The same files with a byte order mark and line ends of two characters; the list of codes in a code page."""
    for path in [each for each in folder.rglob("*") if each.is_file()]:
        text = path.read_text(encoding="utf-8").replace("\n", "\r\n")
        path.write_bytes(text.encode("cp1252" if path.name == "codes.csv" else "utf-8-sig"))


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    folder = files_of_the_first_day(tmp_path_factory.mktemp("windows"))
    as_saved_on_windows(folder)
    longest = []
    place_all = deliver.place_all

    def measured(workplace, out, names):
        longest.extend(len(str((workplace / ".previous" / name).relative_to(out))) for name in names)
        place_all(workplace, out, names)

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(deliver, "place_all", measured)
        results = geoqa.run(folder / "job.toml")
    held = []
    if Path("/proc/self/fd").is_dir():
        held = [os.readlink(each) for each in Path("/proc/self/fd").iterdir() if each.is_symlink()]
    return folder, results, max(longest), [path for path in held if path.startswith(str(folder))]


def test_files_saved_on_windows_are_judged_as_others(ran, tmp_path):
    plain = geoqa.run(files_of_the_first_day(tmp_path) / "job.toml", write=False).findings
    columns = ["check", "label", "deviation", "u", "verdict", "why"]
    assert len(plain) > 20
    pandas.testing.assert_frame_equal(plain[columns], ran[1].findings[columns])


def test_every_file_has_a_name_that_windows_takes(ran):
    made = [path.relative_to(ran[0] / "out") for path in (ran[0] / "out").rglob("*")]
    assert len(made) > 20
    parts = {part for path in made for part in path.parts}
    assert [part for part in sorted(parts) if KEPT.match(part) or FORBIDDEN.search(part)] == []
    names = [str(path).casefold() for path in made]
    assert len(names) == len(set(names))


def test_paths_that_a_run_makes_fit_below_a_usual_folder(ran):
    assert ran[2] + len("\\out\\") + FOLDER_OF_USERS < LONGEST_PATH


def test_no_file_is_held_after_a_run(ran):
    """An open file cannot be renamed or replaced there."""
    assert ran[3] == []


def test_text_is_written_with_the_same_line_ends_everywhere(ran):
    for path in (ran[0] / "out").rglob("*"):
        if path.suffix in (".csv", ".json", ".geojson", ".html", ".txt"):
            assert b"\r\n" not in path.read_bytes(), path.name


def test_where_links_cannot_be_asked_for_a_copy_is_kept(tmp_path, monkeypatch):
    def no_link(*_, **__):
        raise NotImplementedError("link: follow_symlinks unavailable on this platform")

    monkeypatch.setattr(os, "link", no_link)
    (tmp_path / "old.txt").write_text("old", encoding="utf-8")
    placing._keep(tmp_path / "old.txt", tmp_path / "kept" / "old.txt")
    assert (tmp_path / "kept" / "old.txt").read_text(encoding="utf-8") == "old"


def test_a_job_file_in_a_code_page_says_how_to_save_it(tmp_path):
    folder = files_of_the_first_day(tmp_path)
    (folder / "job.toml").write_bytes(JOB.encode("cp1252"))
    with pytest.raises(JobError, match=r"is not UTF-8 text .* save it as UTF-8"):
        load(folder / "job.toml")


def test_a_terminal_of_one_code_page_is_no_reason_to_stop(ran):
    done = subprocess.run(
        [sys.executable, "-m", "geoqa", "check", str(ran[0] / "job.toml")],
        env=os.environ | {"PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert b"are in order" in done.stdout
