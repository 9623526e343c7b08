"""Every word that geoqa prints as a label is explained."""

from importlib.metadata import entry_points
from pathlib import Path

import pytest
from click.testing import CliRunner

import geoqa
from geoqa.cli import main
from geoqa.contract.causes import CAUSES
from geoqa.contract.checks import every_check
from geoqa.contract.decisions import DECISIONS
from geoqa.contract.flags import FLAGS
from geoqa.contract.glossary import GROUPS
from geoqa.contract.meanings import every_word, explain_any
from geoqa.contract.notes import NOTES
from geoqa.model import words
from geoqa.model.reasons import SHARED
from geoqa.model.tables.columns import TABLES
from geoqa.model.tables.reported import TEXTS
from geoqa.review.rounds import OPEN, STATES

DECLARED = {
    "check": list(every_check()),
    "flag": [each.name for each in FLAGS],
    "note": [each.name for each in NOTES],
    "cause": [each.name for each in CAUSES],
    "reason": [each.name for each in (*SHARED, *(own for check in every_check().values() for own in check.reasons))],
    "verdict": list(TEXTS),
    "rule": [*words.RULES, "guard 0.5"],
    "column": sorted({column.name for columns in TABLES.values() for column in columns}),
    "step": [each.name for each in entry_points(group="geoqa.steps")],
    "uncertainty": ["u", "common", "random", "1 sigma", "95 %"],
    "state of an item": [*STATES.values(), *OPEN, "untouched"],
    "decision": list(DECISIONS),
}


@pytest.mark.parametrize("kind", DECLARED)
def test_every_declared_word_is_explained(kind):
    without = [word for word in DECLARED[kind] if len(explain_any(word) or "") < len(word) + 15]
    assert without == []


def test_a_word_is_found_as_sentences_write_it():
    assert explain_any("Cross slope") == explain_any("cross-slope")
    assert explain_any("Flow lines") == explain_any("flow line")
    assert explain_any("check shots") == explain_any("check shot")
    assert explain_any("OUT") == explain_any("out")


@pytest.mark.parametrize("group", ["trade", "what a run tells", "report", "round or decision", "season"])
def test_no_word_is_explained_that_nothing_prints(group):
    sources = [path for path in Path(geoqa.__file__).parent.rglob("*") if path.suffix in {".py", ".js", ".html"}]
    text = "\n".join(path.read_text(encoding="utf-8") for path in sources if "glossary" not in path.name).casefold()
    assert [word for word in GROUPS[group] if word.casefold() not in text] == []


def test_no_explanation_is_a_template_or_empty():
    for word in every_word():
        told = explain_any(word)
        assert told, word
        assert "{" not in told, word


def test_a_word_with_several_meanings_gets_all_of_them():
    told = explain_any("identical-to-design")
    assert "identical-to-design: " in told
    assert "identical-to-design (reason): the row equals the design" in told
    assert "(column of" in explain_any("offset")
    assert explain_any("offset").startswith("Offset from design line (offset)")


def test_several_words_in_one_cell_are_explained_one_after_the_other():
    assert explain_any("tilt;spike") == "\n".join([explain_any("tilt"), explain_any("spike")])
    assert explain_any("bad-shot + mark-name").count("(cause of a survey blunder)") == 2
    assert explain_any("tilt;nonsense") is None


def test_the_command_knows_any_word_and_proposes_one_for_a_slip():
    told = CliRunner().invoke(main, ["explain", "guarded"])
    assert told.exit_code == 0
    assert "95 %" in told.output
    slip = CliRunner().invoke(main, ["explain", "garded"])
    assert slip.exit_code == 2
    assert "Did you mean guarded?" in slip.output


def test_the_words_of_the_job_file_stand_on_their_page_and_are_explained():
    page = (Path(__file__).resolve().parents[2] / "docs" / "job_lines.md").read_text(encoding="utf-8")
    for word in ("guarded", "simple", "guard 0.5"):
        assert f'`rule = "{word}"`' in page
        assert explain_any(word)
    for word in ("horizontal_random", "vertical_random", "horizontal_common", "vertical_common", "confidence"):
        assert f"`{word}" in page
        assert explain_any(word), word
