"""None, one and two of a thing are told as such, in every sentence of a flag, a note and a cause."""

import re

import pytest

from geoqa.contract.causes import CAUSES
from geoqa.contract.flags import FLAGS
from geoqa.contract.notes import NOTES
from geoqa.model import words
from geoqa.model.tables.fact import Fact, sentence_of

NOUN = (
    "(?:check |more |design |different )?(?:shot|row|number|verdict|mark|visit|point|pair|file|line|comparison|place)"
)
WRONG = {
    0: re.compile(rf"(?<![\d.,:+-])0 {NOUN}\b(?! of)"),
    1: re.compile(rf"(?<![\d.,:+-])1 {NOUN}s\b|(?<![\d.,:+-])1 {NOUN} (?:are|have|lie|count|state|rest|stay|follow)\b"),
    2: re.compile(
        rf"(?<![\d.,:+-])2 {NOUN}\b|(?<![\d.,:+-])2 {NOUN}s (?:is|has|lies|counts|states|rests|stays|follows)\b"
    ),
}
NUMBERS = ("number", "limit", "second", "third", "fourth", "u")


def fact(name, variant, count=1):
    place = {"no-tolerance-of-check": "offset", "unprovable": "offset", "undecided": "offset"}.get(name, "x")
    numbers = dict.fromkeys(NUMBERS, float(count))
    return Fact(name=name, variant=variant, count=count, total=count, place=place, subject="mark", other="y",
                written=str(count), proposal="z", session="A", unit="count", **numbers)  # fmt: skip


VARIANTS = ("", "single", "bytes", "two-ways", "marks", "interval", "pause", "closing", "opening", "agree", "one",
            "design", "date", "zeros")  # fmt: skip


SEVERAL = ("unclosed",)
"""Told of three shots or more."""


@pytest.mark.parametrize("count", [0, 1, 2])
@pytest.mark.parametrize("word", [*FLAGS, *NOTES], ids=lambda word: word.name)
def test_none_one_and_two_are_told_as_such(word, count):
    told = []
    for variant in VARIANTS:
        one = fact(word.name, variant, count)
        try:
            if getattr(word, "listing", None) is not None:
                told.append(word.listing([one], "ft"))
            else:
                told.append(sentence_of(word.sentence, one, "ft"))
        except (KeyError, RuntimeError):
            continue  # a sentence has its own variants, and its own axes
    assert told or word.name in ("budget", "site-fit")
    if word.name not in SEVERAL:
        assert not [each for each in told if WRONG[count].search(each)]


@pytest.mark.parametrize("cause", CAUSES, ids=lambda cause: cause.name)
def test_a_remedy_for_one_shot_speaks_of_one(cause):
    names = dict.fromkeys(re.findall(r"{(\w+)}", cause.remedy), "")
    assert not WRONG[1].search(cause.remedy.format(**(names | {"shots": words.many(1, "shot")})))
