"""The page and the table of a difference: nothing in them is obeyed by a browser or a spreadsheet."""

import csv
import io
import re
from html.parser import HTMLParser

import pytest

from geoqa.review.round_files import page, table
from geoqa.review.rounds import STATES, Compared, Thread

HOSTILE = "<img src=x onerror=alert(1)></td><script>x</script> & \"q\" 'a' ${title} $headline \x1b[31m \u202e"


def made(text, *, rounds=("r1", "r2", "r3")):
    threads = [
        Thread(item=str(nth), state=state, kind=text, subject=text, told=text, before=text + "!", why=text, first="9",
               decision=text, neighbours=(text,), history=("OUT", text, ""), untouched=state == "open")
        for nth, state in enumerate(STATES, start=1)
    ]  # fmt: skip
    return Compared(
        rounds=rounds, unit="ft", threads=tuple(threads), numbers=3, same=2, new_shots=1, shots=9, files=(text,),
        register_kept=False,
    )  # fmt: skip


class Elements(HTMLParser):
    def __init__(self):
        super().__init__()
        self.seen, self.attributes = set(), set()

    def handle_starttag(self, tag, attrs):
        self.seen.add(tag)
        self.attributes |= {name for name, _ in attrs}


def test_text_of_anybody_stays_text_and_nothing_is_asked_for():
    text, plain = page(made(HOSTILE, rounds=(HOSTILE, "r2", "r3"))), page(made("curb"))
    found, known = Elements(), Elements()
    found.feed(text)
    known.feed(plain)
    assert (found.seen, found.attributes) == (known.seen, known.attributes)
    assert not found.seen & {"script", "img", "link", "iframe"}
    assert not re.search(r"url\(|@import|https?:", text)
    assert "default-src &#x27;none&#x27;" in text or "default-src 'none'" in text
    assert "\x1b" not in text
    assert "\u202e" not in text


def test_every_state_has_its_section_and_what_is_untouched_stands_apart():
    text = page(made("curb"))
    for state, said in STATES.items():
        assert (f"<h2>{said[0].upper()}{said[1:]} (1)</h2>" in text) == (state != "open")
    assert "Untouched, the same by their hashes (1)" in text
    assert "prefers-color-scheme: dark" in text
    assert "@media print" in text


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1+2", "@x", "\t=1", "  =cmd", "\r=1"])
def test_no_cell_begins_like_a_formula(text):
    rows = list(csv.DictReader(io.StringIO(table(made(text)))))
    assert {row["told"] for row in rows} == {"'" + text}
    assert {row["item"] for row in rows} == {"1", "2", "3", "4", "5", "6"}
