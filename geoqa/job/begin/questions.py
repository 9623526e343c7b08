"""What a draft asks, as questions that a terminal can put; the answers go into the same lines of the same text."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

from geoqa.job.begin.comment import one_line
from geoqa.job.document.quoted import quoted

_OPEN = re.compile(r'^(?P<key>\w+) = "REQUIRED"\s*(?:#\s*(?P<why>.*))?$')
_PROPOSED = re.compile(r'^"([^"]+)"\?')
_LIMITS = re.compile(r'^# (?P<kind>\S.*?)\s*= \{ (?P<limits>\w+ = "….*), reference = ".*" \}$')
_LIMIT = re.compile(r'(\w+) = "… ([\w%]+)"')
_KINDS = re.compile(r"^(?P<key>layers|blocks|values|kinds) = \{ .* \}$")
_FILE = re.compile(r'^file = "(?P<file>[^"]+)"')
_LISTED = "#   "
FRAME = "horizontal"
YES_NO = {"yes": True, "y": True, "no": False, "n": False}
PARTS = ";"
"""Stands between the answers of one line."""


@dataclass(frozen=True)
class Question:
    """One open line of a draft.

    Attributes
    ----------
    line : int
        From 0.
    key, why, asked : str
        What is asked for, why, and the prompt.
    proposal : str
        Taken where the answer is empty; empty where there is none.
    limits : tuple of (str, str)
        For a tolerance: its keys with their units.
    """

    line: int
    key: str
    why: str
    asked: str
    proposal: str = ""
    limits: tuple[tuple[str, str], ...] = ()
    previews: bool = False
    """Whether it is a line that stands as it is proposed, and is taken, or not: `why` is what it does."""


def questions(text: str) -> tuple[Question, ...]:
    r"""Every open line of a draft, in order.

    Examples
    --------
    >>> text = '[frame]\nhorizontal = "REQUIRED"   # "EPSG:6547"? So says a.shp.\n'
    >>> [(each.asked, each.proposal) for each in questions(text)]
    [('[frame] horizontal', 'EPSG:6547')]
    """
    found, table, file, listed = [], "", "", list[str]()
    for at, line in enumerate(text.splitlines()):
        if line.startswith("["):
            table, file, listed = line.strip(), "", []
        if (match := _FILE.match(line)) is not None:
            file = f" {match['file']}"
        if line.startswith(_LISTED):
            listed.append(line.removeprefix(_LISTED))
        if (match := _OPEN.match(line)) is not None:
            why = match["why"] or ""
            proposed = _PROPOSED.match(why)
            said = f"{table}{file} {match['key']}"
            found.append(Question(at, match["key"], why, said, proposed[1] if proposed else ""))
        elif table == "[[design]]" and (match := _KINDS.match(line)) is not None:
            key = match["key"]
            mine = [each for each in listed if each.startswith(f"{key.removesuffix('s')} ")] or listed
            why = "\n".join([*(f"  {each}" for each in mine), line])
            found.append(Question(at, key, why, f"{table}{file}: take this line (yes or no)", "", (), True))
        elif table == "[tolerance]" and (match := _LIMITS.match(line)) is not None:
            limits = tuple(_LIMIT.findall(match["limits"]))
            keys = f"{PARTS} ".join([*(f"{key} ({unit})" for key, unit in limits), "where it is written"])
            why = f"{match['kind']}: {keys}; leave empty what is not asked for"
            found.append(Question(at, match["kind"], why, f"[tolerance] {match['kind']}", "", limits))
    return tuple(found)


def answered(text: str, answers: Mapping[Question, str]) -> str:
    r"""The draft with its open lines filled in.

    Examples
    --------
    >>> text = '[frame]\nhorizontal = "REQUIRED"   # why\n'
    >>> [question] = questions(text)
    >>> answered(text, {question: "EPSG:6547"})
    '[frame]\nhorizontal = "EPSG:6547"\n'
    """
    lines = text.splitlines()
    for question, answer in answers.items():
        if question.previews:
            if not YES_NO[answer.strip().casefold()]:
                lines[question.line] = f"# {lines[question.line]}"
        elif question.limits:
            lines[question.line] = _limits(question, answer)
        else:
            lines[question.line] = f"{question.key} = {_as_toml(one_line(answer))}"
    return "\n".join(lines) + "\n"


def _as_toml(answer: str) -> str:
    """An answer as a job file writes it: a list that is one as it stands, anything else as text."""
    try:
        listed = answer.startswith("[") and tomllib.loads(f"answer = {answer}")
    except tomllib.TOMLDecodeError:
        listed = False
    return answer if listed else quoted(answer)


def parts_of(question: Question, answer: str) -> list[str]:
    """The answers of one line: a limit each, empty where it is not asked for, and where they are written."""
    parts = [one_line(each) for each in answer.split(PARTS, len(question.limits))]
    return parts + [""] * (len(question.limits) + 1 - len(parts))


def _limits(question: Question, answer: str) -> str:
    parts = parts_of(question, answer)
    said = []
    for (key, unit), part in zip(question.limits, parts, strict=False):
        if part:
            said.append(
                f"{key} = {quoted(part if any(mark.isalpha() or mark in '%:' for mark in part) else f'{part} {unit}')}"
            )
    said.append(f"reference = {quoted(parts[len(question.limits)])}")
    return f"{question.key} = {{ {', '.join(said)} }}"
