"""What a word means that geoqa prints: a check, a flag, a note, a cause, a reason, a column, a step or any other."""

import re
from collections.abc import Iterator
from functools import cache

from geoqa import plugins
from geoqa.contract.causes import CAUSES
from geoqa.contract.checks import every_check
from geoqa.contract.explain import explain
from geoqa.contract.glossary import GROUPS
from geoqa.contract.words import every_flag, every_note, explain_word
from geoqa.model.reasons import SHARED
from geoqa.model.tables.columns import TABLES
from geoqa.model.vocabulary import Note

_SEVERAL = re.compile(r"\s*[;+]\s*")
"""Between the words of a cell that holds several, such as flags, or two causes at once."""


def explain_any(name: str) -> str | None:
    """Everything a word means, the fullest first; None for a word that geoqa does not print.

    Parameters
    ----------
    name : str
        As it is printed. Several in one cell (``tilt;spike``, ``mark + rod``) are explained one after the other; of a
        rule with a number the rule is.

    Examples
    --------
    >>> print(explain_any("near-limit"))
    near-limit (reason): too close to the limit for this measurement
    >>> print(explain_any("common"))
    common (uncertainty): the part of an uncertainty that all shots of one session share (base, control, geoid, rod): \
more shots of the same session do not make it smaller
    >>> explain_any("no such word") is None
    True
    """
    if meanings := list(_meanings(name)):
        return "\n".join(meanings)
    parts = _SEVERAL.split(name)
    if len(parts) == 1:
        return explain_any(word) if (word := _declared_as(name)) else None
    told = [explain_any(part) for part in parts]
    return "\n".join(each for each in told if each) if all(told) else None


def _declared_as(name: str) -> str | None:
    """The word that is meant where it is written as sentences do: with a capital, a blank for the hyphen, an s."""
    if (rule := name.partition(" ")[0]) in GROUPS["rule"] and rule != name:
        return rule
    plain = name.casefold()
    known = {word.casefold(): word for word in every_word()}
    slips = (plain, plain.removesuffix("s"), plain.replace(" ", "-"), plain.removesuffix("s").replace(" ", "-"))
    return next((known[slip] for slip in slips if known.get(slip, name) != name), None)


@cache
def every_word() -> tuple[str, ...]:
    """All words that `explain_any` knows by themselves, in alphabetical order."""
    known = {*every_check(), *every_flag(), *every_note(), *(cause.name for cause in CAUSES), *_reasons(), *_columns()}
    return tuple(sorted(known.union(*GROUPS.values(), plugins.declared("steps"))))


def _meanings(name: str) -> Iterator[str]:
    if name in every_check():
        yield explain(name)
    if (flag := explain_word(name)) is not None:
        yield flag
    if name in every_note():
        yield f"{name} (note that is read first): {_note_in_words(every_note()[name])}"
    for cause in CAUSES:
        if cause.name == name:
            remedy = re.sub(r"{\w+}", "…", cause.remedy)
            yield f"{name} (cause of a survey blunder): {cause.title}\n  What to do: {remedy}."
    if name in _reasons():
        yield f"{name} (reason): {_reasons()[name]}"
    for group, words in GROUPS.items():
        if name in words:
            yield f"{name} ({group}): {words[name]}"
    for meaning, tables in _columns().get(name, {}).items():
        yield f"{name} (column of {', '.join(tables)}): {meaning}"
    if name in plugins.declared("steps"):
        yield f"{name} (step): {(plugins.load('steps', name).__doc__ or '').strip().partition(chr(10))[0]}"


def _note_in_words(note: Note) -> str:
    """What a note tells: its own sentence, or what the function that makes it says of itself."""
    if note.about:
        return note.about
    if isinstance(note.sentence, str) and note.sentence and note.listing is None:
        return re.sub(r"{\w+}", "…", note.sentence)
    said = note.listing or note.sentence
    return (getattr(said, "__doc__", "") or "").strip().partition("\n")[0]


@cache
def _reasons() -> dict[str, str]:
    own = [reason for check in every_check().values() for reason in check.reasons]
    return {
        reason.name: reason.text + (f"\n  What helps: {reason.remedy}." if reason.remedy else "")
        for reason in (*SHARED, *own)
    }


@cache
def _columns() -> dict[str, dict[str, list[str]]]:
    """Meanings of every column, each with the tables that have it."""
    made: dict[str, dict[str, list[str]]] = {}
    for table, columns in TABLES.items():
        for each in columns:
            unit = f" [{each.unit}]" if each.unit else ""
            made.setdefault(each.name, {}).setdefault(each.meaning + unit, []).append(table)
    return made
