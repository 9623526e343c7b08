"""What a reviewer may decide on an item, the two files that carry it, and what is said where it does not hold."""

import hashlib
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from geoqa.model import words
from geoqa.model.tables.fact import Fact

if TYPE_CHECKING:
    import pandas as pd

DECISIONS = {
    "accept": "accepted as built",
    "fix": "to be fixed",
    "re-measure": "to be measured again",
    "field-change": "the design is changed",
}
"""Decisions as files write them, and in words."""
FILE_FORMAT, REGISTER_FORMAT = "geoqa decision file", "geoqa decisions of a job"
"""What the file of one reviewer calls itself, and the register beside the job."""
VERSION = 1
CHECK = "check"
"""Key of the check value in either."""


def check_value(facts: Mapping[str, Any]) -> str:
    """Hash of everything a file says but the hash itself; the page of the map makes the same.

    Parameters
    ----------
    facts : mapping
        JSON-ready; numbers are whole ones, so that every program writes them alike.

    Raises
    ------
    UnicodeEncodeError
        A text holds half a character.

    Examples
    --------
    >>> check_value({"b": "é", "a": [1]}) == check_value({"a": [1], "b": "é", "check": "anything"})
    True
    """
    held = {name: value for name, value in facts.items() if name != CHECK}
    text = json.dumps(held, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def decided_lines(findings: "pd.DataFrame") -> list[str]:
    """What was decided on the item of each finding; empty where nothing was, or nobody ever decided.

    Examples
    --------
    >>> import pandas as pd
    >>> decided_lines(pd.DataFrame({"decision": ["fix", None]})), decided_lines(pd.DataFrame({"item": ["1"]}))
    (['decided: to be fixed', ''], [''])
    """
    said = findings["decision"].tolist() if "decision" in findings else [None] * len(findings)
    return [f"decided: {DECISIONS.get(each, each)}" if isinstance(each, str) and each else "" for each in said]


def decisions_changed(fact: Fact, unit: str) -> str:
    """Decisions that no longer hold.

    Examples
    --------
    >>> decisions_changed(Fact(count=1, written="item 3 (accept, 2026-05-20)"), "ft")
    '1 decision no longer holds, for what it was about has changed since: item 3 (accept, 2026-05-20). Decide again.'
    """
    count = words.many(fact.count or 0, "decision no longer holds", "decisions no longer hold")
    return f"{count}, for what {'it was' if fact.count == 1 else 'they were'} about has changed since: " + (
        f"{fact.written}. Decide again."
    )


def decisions_apart(fact: Fact, unit: str) -> str:
    """Items that reviewers decided otherwise.

    Examples
    --------
    >>> decisions_apart(Fact(count=1, written="item 9 (accept / fix)"), "ft")
    'Reviewers disagree on 1 item: item 9 (accept / fix). Neither holds until they agree, or one is taken back.'
    """
    return (
        f"Reviewers disagree on {words.many(fact.count or 0, 'item')}: {fact.written}. "
        "Neither holds until they agree, or one is taken back."
    )
