"""Words of facts: what is declared is told, what is not is told by its name, and one name has one owner."""

import ast
from dataclasses import dataclass
from importlib.metadata import EntryPoint
from importlib.resources import files
from pathlib import Path

import pandas as pd
import pytest

from bench import make
from geoqa import plugins
from geoqa.contract import words
from geoqa.contract.causes import CAUSES
from geoqa.contract.flags import FLAGS
from geoqa.contract.notes import NOTES
from geoqa.contract.sentences import note_lines, reasons_of
from geoqa.errors import CheckError, PluginError
from geoqa.job.check import check
from geoqa.job.execute import execute
from geoqa.job.plan import default_steps
from geoqa.job.run import run
from geoqa.model.tables.columns import conform, empty
from geoqa.model.vocabulary import Flag, Note

HOUSE = Path(str(files("geoqa")))
THEIRS = (
    Flag(name="no-spike", title="looked at and found smooth", sentence="{number} wide at {other}"),
    Note(name="widths-taken", sentence="Widths were taken from {count} pairs.", order=5),
)


@dataclass(frozen=True)
class Stranger:
    """A package that declares words."""

    told: object

    def install(self, monkeypatch):
        known = dict(plugins.declared("words"))
        entry = EntryPoint(name="width", value="width_words:WORDS", group="geoqa.words")
        real_declared, real_load, real_owner = plugins.declared, plugins.load, plugins.owner
        monkeypatch.setattr(
            plugins, "declared", lambda group: known | {"width": entry} if group == "words" else real_declared(group)
        )
        monkeypatch.setattr(
            plugins, "load", lambda group, name: self.told if name == "width" else real_load(group, name)
        )
        monkeypatch.setattr(
            plugins, "owner", lambda group, name: "width 0.1" if name == "width" else real_owner(group, name)
        )
        forget()


def forget():
    words._owned.cache_clear()
    words._of.cache_clear()


@pytest.fixture
def stranger(monkeypatch):
    yield lambda told: Stranger(told).install(monkeypatch)
    monkeypatch.undo()
    forget()


def flags_of(**facts):
    return conform("flags", pd.DataFrame([{"shot_key": "day1/1", "reject": False, "step": "x", **facts}]))


def notes_of(*rows):
    return conform("notes", pd.DataFrame([{"step": "x", **row} for row in rows]))


def test_words_of_a_stranger_are_printed_in_the_unit_of_the_job(stranger):
    stranger(THEIRS)
    flags = flags_of(flag="no-spike", number=4.5, unit="job", other="day1/2")
    assert reasons_of(flags, "ftUS").tolist() == ["4.500 ftUS wide at day1/2"]
    notes = notes_of({"note": "nothing-judged"}, {"note": "widths-taken", "count": 7})
    assert note_lines(notes, "ft")[0] == "Widths were taken from 7 pairs."
    assert list(words.every_flag())[-1] == "no-spike"


def test_a_word_that_nobody_declares_is_told_by_its_name():
    flags = flags_of(flag="walk-width", number=4.5, limit=5.0, unit="job", reference="C-101")
    assert reasons_of(flags, "m").tolist() == ["walk width 4.5000 m, limit 5.0000 m (C-101)"]
    notes = notes_of({"note": "walk-width", "written": "too narrow"}, {"note": "nothing-judged"})
    assert note_lines(notes, "ft")[-1] == "Walk width: too narrow"


def test_two_owners_of_a_flag_are_named(stranger):
    stranger((Flag(name="tilt", title="mine"),))
    with pytest.raises(CheckError, match=r"Two own the flag 'tilt': geoqa-survey .* and width 0\.1"):
        words.every_flag()


@pytest.mark.parametrize("command", [run, check])
def test_words_that_do_not_hold_together_are_told_before_a_file_is_read(stranger, command, tmp_path):
    job = tmp_path / "job.toml"
    job.write_text(
        '[job]\nname = "x"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "not_there.csv"\n', encoding="utf-8"
    )
    stranger((Flag(name="tilt", title="mine"),))
    with pytest.raises(CheckError, match="Two own the flag 'tilt'"):
        command(job)


@pytest.mark.parametrize("told", [Flag(name="a", title="b"), ("spike",), {"a": 1}])
def test_what_is_no_tuple_of_words_is_refused(stranger, told):
    stranger(told)
    with pytest.raises(PluginError, match=r"What width 0\.1 declares as the words 'width' is no tuple"):
        words.every_flag()


@pytest.mark.parametrize("name", ["", "spike;tilt"])
def test_a_name_that_would_read_as_two_flags_is_refused(name):
    with pytest.raises(CheckError, match="is no name of a flag"):
        Flag(name=name, title="x")


@pytest.mark.parametrize(
    "make_word", [lambda text: Flag(name="a", title="b", sentence=text), lambda text: Note(name="a", sentence=text)]
)
def test_a_sentence_that_asks_for_what_no_fact_holds_is_refused(make_word):
    with pytest.raises(CheckError, match="'a': no fact is called 'width'; use one of name, variant, number"):
        make_word("{width} here")


def literals(call, keyword):
    """Texts that are given to a keyword anywhere in our steps and in the job."""
    for path in [*(HOUSE / "steps").rglob("*.py"), *(HOUSE / "job").rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == call:
                yield from (
                    each.value.value
                    for each in node.keywords
                    if each.arg == keyword and isinstance(each.value, ast.Constant)
                )
            if keyword == "note" and isinstance(node, ast.Dict):
                yield from (
                    value.value
                    for key, value in zip(node.keys, node.values, strict=True)
                    if isinstance(key, ast.Constant)
                    and key.value == "note"
                    and isinstance(value, ast.Constant)
                    and value.value
                )


@pytest.mark.long
def test_every_flag_that_our_steps_name_is_declared():
    from geoqa.steps.causes import open_blunders
    from geoqa.steps.control import check_policy
    from geoqa.steps.precision import lean_budget
    from geoqa.steps.shots import flags

    named = {*literals("flagged", "flag"), flags.ZERO, lean_budget.UNTESTED, *check_policy.FLAGS.values()}
    named |= {open_blunders.FLAG, open_blunders.DOUBT}
    assert len(named) > 15
    assert named <= {flag.name for flag in FLAGS}


@pytest.mark.long
def test_every_note_that_our_steps_and_the_job_write_is_declared_and_the_other_way_round():
    from geoqa.contract.notes import OF_THE_DAY as OF_DAY

    written = set(literals("noted", "note")) | {"diagnosis-gap", "screening-gap", *OF_DAY}
    assert written == {note.name for note in NOTES}


@pytest.mark.long
def test_every_flag_of_a_job_with_faults_has_a_sentence_of_its_own():
    layers = make(seed=1).layers()
    done = execute(layers, default_steps([]))
    assert set(done["flags"]["flag"]) <= set(words.every_flag())
    reasons = reasons_of(done["flags"], done.frame.unit.name)
    assert not reasons.str.contains(r"\{|\}|nan|None").any()
    assert reasons.str.len().min() > 10
    assert reasons_of(empty("flags"), "ft").tolist() == []


def test_every_word_of_ours_has_a_title_a_name_of_its_own_and_something_to_do():
    for told in (FLAGS, NOTES, CAUSES):
        names = [word.name for word in told]
        assert len(set(names)) == len(names)
    assert all(flag.title and flag.heading and flag.do for flag in FLAGS)
    assert [note.order for note in NOTES] == sorted(note.order for note in NOTES)
    assert all(note.sentence or note.listing for note in NOTES)


def test_a_flag_is_explained_and_a_check_is_not():
    assert words.explain_word("spike").startswith("spike: strays from the smooth run of its line")
    assert words.explain_word("offset") is None
