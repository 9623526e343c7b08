"""Which kind a layer, a block or an attribute value stands for: the tables of a job, with patterns."""

from __future__ import annotations

from collections.abc import Collection, Mapping


def kind_of(table: Mapping[str, str], word: str) -> str | None:
    """Look up a word: as it is, then in any case, then by the pattern that spells out most of it.

    Parameters
    ----------
    table : mapping of str to str
        Words or patterns and their kinds; ``*`` in a pattern stands for any letters, or none.
    word : str

    Returns
    -------
    str or None
        The kind; "" where the table leaves the word out, None where no entry fits.

    Examples
    --------
    >>> table = {"C-WALK-*": "walk-front", "*": "", "C-WALK-BACK": "walk-back"}
    >>> kind_of(table, "C-WALK-FRNT"), kind_of(table, "c-walk-back"), kind_of(table, "NOTES")
    ('walk-front', 'walk-back', '')
    >>> kind_of({"HYD*": "hydrant"}, "VALVE") is None
    True
    """
    entry = entry_of(table, word)
    return None if entry is None else table[entry]


def entry_of(table: Mapping[str, str], word: str) -> str | None:
    """Entry of a table that decides for a word; None where none fits."""
    if word in table:
        return word
    plain = word.casefold()
    fitting = [entry for entry in table if fits(entry.casefold(), plain)]
    return max(fitting, key=lambda entry: (entry.casefold() == plain, len(entry.replace("*", "")), entry), default=None)


def unused(table: Mapping[str, str], words: Collection[str]) -> list[str]:
    """Entries that decide for no word; ``*`` alone asks for none."""
    used = {entry_of(table, word) for word in words}
    spelled = {word.casefold() for word in words}
    return [
        entry for entry in table
        if entry != "*" and entry not in used and not any(fits(entry.casefold(), word) for word in spelled)
    ]  # fmt: skip


def fits(pattern: str, word: str) -> bool:
    """Whether a word fits a pattern of letters and ``*``.

    Examples
    --------
    >>> fits("c-*-frnt", "c-walk-frnt"), fits("c-*-frnt", "c-walk-frnt-2"), fits("[a]", "a")
    (True, False, False)
    """
    first, *rest = pattern.split("*")
    if not rest:
        return pattern == word
    if not word.startswith(first) or len(word) < len(first) + len(rest[-1]) or not word.endswith(rest[-1]):
        return False
    at, end = len(first), len(word) - len(rest[-1])
    for piece in rest[:-1]:
        found = word.find(piece, at, end)
        if found < 0:
            return False
        at = found + len(piece)
    return at <= end
