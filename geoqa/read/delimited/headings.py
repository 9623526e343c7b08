"""Which column of a file is which of ours: by the words of its header, or as the job states."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from geoqa.errors import SourceError
from geoqa.model.source import Evidence
from geoqa.read.delimited.other_languages import OTHER_LANGUAGES

Sought = Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]]
"""Our column to the words that surely name it, and to those that do if no surer column is there."""
Stating = Callable[[Sequence[str]], str]
"""Our columns to the words in which it is said which they are."""

UNITS = {
    "m": "m",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "ft": "foot",
    "feet": "foot",
    "foot": "foot",
    "us_survey_ft": "ftUS",
    "us_survey_feet": "ftUS",
    "us_survey_foot": "ftUS",
    "survey_ft": "ftUS",
    "us_ft": "ftUS",
    "usft": "ftUS",
    "ftus": "ftUS",
    "ft_us": "ftUS",
    "ussft": "ftUS",
    "sft": "ftUS",
    "intl_ft": "ft",
    "international_ft": "ft",
    "ift": "ft",
    "mm": "mm",
    "cm": "cm",
    "in": "in",
    "deg": "deg",
    "degree": "deg",
    "degrees": "deg",
    "gon": "gon",
    "gons": "gon",
    "grad": "gon",
    "grads": "gon",
    "gradians": "gon",
    "rad": "rad",
    "rads": "rad",
    "radian": "rad",
    "radians": "rad",
    "s": "s",
    "sec": "s",
    "seconds": "s",
    "utc": "utc",
}
_HUMP = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_LONGEST = 60
"""Characters of a heading; a longer text is no name of a column."""
_LISTED = 100
"""Columns not used that are named; the rest is counted."""
_ENDING = re.compile(rf"^(.+?)_({'|'.join(sorted(UNITS, key=len, reverse=True))})$")


@dataclass(frozen=True, kw_only=True)
class Headings:
    """Our columns in a file.

    Attributes
    ----------
    place : mapping of str to int
        Our column to its position, from 0.
    unit : mapping of str to str
        Our column to the unit its heading states: m, ft, ftUS, foot (which one is not said), mm, cm, in, deg, gon,
        rad, s, utc.
    evidence : tuple of Evidence
    """

    place: Mapping[str, int]
    unit: Mapping[str, str]
    evidence: tuple[Evidence, ...]


def plain(heading: str) -> str:
    """A heading in lower case, words joined by one underscore.

    Examples
    --------
    >>> plain(" Rod Height (ft)")
    'rod_height_ft'
    """
    return re.sub(r"[\W_]+", "_", heading.casefold()).strip("_")


def readings(heading: str) -> dict[str, str]:
    """What a heading may name, each with the unit it then states, "" for none.

    Words run together with capitals are read apart as well.

    Examples
    --------
    >>> readings("RodHeight (ft)")
    {'rodheight_ft': '', 'rodheight': 'foot', 'rod_height_ft': '', 'rod_height': 'foot'}
    """
    found: dict[str, str] = {}
    for text in dict.fromkeys((plain(heading), plain(_HUMP.sub("_", heading)))):
        found.setdefault(text, "")
        if match := _ENDING.match(text):
            found.setdefault(match[1], UNITS[match[2]])
    return found


def is_known(heading: str, sought: Sought) -> bool:
    """Whether a text names one of the columns."""
    named = readings(heading) if len(heading) <= _LONGEST else {}
    every = (words for ours, both in sought.items() for words in (*both, OTHER_LANGUAGES.get(ours, ())))
    return any(not named.keys().isdisjoint(words) for words in every)


def in_job(names: Sequence[str]) -> str:
    """How a job file says which columns are ours.

    Examples
    --------
    >>> in_job(["mark"])
    'columns = { mark = "..." }'
    """
    return "columns = { " + ", ".join(f'{each} = "..."' for each in names) + " }"


def by_words(columns: Sequence[str], sought: Sought, *, name: str, stating: Stating = in_job) -> Headings:
    """Find our columns by the words of the header.

    Raises
    ------
    SourceError
        Two columns of the file name the same thing.
    """
    place: dict[str, int] = {}
    named: dict[str, list[int]] = {}
    for at, each in enumerate(columns):
        for word in readings(each) if len(each) <= _LONGEST else ():
            named.setdefault(word, []).append(at)
    for rank in (0, 1, 2):
        for ours, words in sought.items():
            if ours in place:
                continue
            taken = set(place.values())
            asked = (*words, OTHER_LANGUAGES.get(ours, ()))[rank]
            hits = sorted({at for word in asked for at in named.get(word, ()) if at not in taken})
            if len(hits) > 1:
                both = " and ".join(f"'{columns[at]}' (column {at + 1})" for at in hits)
                raise SourceError(f"'{name}': {both} can both be {ours}; state {stating([ours])}.")
            if hits:
                place[ours] = hits[0]
    return _headings(columns, place, sought, "by the words of the header")


def as_stated(
    columns: Sequence[str],
    stated: Sequence[str] | Mapping[str, str | int],
    sought: Sought,
    *,
    header: bool,
    name: str,
    stating: Stating = in_job,
    because: str = "stated in the job",
) -> Headings:
    """Take our columns as the job states them, in file order or by the file's own headings.

    Headings that the job does not speak of keep what their words say.

    Raises
    ------
    SourceError
        A name we do not know, a heading that is not there, or another number of columns.
    """
    allowed = ", ".join(sought)
    if not isinstance(stated, Mapping):
        if len(stated) != len(columns):
            raise SourceError(
                f"'{name}' has {len(columns)} columns and columns = names {len(stated)}; "
                'name each one in file order, "" to leave one out.'
            )
        place: dict[str, int] = {}
        for at, ours in enumerate(stated):
            if ours in ("", "-"):
                continue
            _refuse_unknown(ours, sought, allowed)
            if ours in place:
                raise SourceError(f"columns = names '{ours}' twice, for columns {place[ours] + 1} and {at + 1}.")
            place[ours] = at
        return _headings(columns, place, sought, because)
    place = {}
    for ours, theirs in stated.items():
        _refuse_unknown(ours, sought, allowed)
        at = _position(columns, theirs, header=header, name=name)
        if at in place.values():
            twin = next(key for key, value in place.items() if value == at)
            raise SourceError(f"columns = gives '{columns[at]}' both to {twin} and to {ours}; give it to one.")
        place[ours] = at
    if header:
        rest = {key: words for key, words in sought.items() if key not in place}
        hidden = ["" if at in place.values() else each for at, each in enumerate(columns)]
        place = {**place, **by_words(hidden, rest, name=name, stating=stating).place}
    return _headings(columns, place, sought, f"{because}, the others by the words of the header")


def _refuse_unknown(ours: str, sought: Sought, allowed: str) -> None:
    if ours not in sought:
        raise SourceError(f"columns = names '{ours}', which is no column here; allowed are {allowed}.")


def _position(columns: Sequence[str], theirs: str | int, *, header: bool, name: str) -> int:
    if isinstance(theirs, int):
        if 1 <= theirs <= len(columns):
            return theirs - 1
        raise SourceError(
            f"'{name}' has columns 1 to {len(columns)}; there is no column {theirs}. Mend the number in its columns."
        )
    hits = [at for at, each in enumerate(columns) if each == theirs]
    hits = hits or [at for at, each in enumerate(columns) if plain(each) == plain(theirs)]
    hits = hits or [at for at, each in enumerate(columns) if plain(theirs) in readings(each)]
    if len(hits) != 1:
        how = "its columns are" if header else "it has no header; give a number from 1. Its columns are"
        listed = ", ".join(columns)
        raise SourceError(f"'{name}' has no column '{theirs}'; {how} {listed}. Mend the name in its columns.")
    return hits[0]


def _headings(columns: Sequence[str], place: Mapping[str, int], sought: Sought, because: str) -> Headings:
    unit = {}
    for ours, at in place.items():
        stated = readings(columns[at])
        if units := [each for each in stated.values() if each]:
            unit[ours] = units[0]
    listed = ", ".join(
        ours if columns[at] == ours else f"{ours} = '{columns[at]}'"
        for ours, at in sorted(place.items(), key=lambda each: each[1])
    )
    evidence = [Evidence(what="columns", answer=listed or "none", because=because)]
    taken = set(place.values())
    unused = [f"'{each}'" for at, each in enumerate(columns) if at not in taken]
    if len(unused) > _LISTED:
        unused[_LISTED:] = [f"and {len(unused) - _LISTED} more"]
    if unused:
        evidence.append(Evidence(what="columns not used", answer=", ".join(unused), because="no known name"))
    return Headings(place=place, unit=unit, evidence=tuple(evidence))
