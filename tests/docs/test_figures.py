"""The figures of the pages are those that the script draws, the same bytes each time."""

import importlib.util
import re

import matplotlib
import pytest

from bench.pages import DOCS

pytestmark = pytest.mark.long

DRAWN_BY = re.compile(r"Matplotlib v([\d.]+)")
WORDS = re.compile(r"<!--.*?-->|<text[^>]*>([^<]*)</text>")


@pytest.fixture(scope="module")
def figures():
    spec = importlib.util.spec_from_file_location("figures", DOCS / "making" / "figures.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


def test_they_are_drawn_the_same_and_small_and_are_those_in_docs(figures, tmp_path):
    (tmp_path / "again").mkdir()
    for one, again in zip(figures.write(tmp_path), figures.write(tmp_path / "again"), strict=True):
        assert one.read_bytes() == again.read_bytes()
        kept = DOCS / one.name
        assert kept.stat().st_size < 60_000
        drawn, stands = one.read_text(encoding="utf-8"), kept.read_text(encoding="utf-8")
        assert WORDS.findall(drawn) == WORDS.findall(stands), f"{one.name} is old: python docs/making/figures.py"
        if DRAWN_BY.search(stands)[1] == matplotlib.__version__:
            assert drawn == stands, f"{one.name} is old: python docs/making/figures.py"


def test_every_figure_stands_on_a_page(figures):
    pages = "".join(page.read_text(encoding="utf-8") for page in DOCS.glob("*.md"))
    assert [name for name in figures.FIGURES if f"({name}.svg)" not in pages] == []
    drawn = {path.stem for path in DOCS.glob("figure_*.svg")}
    assert drawn == set(figures.FIGURES)


def test_what_they_say_of_numbers_is_what_the_verdicts_are(figures, tmp_path):
    """The third number lies beyond its limit and proves nothing; common practice of guard bands, JCGM 106:2012."""
    [figure] = [path for path in figures.write(tmp_path) if path.stem == "figure_verdict"]
    said = [text for text in WORDS.findall(figure.read_text(encoding="utf-8")) if ": " in text]
    assert [text.rpartition(": ")[2] for text in said] == ["IN", "UNDECIDED", "UNDECIDED", "OUT", "UNDECIDED", "OUT"]
