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


def questions(text: str) -> tuple[Question, ...]:
    r"""Every open line of a draft, in order.

    Examples
    --------
    >>> text = '[frame]\nhorizontal = "REQUIRED"   # "EPSG:6547"? So says a.shp.\n'
    >>> [(each.asked, each.proposal) for each in questions(text)]
    [('[frame] horizontal', 'EPSG:6547')]
    """
    found, table = [], ""
    for at, line in enumerate(text.splitlines()):
        if line.startswith("["):
            table = line.strip()
        if (match := _OPEN.match(line)) is not None:
            why = match["why"] or ""
            proposed = _PROPOSED.match(why)
            said = f"{table} {match['key']}"
            found.append(Question(at, match["key"], why, said, proposed[1] if proposed else ""))
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
        if question.limits:
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


def _limits(question: Question, answer: str) -> str:
    parts = [one_line(each) for each in answer.split(PARTS, len(question.limits))]
    parts += [""] * (len(question.limits) + 1 - len(parts))
    said = []
    for (key, unit), part in zip(question.limits, parts, strict=False):
        if part:
            said.append(
                f"{key} = {quoted(part if any(mark.isalpha() or mark in '%:' for mark in part) else f'{part} {unit}')}"
            )
    said.append(f"reference = {quoted(parts[len(question.limits)])}")
    return f"{question.key} = {{ {', '.join(said)} }}"
