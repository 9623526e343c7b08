"""Sentences of facts: made once, when they are printed or written, in the job's own unit."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from geoqa.contract.words import flag_named, note_named
from geoqa.model.note_line import in_short
from geoqa.model.tables.fact import FACT, Fact, different_facts, facts_of, sentence_of

if TYPE_CHECKING:
    import pandas as pd

NAMES = [each.name for each in FACT]


def reason_of(fact: Fact, unit: str) -> str:
    """Why a shot bears a flag.

    Examples
    --------
    >>> reason_of(Fact(name="clock", number=90.0, unit="s"), "ft")
    'the clock goes back 90 s against the row before it'
    """
    return sentence_of(flag_named(fact.name).sentence, fact, unit)


def reasons_of(flags: Any, unit: str) -> "pd.Series":
    """Reasons of rows of `flags`; each different one is made once.

    Parameters
    ----------
    flags : DataFrame
    unit : str
        Name of the job's linear unit.

    Returns
    -------
    (n,) Series of str, on the index of `flags`
    """
    import numpy as np
    import pandas as pd

    facts, which = different_facts(flags, "flag")
    made = pd.array([reason_of(fact, unit) for fact in facts], dtype="str")
    return pd.Series(made.take(np.asarray(which, dtype=np.int64)), index=flags.index)


def note_lines(notes: Any, unit: str, *, only: Sequence[str] | None = None) -> tuple[str, ...]:
    """What must be read first: one line a note, worst first.

    Parameters
    ----------
    notes : DataFrame
    unit : str
    only : sequence of str, optional
        Names of the notes that are wanted, in the order in which they are; all of them by their own order without.
    """
    facts = facts_of(notes, "note")
    if only is not None:
        kept = sorted((fact for fact in facts if fact.name in only), key=lambda fact: only.index(fact.name))
    else:
        kept = sorted(facts, key=lambda fact: note_named(fact.name).order)
    return tuple(_lines(kept, unit))


def _lines(facts: Iterable[Fact], unit: str) -> Iterable[str]:
    groups: dict[Any, list[Fact]] = {}
    for number, fact in enumerate(facts):
        note = note_named(fact.name)
        own: Any = number if note.listing is None else tuple(getattr(fact, name) for name in note.together)
        groups.setdefault((fact.name, own), []).append(fact)
    for (name, _), members in groups.items():
        note = note_named(name)
        told = note.listing(members, unit) if note.listing is not None else sentence_of(note.sentence, members[0], unit)
        yield in_short(told)
