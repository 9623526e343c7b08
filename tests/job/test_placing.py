"""One delivery: files of two runs never lie in one folder without a word, wherever a run is killed."""

import json
import os
import shutil
import signal
import time
from contextlib import suppress

import pytest

from geoqa.errors import OutputError
from geoqa.job import placing
from geoqa.job.deliver import deliver
from geoqa.job.earlier import LEFT, RECORD
from geoqa.job.placing import MARKER, finish, place_all, refuse_unfinished
from geoqa.job.workplace import new_workplace
from geoqa.review.delivered import delivered
from geoqa.review.recorded import recorded
from geoqa.review.rounds import compare
from geoqa.review.verify import verify
from tests.job.test_deliver import Notes, results

NAMES = ("a.txt", "deep/b.txt", "c.txt")
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def files(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_text(encoding="utf-8")
        for path in folder.rglob("*")
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(folder).parts)
    }


def staged(folder, text, names=NAMES):
    workplace = new_workplace(folder)
    for name in names:
        (workplace / name).parent.mkdir(exist_ok=True)
        (workplace / name).write_text(text, encoding="utf-8")
    return workplace


def killed_at(nth, what, monkeypatch, work):
    """Do `work` in a child that is killed before its `nth` call of a function of the system, or right after it."""
    child = os.fork()
    if child == 0:
        left = [nth]

        def counted(real):
            def call(*args, **more):
                if left[0] == 0:
                    os.kill(os.getpid(), signal.SIGKILL)
                left[0] -= 1
                return real(*args, **more)

            return call

        for module, name in what:
            monkeypatch.setattr(module, name, counted(getattr(module, name)))
        with suppress(BaseException):
            work()
        os._exit(0)
    return os.WIFSIGNALED(os.waitpid(child, 0)[1])


MOVES = ((os, "replace"), (os, "link"), (os, "unlink"), (os, "mkdir"), (shutil, "rmtree"))


@needs_fork
@pytest.mark.parametrize("fresh", [False, True])
@pytest.mark.long
def test_a_kill_at_every_move_leaves_one_run_or_a_text_that_says_two(tmp_path, monkeypatch, fresh):
    """Every call that changes the folder is a moment at which the run is killed before it."""
    seen, moment = set(), 0
    while True:
        out = tmp_path / f"out{moment}"
        out.mkdir()
        if not fresh:
            place_all(staged(out, "old"), out, NAMES)
            shutil.rmtree(next(out.glob(".geoqa*")))
        before = files(out)
        workplace = staged(out, "new")
        after = dict.fromkeys(NAMES, "new")

        def work(out=out, workplace=workplace):
            place_all(workplace, out, NAMES)
            shutil.rmtree(workplace)

        if not killed_at(moment, MOVES, monkeypatch, work):
            break
        held = files(out)
        told = held.pop(MARKER, None)
        assert told is not None or held in (before, after)
        if told is None:
            refuse_unfinished(out)
        else:
            with pytest.raises(OutputError, match=rf"was stopped while its files went into out{moment}"):
                refuse_unfinished(out)
        assert finish(out) is (told is not None)
        assert files(out) == (after if told is not None else held)
        assert not finish(out)
        seen.add("mixed" if held not in (before, after) else "new" if held == after else "old")
        moment += 1
    assert seen == {"old", "mixed", "new"}
    assert files(out) == after


@needs_fork
def test_what_a_killed_run_began_can_itself_be_killed_at_every_move(tmp_path, monkeypatch):
    for moment in range(40):
        out = tmp_path / f"out{moment}"
        out.mkdir()
        place_all(staged(out, "old"), out, NAMES)
        workplace = staged(out, "new")
        moves = ((os, "replace"),)
        assert killed_at(2, moves, monkeypatch, lambda out=out, of=workplace: place_all(of, out, NAMES))
        ended = not killed_at(moment, MOVES, monkeypatch, lambda out=out: finish(out))
        finish(out)
        assert files(out) == dict.fromkeys(NAMES, "new")
        if ended:
            return
    raise AssertionError("the finishing never came to its end")


@needs_fork
def test_the_next_delivery_finishes_first_and_readers_wait_for_it(tmp_path, monkeypatch):
    outputs = [Notes(file="a.txt"), Notes(file="b.txt")]
    record = {"geoqa": "0", "versions": {}, "inputs": [], "job": {"file": "job.toml", "sha256": ""}}

    def told(text):
        made = results(text)
        return type(made)(title=made.title, layers=made.layers, summary={}, record=record)

    deliver(told("old"), tmp_path, outputs)
    assert recorded(tmp_path).job == "job.toml"
    work = lambda: deliver(told("new"), tmp_path, [Notes(file="a.txt"), Notes(file="c.txt")])  # noqa: E731
    assert killed_at(1, ((os, "replace"),), monkeypatch, work)
    assert files(tmp_path)["a.txt"] == "new"
    with pytest.raises(OutputError, match=f"{MARKER} says so.*Run its job again"):
        recorded(tmp_path)
    assert finish(tmp_path)
    assert set(json.loads((tmp_path / RECORD).read_text(encoding="utf-8"))["outputs"]) == {
        "a.txt",
        "c.txt",
        "README.txt",
    }
    assert "b.txt" in (tmp_path / LEFT).read_text(encoding="utf-8")
    assert recorded(tmp_path).job == "job.toml"
    assert killed_at(1, ((os, "replace"),), monkeypatch, work)
    deliver(told("newest"), tmp_path, outputs)
    held = files(tmp_path)
    assert held["a.txt"] == held["b.txt"] == "newest"
    assert held["c.txt"] == "new"
    assert "c.txt" in held[LEFT]
    assert MARKER not in held
    assert not list(tmp_path.glob(".geoqa*"))


def test_a_run_that_is_putting_its_files_in_place_is_waited_for_and_then_left_alone(tmp_path, monkeypatch):
    """Process 1 lives as long as the machine, and is not this one."""
    monkeypatch.setattr(placing, "PATIENCE", 0.2)
    theirs = staged(tmp_path, "theirs")
    theirs = theirs.rename(theirs.with_name(theirs.name.replace(f"-{os.getpid()}-", "-1-")))
    (tmp_path / MARKER).write_text("\n".join([placing._HEAD, theirs.name, *NAMES]), encoding="utf-8")
    with pytest.raises(OutputError, match=r"at this moment\. Wait"):
        refuse_unfinished(tmp_path)
    began = time.monotonic()
    with pytest.raises(OutputError, match=r"Another run is putting its files into .* Nothing was replaced"):
        place_all(staged(tmp_path, "mine"), tmp_path, NAMES)
    assert time.monotonic() - began >= 0.2
    assert not (tmp_path / "a.txt").exists()
    assert (theirs / "a.txt").exists()


@pytest.mark.parametrize("reader", [verify, delivered, lambda folder: compare([folder, folder])])
def test_every_reader_of_a_folder_asks_first(tmp_path, reader):
    (tmp_path / MARKER).write_text(placing._HEAD + "\n.geoqa-unfinished-0-1-x\n", encoding="utf-8")
    with pytest.raises(OutputError, match="some are of it and some of the run before"):
        reader(tmp_path)


def test_a_text_whose_files_are_gone_is_told_until_a_run_has_replaced_all(tmp_path):
    (tmp_path / MARKER).write_text("\n".join([placing._HEAD, ".geoqa-unfinished-0-1-x", *NAMES]), encoding="utf-8")
    assert not finish(tmp_path)
    with pytest.raises(OutputError, match="was stopped"):
        refuse_unfinished(tmp_path)
    deliver(results(), tmp_path, [Notes()])
    refuse_unfinished(tmp_path)
    assert not (tmp_path / MARKER).exists()


@pytest.mark.parametrize("name", ["../outside", "/etc", ".geoqa-unfinished-x/../../outside", "", "\0", "a" * 5000])
def test_a_text_that_somebody_changed_moves_nothing_from_outside(tmp_path, name):
    out, outside = tmp_path / "out", tmp_path / "outside"
    out.mkdir()
    outside.mkdir()
    (outside / "a.txt").write_text("outside", encoding="utf-8")
    (out / MARKER).write_text("\n".join([placing._HEAD, name, "a.txt", "../outside/a.txt"]), encoding="utf-8")
    assert not finish(out)
    assert list(files(out)) == [MARKER]
    mine = staged(out, "mine")
    (out / MARKER).write_text("\n".join([placing._HEAD, mine.name, "a.txt", "../b.txt"]), encoding="utf-8")
    (mine.parent / "b.txt").write_text("", encoding="utf-8")
    assert finish(out)
    assert not (tmp_path / "b.txt").exists()
    assert (outside / "a.txt").exists()


def test_a_file_of_somebody_else_under_that_name_is_kept(tmp_path):
    (tmp_path / MARKER).write_text("my notes", encoding="utf-8")
    refuse_unfinished(tmp_path)
    with pytest.raises(OutputError, match="is not geoqa's own; rename it"):
        deliver(results(), tmp_path, [Notes()])
    assert files(tmp_path) == {MARKER: "my notes"}
