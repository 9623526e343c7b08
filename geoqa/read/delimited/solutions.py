"""Words for the state of a positioning solution, made one vocabulary."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoqa.model.source import Evidence

if TYPE_CHECKING:
    import pandas as pd

WORDS = {
    "fixed": "fixed",
    "fix": "fixed",
    "rtk fixed": "fixed",
    "rtk fix": "fixed",
    "fixed rtk": "fixed",
    "network fixed": "fixed",
    "integer": "fixed",
    "float": "float",
    "rtk float": "float",
    "float rtk": "float",
    "network float": "float",
    "differential": "differential",
    "dgps": "differential",
    "dgnss": "differential",
    "code differential": "differential",
    "autonomous": "autonomous",
    "single": "autonomous",
    "standalone": "autonomous",
    "stand alone": "autonomous",
}
"""What logs write, in lower case and with single blanks, to what we say. Common practice, no source."""


def solution_word(text: str) -> str:
    """One of our words for what a log, or a rule about it, writes; `other` where nobody knows it, and "" for nothing.

    Examples
    --------
    >>> solution_word("RTK-Fixed"), solution_word("fixd"), solution_word(" ")
    ('fixed', 'other', '')
    """
    plain = " ".join(text.casefold().replace("_", " ").replace("-", " ").split())
    return WORDS.get(plain, "other") if plain else ""


def solutions(text: pd.Series) -> tuple[pd.Series, list[Evidence]]:
    """Say the solution in one of fixed, float, differential, autonomous, other; empty is null.

    Examples
    --------
    >>> import pandas as pd
    >>> solutions(pd.Series(["RTK_Fixed", "Single", "4", ""], dtype="str"))[0].tolist()
    ['fixed', 'autonomous', 'other', nan]
    """
    said: dict[str, str | None] = {each: solution_word(each) or None for each in text.unique()}
    strange = sorted(each for each, word in said.items() if word == "other")
    evidence = []
    if strange:
        listed = ", ".join(repr(each[:40]) for each in strange[:10])
        evidence.append(Evidence(what="solution", answer="other", because=f"no known word: {listed}"))
    return text.map(said).astype("str"), evidence
