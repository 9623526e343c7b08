"""Construction or survey? Odds that the work is so, in a sentence made of their rows."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from geoqa.model.tables.in_rows import in_rows
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Piece:
    """A piece of evidence for or against a shot that is out of tolerance.

    Attributes
    ----------
    name : str
        As in the table `work_odds`.
    compared : str
        What is looked at, and what it does to the odds.
    source : str
        Where its likelihood ratio comes from.
    missing : str
        Said where there is none of it and the odds are open.
    """

    name: str
    compared: str
    source: str
    missing: str = ""


_ASSUMED = "common practice, no source"
PIECES = (
    Piece(
        name="prior",
        compared="before anything is looked at: how often work is out, and how often a shot, an initialization or a "
        "session is wrong and nothing says so",
        source=f"options work, shot, initialization and session of the step; {_ASSUMED}",
    ),
    Piece(
        name="elsewhere",
        compared="the shots of the same session before and after on other lines: off by the same speaks against "
        "initialization and session",
        source=f"densities by the shots' own u; length of a bad initialization: {_ASSUMED}",
    ),
    Piece(
        name="checks",
        compared="the checks on control of the session before and after: what holds there speaks for the session",
        source=f"densities by u of shot and mark; length of a bad initialization: {_ASSUMED}",
        missing="no control check of its session before or after it",
    ),
    Piece(
        name="neighbours",
        compared="the next shot to either side on the same line, the next section of the same walk: off by the same "
        "speaks for the work, sound for the shot",
        source=f"densities by the shots' own u; reach of a defect: {_ASSUMED}",
        missing="no neighbour",
    ),
    Piece(
        name="again",
        compared="the same place shot again, best after another initialization: agreement speaks for the work",
        source=f"densities by the shots' own u; how long a bad signal lasts: {_ASSUMED}",
    ),
    Piece(
        name="lean",
        compared="the lean of the rod: a leaning shot is likelier wrong",
        source=f"share of leaning shots in this job; share of blunders by lean: {_ASSUMED}",
    ),
    Piece(
        name="record",
        compared="what the log says of the shot: a weak sky, a field worse than the screening allows, the first minute "
        "after an initialization",
        source=f"share of such shots in this job; share of blunders with such a record: {_ASSUMED}",
    ),
    Piece(
        name="doubt",
        compared="a blunder of the diagnosis that may act on this shot, and was not taken to",
        source=f"share of such shots in this job; share of blunders that leave such a doubt: {_ASSUMED}",
    ),
    Piece(
        name="member",
        compared="of a number made of several shots, the one that is out by itself: its own odds carry over",
        source="those odds",
    ),
    Piece(
        name="shots",
        compared="of a number made of several shots, how many of its members or shots show it without sharing one: all "
        "would have to be wrong; otherwise one wrong shot would do",
        source=_ASSUMED,
        missing="a single shot",
    ),
)
"""Every piece of evidence, in the order in which they are weighed."""
UNASKED = "unasked"
"""Variant of a piece that was not looked for: that there is none of it is not told."""
TELLING = math.log(1.5)
"""A piece that moves the odds by less is not told."""
OPEN = 0.2, 0.8
"""Between these nothing is settled, and what is missing is told."""
TOLD = 4
"""Pieces that are told; the rest is in the table."""
ASKED = ("neighbours", "again", "checks")
"""Pieces that everybody asks for: told wherever there are some."""
NOTHING = math.log(1.1)
"""What moves the odds the other way by less is not told to speak against them."""

_SHARES = (
    (0.965, "more than 19 in 20"),
    (0.925, "about 19 in 20"),
    (0.85, "about 9 in 10"),
    (0.775, "about 4 in 5"),
    (0.705, "about 3 in 4"),
    (0.60, "about 2 in 3"),
)
EVEN = "even odds, the work or the shot"


def share_in_words(chance: float) -> str:
    """How likely it is that the work is built so, and not the shot wrong.

    Examples
    --------
    >>> for chance in (0.99, 0.9, 0.55, 0.2):
    ...     print(share_in_words(chance))
    more than 19 in 20 that it is the work, not the shot
    about 9 in 10 that it is the work, not the shot
    even odds, the work or the shot
    about 4 in 5 that it is the shot, not the work
    """
    for least, words in _SHARES:
        if chance >= least:
            return f"{words} that it is the work, not the shot"
        if 1.0 - chance >= least:
            return f"{words} that it is the shot, not the work"
    return EVEN


def odds_in_words(rows: Iterable[dict[str, Any]]) -> str:
    """The odds of one finding, with what speaks for them, the weightiest first.

    Parameters
    ----------
    rows : iterable of mapping
        Of the table `work_odds`, all of one finding.

    Examples
    --------
    >>> rows = [
    ...     {"evidence": "prior", "variant": "", "count": 0, "total": 0, "log_ratio": 0.9},
    ...     {"evidence": "neighbours", "variant": "", "count": 2, "total": 2, "log_ratio": 1.5},
    ...     {"evidence": "checks", "variant": "", "count": 0, "total": 2, "log_ratio": 0.5},
    ... ]
    >>> odds_in_words(rows)
    'about 19 in 20 that it is the work, not the shot: both neighbours agree, control checks before and after are good'
    >>> odds_in_words([*rows[:1], rows[1] | {"count": 0, "total": 0, "log_ratio": 0.0}])
    'about 3 in 4 that it is the work, not the shot: no neighbour'
    """
    table = list(rows)
    total = sum(row["log_ratio"] for row in table)
    chance = 1.0 / (1.0 + math.exp(-min(max(total, -700.0), 700.0)))
    share = share_in_words(chance)
    heavy = [row for row in table if row["evidence"] != "prior" and _is_told(row)]
    heavy.sort(key=lambda row: -abs(row["log_ratio"]))
    heavy = heavy[:TOLD]
    toward = -1.0 if "the shot, not the work" in share else 1.0
    speak = [_told(row) for row in heavy if toward * row["log_ratio"] > -NOTHING]
    against = [_told(row) for row in heavy if toward * row["log_ratio"] <= -NOTHING]
    missing = _missing(table) if OPEN[0] < chance < OPEN[1] or not heavy else []
    if share == EVEN:
        sides = [("for the work: ", speak), ("for the shot: ", against)]
        named = [(head if all(each for _, each in sides) else "", each) for head, each in sides]
    else:
        named = [("", speak), ("against: ", against)]
    parts = [head + ", ".join(each) for head, each in [*named, ("", missing)] if each]
    return f"{share}: {'; '.join(parts)}" if parts else share


def _is_told(row: Mapping[str, Any]) -> bool:
    """Whether a piece moves the odds by enough, or everybody asks for it."""
    weight = abs(row["log_ratio"])
    return bool(weight >= TELLING or (row["evidence"] in ASKED and row["total"] > 0 and weight > 0.0))


def _missing(table: list[dict[str, Any]]) -> list[str]:
    """What there is none of."""
    missing = {piece.name: piece.missing for piece in PIECES if piece.missing}
    if any(row["variant"] == "run" or (row["evidence"] == "again" and row["total"] > 0) for row in table):
        missing.pop("shots", None)
    none = [row for row in table if row["total"] == 0 and row["variant"] != UNASKED]
    return [missing[row["evidence"]] for row in none if row["evidence"] in missing]


def odds_of(layers: Mapping[str, Any], findings: Any) -> "pd.Series":
    """The odds of every finding in a sentence; null where it has none, and where no step weighed any.

    Parameters
    ----------
    layers : mapping
        With the table `work_odds`.
    findings : (n,) Series of str
        Names of findings.

    Returns
    -------
    (n,) Series of str
        On the index of `findings`.
    """
    import pandas as pd

    if "work_odds" not in layers or not len(layers["work_odds"]):
        return pd.Series([None] * len(findings), index=findings.index, dtype="str")
    table = layers["work_odds"]
    rows = in_rows(table)
    by_name: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        by_name.setdefault(row["finding"], []).append(row)
    made = {name: odds_in_words(each) for name, each in by_name.items()}
    return findings.map(made).astype("str")


_COUNTED = {1: "one", 2: "two", 3: "three", 4: "four"}


def _told(row: dict[str, Any]) -> str:
    return _TOLD_BY[row["evidence"]](row["variant"], int(row["count"]), int(row["total"]))


def _neighbours(variant: str, count: int, total: int) -> str:
    if variant == "run":
        return f"its {many(total, 'shot agrees', 'shots agree')}"
    if variant == "none":
        return "neither neighbour agrees" if total == 2 else "its one neighbour does not agree"
    if count == 0:
        return "both neighbours are good" if total == 2 else "its one neighbour is good"
    if count == total:
        return "both neighbours agree" if total == 2 else "its one neighbour agrees"
    return "one of two neighbours agrees"


def _again(variant: str, count: int, total: int) -> str:
    where = " after a new initialization" if variant == "apart" else ""
    if total == 1:
        return f"the re-shot{where} {'agrees' if count else 'does not agree'}"
    return f"{count} of {total} re-shots{where} agree"


def _elsewhere(variant: str, count: int, total: int) -> str:
    if count == 0:
        return (
            "shots before and after on other lines are good" if total == 2 else "the next shot on another line is good"
        )
    return "shots on other lines at that time are off by the same"


def _checks(variant: str, count: int, total: int) -> str:
    if count:
        if total == 1:
            return "the only control check before or after it is off by the same"
        both = "control checks before and after are both" if count == total else "one of two control checks is"
        return f"{both} off by the same"
    if variant == "off":
        return (
            "control checks before and after are not both good, and off by something else"
            if total == 2
            else "the only control check before or after it is off by something else"
        )
    good = "control checks before and after are good"
    if total != 2:
        good = "the only control check before or after it is good"
    if variant == "doubt":
        return f"{good} as far as this number goes, though the survey is in doubt"
    return f"{good}, those known to be off left out" if variant == "apart" else good


def _lean(variant: str, count: int, total: int) -> str:
    return "the rod leaned" if count else "the rod stood plumb"


def _record(variant: str, count: int, total: int) -> str:
    return {
        "": "its log is clean",
        "flag": "its log is poor",
        "start": "shot in the first minute after initialization",
    }[variant]


def _doubt(variant: str, count: int, total: int) -> str:
    return "a survey blunder may act on it"


def _member(variant: str, count: int, total: int) -> str:
    return {
        "work": "one of its shots is out by itself, and that is more likely the work too",
        "": "its shot that is out by itself may be wrong as well",
        "shot": "its shot that is out by itself is likelier wrong",
    }[variant]


def _shots(variant: str, count: int, total: int) -> str:
    number = _COUNTED.get(total, str(total))
    if variant == "one":
        return f"one wrong shot of its {number} would do"
    if variant == "members":
        return many(total, "number of different shots shows it", "numbers of different shots show it")
    return f"{number} shots show it" if total != 1 else "its one shot shows it"


_TOLD_BY = {
    "neighbours": _neighbours,
    "again": _again,
    "elsewhere": _elsewhere,
    "checks": _checks,
    "lean": _lean,
    "record": _record,
    "doubt": _doubt,
    "member": _member,
    "shots": _shots,
}
