"""One of a thing is told as one, in every sentence of a flag, a note and a cause."""

import re

import pytest

from geoqa.contract.causes import CAUSES
from geoqa.contract.flags import FLAGS
from geoqa.contract.notes import NOTES
from geoqa.model import words
from geoqa.model.tables.fact import Fact, sentence_of

WRONG = re.compile(r"(?<![\d.,-])1 (shots|rows|numbers|verdicts|marks|visits|points|check shots|pairs|files)\b")
ONE = {"number": 1.0, "limit": 1.0, "second": 1.0, "third": 1.0, "fourth": 1.0, "u": 1.0, "unit": "count"}


def fact(name, variant):
    place = {"no-tolerance-of-check": "offset", "unprovable": "offset"}.get(name, "x")
    return Fact(name=name, variant=variant, count=1, total=1, place=place, subject="mark", other="y", written="1",
                proposal="z", session="A", **ONE)  # fmt: skip


VARIANTS = ("", "single", "bytes", "two-ways", "marks", "interval", "pause", "closing", "opening", "agree", "one",
            "design", "date", "zeros")  # fmt: skip


SEVERAL = ("unclosed",)
"""Told of three shots or more."""


@pytest.mark.parametrize("word", [*FLAGS, *NOTES], ids=lambda word: word.name)
def test_one_is_told_as_one(word):
    told = []
    for variant in VARIANTS:
        one = fact(word.name, variant)
        try:
            if getattr(word, "listing", None) is not None:
                told.append(word.listing([one], "ft"))
            else:
                told.append(sentence_of(word.sentence, one, "ft"))
        except (KeyError, RuntimeError):
            continue  # a sentence has its own variants, and its own axes
    assert told or word.name in ("budget", "site-fit")
    if word.name not in SEVERAL:
        assert not [each for each in told if WRONG.search(each)]


@pytest.mark.parametrize("cause", CAUSES, ids=lambda cause: cause.name)
def test_a_remedy_for_one_shot_speaks_of_one(cause):
    names = dict.fromkeys(re.findall(r"{(\w+)}", cause.remedy), "")
    assert not WRONG.search(cause.remedy.format(**(names | {"shots": words.many(1, "shot")})))
