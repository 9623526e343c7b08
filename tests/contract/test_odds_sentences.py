"""Odds between the work and its measurement in a sentence, made of their rows, and where they are read."""

import itertools
import re

import pandas as pd
import pytest
from click.testing import CliRunner

from geoqa.cli import main
from geoqa.contract.odds_sentences import PIECES, odds_in_words, odds_of, share_in_words


def row(evidence, count=0, total=0, log_ratio=0.0, variant=""):
    return {"evidence": evidence, "variant": variant, "count": count, "total": total, "log_ratio": log_ratio}


ALONE = [row("prior", log_ratio=-0.1), row("neighbours"), row("checks"), row("shots")]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            [row("neighbours", 2, 2, 2.6), row("checks", 0, 2, 0.3), row("again", 1, 1, 0.9, "apart")],
            "more than 19 in 20 that it is the work, not the shot: both neighbours agree, the re-shot after a new "
            "initialization agrees, control checks before and after are good",
        ),
        (
            ALONE,
            "even odds, the work or the shot: no neighbour, no control check of its session before or after it, "
            "a single shot",
        ),
        (
            [row("prior", log_ratio=-0.1), row("neighbours"), row("checks", variant="unasked")],
            "even odds, the work or the shot: no neighbour",
        ),
        (
            [*ALONE, row("lean", 1, 1, -1.4)],
            "about 4 in 5 that it is the shot, not the work: the rod leaned",
        ),
        (
            [row("neighbours", 2, 2, 2.6), row("checks", 0, 2, 0.3, "off")],
            "about 19 in 20 that it is the work, not the shot: both neighbours agree, control checks before and after "
            "are not both good, and off by something else",
        ),
        (
            [row("neighbours", 2, 2, 2.6), row("checks", 0, 2, 0.3, "doubt")],
            "about 19 in 20 that it is the work, not the shot: both neighbours agree, control checks before and "
            "after are good as far as this number goes, though the survey is in doubt",
        ),
        (
            [row("neighbours", 5, 5, 1.0, "run"), row("checks", 1, 2, -0.9)],
            "even odds, the work or the shot: for the work: its 5 shots agree; for the shot: one of two "
            "control checks is off by the same",
        ),
        (
            [row("prior", log_ratio=4.2), row("elsewhere", 2, 2, -0.6), row("checks", 0, 2, -0.02)],
            "more than 19 in 20 that it is the work, not the shot: control checks before and after are good; against: "
            "shots on other lines at that time are off by the same",
        ),
        (
            [row("neighbours", 0, 2, -2.4), row("again", 1, 1, 0.5), row("lean", 0, 1, 0.1)],
            "about 9 in 10 that it is the shot, not the work: both neighbours are good; against: the re-shot agrees",
        ),
        (
            [*ALONE[:1], row("neighbours", 0, 1, -0.9, "none"), row("checks"), row("shots", 0, 4, -1.0, "one")],
            "about 9 in 10 that it is the shot, not the work: one wrong shot of its four would do, its one neighbour "
            "does not agree",
        ),
        (
            [row("member", 1, 1, 2.4, "work"), row("shots", 3, 3, 0.6, "members")],
            "about 19 in 20 that it is the work, not the shot: one of its shots is out by itself, "
            "and that is more likely the work too, 3 numbers of different shots show it",
        ),
    ],
)
def test_the_weightiest_is_told_first_and_what_is_missing_where_all_is_open(rows, words):
    assert odds_in_words(rows) == words


def test_the_share_grows_with_the_probability():
    told = [share_in_words(each / 1000) for each in range(1001)]
    assert told[0] == "more than 19 in 20 that it is the shot, not the work"
    assert told[-1] == "more than 19 in 20 that it is the work, not the shot"
    assert len(set(told)) == 13
    changes = sum(one != two for one, two in itertools.pairwise(told))
    assert changes == 12  # none comes twice


def test_a_finding_without_odds_has_no_words():
    names = pd.Series(["F1", "F2"], dtype="str", index=[4, 7])
    assert odds_of({}, names).isna().all()
    table = pd.DataFrame([{"finding": "F2", **row("prior", log_ratio=2.2)}])
    made = odds_of({"work_odds": table}, names)
    assert made.index.tolist() == [4, 7]
    assert made.isna().tolist() == [True, False]
    assert made.iloc[1] == "about 9 in 10 that it is the work, not the shot"


def test_every_piece_has_a_source_and_is_explained():
    told = CliRunner().invoke(main, ["explain", "elevation"]).output
    plain = re.sub(r"\s+", " ", told)
    for piece in PIECES:
        assert piece.source
        assert piece.compared in plain
        assert piece.source in plain
    assert "Work or survey?" in told
    assert "Work or survey?" not in CliRunner().invoke(main, ["explain", "coverage"]).output


def test_nobody_is_blamed():
    words = " ".join(f"{piece.compared} {piece.source} {piece.missing}" for piece in PIECES)
    assert "contractor" not in words
    assert "crew" not in words


@pytest.mark.parametrize(
    ("count", "total", "words"),
    [
        (1, 1, "the only control check before or after it is off by the same"),
        (1, 2, "one of two control checks is off by the same"),
        (2, 2, "control checks before and after are both off by the same"),
        (0, 1, "the only control check before or after it is good"),
    ],
)
def test_checks_are_told_by_their_number_and_by_no_nearness_that_nobody_looked_at(count, total, words):
    assert words in odds_in_words([row("prior", log_ratio=4.2), row("checks", count, total, -1.0)])
