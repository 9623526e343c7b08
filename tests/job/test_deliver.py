"""Whole or nothing: what stood in the output folder stays whole until the new files are."""

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from types import SimpleNamespace
from typing import ClassVar

import pandas as pd
import pytest

from geoqa.cli.written import where
from geoqa.errors import OutputError
from geoqa.job.deliver import MANIFEST, deliver
from geoqa.job.earlier import LEFT, left, made
from geoqa.job.read_me import READ_ME
from geoqa.model.frame import Frame
from geoqa.model.output import Output
from geoqa.model.quantity import FOOT
from geoqa.model.results import Results, Title
from geoqa.model.tables.layer import Layers

FRAME = Frame(horizontal="EPSG:6547", horizontal_name="ND South (ft)", horizontal_wkt="EPSG:6547", unit=FOOT)


def results(text="new"):
    layers = Layers({"shots": pd.DataFrame({"shot_key": []})}, frame=FRAME)
    return Results(title=Title(name=text), layers=layers, summary={}, record={"geoqa": "0"})


class Notes(Output):
    """Writes the title."""

    name = "notes"
    file: str = "notes.txt"

    def write(self, results, folder):
        (folder / self.file).write_text(results.title.name, encoding="utf-8")
        return (self.file,)


class Fails(Output):
    """Writes half a file, then fails."""

    name = "fails"

    def write(self, results, folder):
        (folder / "notes.txt").write_text("ha", encoding="utf-8")
        raise OSError(errno.ENOSPC, "No space left on device")


def test_files_and_record_arrive_with_their_hashes(tmp_path):
    made = deliver(results(), tmp_path / "out", [Notes()])
    assert [path.name for path in made] == ["notes.txt", MANIFEST]
    record = json.loads((tmp_path / "out" / MANIFEST).read_text(encoding="utf-8"))
    assert set(record["outputs"]) == {"notes.txt"}
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["notes.txt", MANIFEST]


def test_a_full_disk_leaves_the_previous_output_whole_and_nothing_else(tmp_path):
    deliver(results("old"), tmp_path, [Notes()])
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(OutputError, match=r"No space left on device.*previous output is still whole"):
        deliver(results("new"), tmp_path, [Notes(file="other.txt"), Fails()])
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_other_files_in_the_folder_are_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    deliver(results(), tmp_path, [Notes()])
    assert (tmp_path / "mine.txt").read_text(encoding="utf-8") == "mine"


def test_two_outputs_of_one_file_name_are_refused(tmp_path):
    with pytest.raises(OutputError, match=r"Two outputs write the same file notes\.txt"):
        deliver(results(), tmp_path, [Notes(), Notes()])


class Wants(Output):
    """Needs a table that no step made."""

    name = "wants"

    def write(self, results, folder):
        return (str(results.layers["day_items"]),)


def test_a_page_whose_table_nobody_made_says_what_to_take_out(tmp_path):
    with pytest.raises(OutputError, match=r"'wants' cannot be written .*'day_items'.*Take it out of \[outputs\]"):
        deliver(results(), tmp_path, [Wants()])
    assert not list(tmp_path.iterdir())


def test_an_original_is_never_replaced_under_whatever_name_it_goes(tmp_path):
    deliver(results("old"), tmp_path, [Notes()])
    mine = tmp_path / "notes.txt"
    link = tmp_path / "sub" / "also.txt"
    link.parent.mkdir()
    os.link(mine, link)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    for original in (mine, link, tmp_path / "sub" / ".." / "notes.txt"):
        with pytest.raises(OutputError, match=r"notes\.txt would replace .* originals are never written to"):
            deliver(results("new"), tmp_path, [Notes()], originals=[original])
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()} == before


def test_a_link_in_the_output_folder_is_replaced_and_what_it_points_to_stays(tmp_path):
    mine = tmp_path / "mine.txt"
    mine.write_text("mine", encoding="utf-8")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "notes.txt").symlink_to(mine)
    deliver(results("new"), tmp_path / "out", [Notes()], originals=[mine])
    assert mine.read_text(encoding="utf-8") == "mine"
    assert (tmp_path / "out" / "notes.txt").read_text(encoding="utf-8") == "new"


def test_a_file_where_the_folder_should_be_is_told(tmp_path):
    (tmp_path / "out").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="output folder out cannot be written to: it is a file"):
        deliver(results(), tmp_path / "out", [Notes()])


@pytest.mark.long
def test_a_kill_in_the_middle_leaves_the_previous_output_whole(tmp_path):
    deliver(results("old"), tmp_path / "out", [Notes()])
    before = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    script = tmp_path / "slow.py"
    script.write_text(
        textwrap.dedent(
            f"""
            import sys, time
            sys.path.insert(0, {str(os.path.dirname(__file__))!r})
            from test_deliver import Notes, results
            from geoqa.job.deliver import deliver
            from geoqa.model.output import Output
            from pathlib import Path

            class Slow(Output):
                name = "slow"
                def write(self, results, folder):
                    (folder / "half.txt").write_text("half", encoding="utf-8")
                    print("writing", flush=True)
                    time.sleep(60)
                    return ("half.txt",)

            deliver(results("new"), Path({str(tmp_path / "out")!r}), [Notes(), Slow()])
            """
        ),
        encoding="utf-8",
    )
    process = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE)
    assert process.stdout.readline().strip() == b"writing"
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    process.stdout.close()
    after = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir() if path.is_file()}
    assert after == before
    time.sleep(0.01)
    deliver(results("newer"), tmp_path / "out", [Notes()])
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == ["notes.txt", MANIFEST]


@pytest.mark.parametrize("links", [True, False])
def test_where_one_file_is_locked_all_that_stood_there_is_put_back(tmp_path, monkeypatch, links):
    """As on systems that lock a file another program holds open; also on a disk without second names."""
    outputs = [Notes(file="a.txt"), Notes(file="b.txt"), Notes(file="locked.txt")]
    deliver(results("old"), tmp_path, outputs[1:])
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    real = os.replace

    def held(source, target):
        if str(target).endswith("locked.txt") and ".previous" not in str(source):
            raise PermissionError(13, "The process cannot access the file because it is being used by another process")
        real(source, target)

    def none(*_, **__):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "replace", held)
    if not links:
        monkeypatch.setattr(os, "link", none)
    with pytest.raises(OutputError, match=r"locked\.txt cannot be replaced.*the previous output is still whole"):
        deliver(results("new"), tmp_path, outputs)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


class Breaks(Output):
    """Ends as a format library does over a full disk: with an error of its own."""

    name = "breaks"

    def write(self, results, folder):
        raise RuntimeError("Could not create layer")


def test_an_error_of_a_format_library_over_a_full_disk_is_told_as_a_full_disk(tmp_path, monkeypatch):
    with pytest.raises(RuntimeError, match="Could not create layer"):  # there is room: it is an error of ours
        deliver(results(), tmp_path, [Breaks()])
    monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=0))
    with pytest.raises(OutputError, match=r"Writing breaks failed: the disk is full.*still whole"):
        deliver(results(), tmp_path, [Breaks()])
    assert not list(tmp_path.iterdir())


def test_what_a_run_no_longer_makes_is_named_until_it_is_gone(tmp_path):
    deliver(results(), tmp_path, [Notes(file="map.html"), Notes(file="a.txt")])
    assert left(tmp_path) == ()
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    for _ in range(2):  # the second run does not forget what the first one saw
        deliver(results(), tmp_path, [Notes(file="a.txt")])
        assert made(tmp_path) == {"a.txt", READ_ME, MANIFEST}
        assert left(tmp_path) == ("map.html",)
        assert "record.json lists" in (tmp_path / LEFT).read_text(encoding="utf-8")
    deliver(results(), tmp_path, [Notes(file="map.html"), Notes(file="a.txt")])
    assert not (tmp_path / LEFT).exists()
    deliver(results(), tmp_path, [Notes(file="a.txt")])
    (tmp_path / "map.html").unlink()
    assert left(tmp_path) == ()
    deliver(results(), tmp_path, [Notes(file="a.txt")])
    assert not (tmp_path / LEFT).exists()


def test_a_record_that_somebody_changed_names_nothing_outside_the_folder(tmp_path):
    (tmp_path / "secret.txt").write_text("", encoding="utf-8")
    out = tmp_path / "out"
    (out / "sub").mkdir(parents=True)
    names = {"../secret.txt": "", str(tmp_path / "secret.txt"): "", "a\x00b": "", "sub": "", "": "", "x" * 300: ""}
    for record in (json.dumps({"outputs": names}), '{"outputs": [1]}', "[]", "{", "[" * 100_000):
        (out / MANIFEST).write_text(record, encoding="utf-8")
        deliver(results(), out, [Notes()])
        assert left(out) == ()


def test_a_file_of_somebody_else_is_not_taken_for_the_list_of_old_files(tmp_path):
    (tmp_path / LEFT).write_text("my own notes\nnotes.txt\n", encoding="utf-8")
    deliver(results(), tmp_path, [Notes(file="map.html")])
    deliver(results(), tmp_path, [Notes()])
    assert left(tmp_path) == ()
    assert (tmp_path / LEFT).read_text(encoding="utf-8") == "my own notes\nnotes.txt\n"


def test_the_terminal_opens_no_map_of_an_earlier_run(tmp_path):
    deliver(results(), tmp_path, [Notes(file="map.html"), Notes(file="drawing.dxf")])
    assert where(tmp_path).startswith("Open ")
    assert "map.html" in where(tmp_path)
    deliver(results(), tmp_path, [Notes(file="drawing.dxf")])
    written, old = where(tmp_path).split("\n")
    assert written.startswith("Written to ")
    assert old == "Of an earlier run is: map.html"


def test_the_work_of_another_machine_is_left_alone_while_it_may_be_alive(tmp_path):
    """Its process number says nothing here."""
    theirs = tmp_path / ".geoqa-unfinished-0123456789-999999999-abc"
    (theirs / "deep").mkdir(parents=True)
    part = theirs / "deep" / "part.gpkg"
    part.write_text("half", encoding="utf-8")
    old = time.time() - 10 * 86400
    os.utime(theirs, (old, old))
    os.utime(theirs / "deep", (old, old))
    deliver(results(), tmp_path, [Notes()])
    assert part.exists()  # written a moment ago
    os.utime(part, (old, old))
    deliver(results(), tmp_path, [Notes()])
    assert not theirs.exists()


@pytest.mark.parametrize("replaced", [True, False])
def test_a_run_stopped_while_it_puts_files_in_place_puts_all_back(tmp_path, monkeypatch, replaced):
    outputs = [Notes(file="a.txt"), Notes(file="b.txt"), Notes(file="c.txt")]
    deliver(results("old"), tmp_path, outputs[1:])
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    real = os.replace

    def stopped(source, target):
        mine = str(target).endswith("b.txt") and ".previous" not in str(source)
        if mine and not replaced:
            raise KeyboardInterrupt
        real(source, target)
        if mine:
            raise KeyboardInterrupt

    monkeypatch.setattr(os, "replace", stopped)
    with pytest.raises(KeyboardInterrupt):
        deliver(results("new"), tmp_path, outputs)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


class Table(Output):
    """Writes one table more."""

    name = "table"
    files: ClassVar = {"table.csv": "every row, as read"}

    def write(self, results, folder):
        (folder / "table.csv").write_text("a\n1\n", encoding="utf-8")
        return ("table.csv",)


def test_a_folder_of_several_files_says_what_each_is(tmp_path):
    written = deliver(results(), tmp_path, [Notes(), Table()])
    text = (tmp_path / READ_ME).read_text(encoding="utf-8")
    for path in (each for each in written if each.name != READ_ME):
        assert sum(path.name in line for line in text.splitlines()) == 1
    assert "every row, as read" in text
    assert "new" in text.splitlines()[1]  # the name of the job
    again = tmp_path / "again"
    deliver(results(), again, [Notes(), Table()])
    assert (again / READ_ME).read_bytes() == (tmp_path / READ_ME).read_bytes()


def test_the_guide_is_of_the_same_delivery_as_the_files(tmp_path, monkeypatch):
    deliver(results("old"), tmp_path, [Notes(), Table()])
    replaced, real = [], os.replace

    def refuse(source, place):
        if os.path.basename(place) == MANIFEST and not replaced:
            replaced.append(place)
            raise OSError(errno.EACCES, "Permission denied")
        return real(source, place)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(OutputError, match="still whole"):
        deliver(results("new"), tmp_path, [Notes(), Table()])
    assert "old" in (tmp_path / READ_ME).read_text(encoding="utf-8").splitlines()[1]
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "old"


def test_a_file_of_that_name_that_somebody_wrote_stays(tmp_path):
    (tmp_path / READ_ME).write_text("mine", encoding="utf-8")
    deliver(results(), tmp_path, [Notes(), Table()])
    assert (tmp_path / READ_ME).read_text(encoding="utf-8") == "mine"
