"""Dates that a spreadsheet makes of names such as 11-1, 1-11 or Nov-1: how they read, and what they may have been."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = (
    "(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?|"
    "nov(?:ember)?|dec(?:ember)?)"
)
_YEAR = "(?:[0-9]{4}|[0-9]{2})"
_CLOCK = "(?:[ T]00:00(?::00(?:[.]0+)?)?)?"
DATES = (
    rf"(?i)^(?:[0-9]{{1,2}}(?:-|/|[.] ?){_MONTH}(?:[- /]{_YEAR})?|{_MONTH}-[0-9]{{1,4}}|"
    rf"[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}{_CLOCK}|[0-9]{{1,2}}/[0-9]{{1,2}}/{_YEAR}{_CLOCK}|"
    rf"[0-9]{{1,2}}[.][0-9]{{1,2}}[.][0-9]{{4}})$"
)
"""Any of these forms, to look through many names at once; `read_as_date` says which are dates."""
_FORMS = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        rf"(?P<day>[0-9]{{1,2}})(?:-|/|[.] ?)(?P<name>{_MONTH})(?:[- /](?P<year>{_YEAR}))?",
        rf"(?P<name>{_MONTH})-(?P<day>[0-9]{{1,4}})",
        rf"(?P<year>[0-9]{{4}})-(?P<month>[0-9]{{2}})-(?P<day>[0-9]{{2}}){_CLOCK}",
        rf"(?P<one>[0-9]{{1,2}})/(?P<two>[0-9]{{1,2}})/(?P<year>[0-9]{{4}}){_CLOCK}",
        r"(?P<one>[0-9]{2})/(?P<two>[0-9]{2})/(?P<year>[0-9]{2})",
        r"(?P<day>[0-9]{1,2})[.](?P<month>[0-9]{1,2})[.](?P<year>[0-9]{4})",
    )
)
_NAMES = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        r"(?P<one>[0-9]{1,2})[-/](?P<two>[0-9]{1,4})",
        rf"(?P<name>{_MONTH})[-/ ]?(?P<day>[0-9]{{1,4}})",
        rf"(?P<day>[0-9]{{1,2}})[-/ ]?(?P<name>{_MONTH})",
    )
)


def read_as_date(word: str) -> list[tuple[int, int]]:
    """Month and what stands beside it, as a word is read that a spreadsheet may have left; the likeliest first.

    Examples
    --------
    >>> read_as_date("1-Nov"), read_as_date("2026-11-01"), read_as_date("11/1/2026"), read_as_date("CP-1")
    ([(11, 1)], [(11, 1), (11, 26), (11, 2026)], [(11, 1), (11, 26), (11, 2026), (1, 11)], [])
    """
    return _readings(word, _FORMS)


def names_by_date(names: Iterable[str]) -> Mapping[tuple[int, int], list[str]]:
    """Names that a spreadsheet takes for a date, by month and what stands beside it.

    Examples
    --------
    >>> dict(names_by_date(["NOV1", "1-11", "CP-3"]))
    {(1, 11): ['1-11'], (11, 1): ['1-11', 'NOV1']}
    """
    made: dict[tuple[int, int], list[str]] = {}
    for name in sorted(set(names)):
        for each in _readings(name, _NAMES):
            made.setdefault(each, []).append(name)
    return MappingProxyType(made)


def proposed(word: str, known: Mapping[tuple[int, int], list[str]]) -> str:
    """Name that a spreadsheet may have made a date of; of those that are known all that it makes the same date of.

    Where none is known it is month-day, as is common in the United States; a padded day (``01-Nov``) is how
    spreadsheets show a date where the day comes first (from memory), and then both are said.

    Parameters
    ----------
    word : str
        A word that `read_as_date` reads.
    known : mapping
        Of `names_by_date`.

    Examples
    --------
    >>> known = names_by_date(["MAR1", "1-11", "NOV2"])
    >>> proposed("3-Dec", known), proposed("01-Nov", {}), proposed("1-Nov", known)
    ('12-3', '11-1 or 1-11', '1-11')
    """
    readings = read_as_date(word)
    found = sorted({name for each in readings for name in known.get(each, []) if name != word})
    if found:
        return " or ".join(found)
    month, beside = readings[0]
    padded = re.match(r"0[0-9]\D", word) and word[2:].lstrip("-/. ")[:1].isalpha()
    return f"{month}-{beside} or {beside}-{month}" if padded else f"{month}-{beside}"


def _readings(word: str, forms: tuple[re.Pattern[str], ...]) -> list[tuple[int, int]]:
    found = next((match for form in forms if (match := form.fullmatch(word))), None)
    if found is None:
        return []
    part = found.groupdict()
    if part.get("name"):
        pairs = [(_MONTHS.index(part["name"][:3].lower()) + 1, int(part["day"]))]
    elif part.get("month"):
        pairs = [(int(part["month"]), int(part["day"]))]
    else:
        one, two = int(part["one"]), int(part["two"])
        pairs = [(one, two), (two, one)]
    years = forms is _NAMES or word[0].isalpha()  # a month beside a year
    pairs = [(month, day) for month, day in pairs if 1 <= month <= 12 and (1 <= day <= 31 or years)]
    if part.get("year") and pairs and pairs[0][1] == 1:  # 11-26 becomes the first of November 2026
        pairs[1:1] = [(pairs[0][0], int(part["year"]) % 100), (pairs[0][0], int(part["year"]))]
    return list(dict.fromkeys(pairs))
