"""A fact: numbers and names that a sentence is made of, when somebody reads it, in the job's own unit."""

import math
from dataclasses import dataclass
from typing import Any

from geoqa.model import words
from geoqa.model.tables.column import columns

FACT = columns(
    ("variant", "str", "", "which of several wordings", "yes: one only"),
    ("number", "float64", "unit", "what was measured or counted", "yes"),
    ("u", "float64", "unit", "1 sigma of it", "yes"),
    ("limit", "float64", "unit", "what it is held against", "yes"),
    ("unit", "str", "", "of these three: job, s, min, h, deg, count, ratio, slope, angle, time; empty is none", "yes"),
    ("second third fourth", "float64", "", "further numbers; the word says which", "yes"),
    ("count total", "Int64", "count", "how many, and of how many", "yes"),
    ("subject place other session", "str", "", "what it is about, where, the other shot or mark, the session", "yes"),
    ("written", "str", "", "as the crew, the log or a rule writes it; untrusted text", "yes"),
    ("proposal", "str", "", "what is proposed instead; never applied", "yes"),
    ("reference", "str", "", "source of the limit", "yes"),
)
"""Columns of a fact, in every table of facts."""

TEXTS = frozenset(each.name for each in FACT if each.dtype == "str")
COUNTS = frozenset(each.name for each in FACT if each.dtype == "Int64")


@dataclass(frozen=True, kw_only=True, slots=True)
class Fact:
    """One row of a table of facts. Missing is NaN, empty text, and None for a count.

    Attributes
    ----------
    name : str
        Its word: name of the flag or note.
    variant : str
        Which of several wordings.
    number, u, limit : float
        What was measured or counted, 1 sigma of it, and what it is held against, in `unit`.
    unit : str
        ``job`` for a length in the job's unit; s, min, h, deg, count, ratio, slope, angle, time; empty for none.
    second, third, fourth : float
        Further numbers, as the word declares them.
    count, total : int or None
    subject, place, other, session : str
        What it is about, where, the other shot or mark, the session.
    written, proposal, reference : str
        As somebody wrote it, what is proposed instead, and the source of the limit.
    """

    name: str = ""
    variant: str = ""
    number: float = math.nan
    u: float = math.nan
    limit: float = math.nan
    unit: str = ""
    second: float = math.nan
    third: float = math.nan
    fourth: float = math.nan
    count: int | None = None
    total: int | None = None
    subject: str = ""
    place: str = ""
    other: str = ""
    session: str = ""
    written: str = ""
    proposal: str = ""
    reference: str = ""

    def amount(self, unit: str) -> str:
        """The number with its unit."""
        return amount(self.number, self.unit, unit)


def amount(value: float, of: str, unit: str) -> str:
    """Write a number of a fact with its unit.

    Parameters
    ----------
    value : float
    of : str
        Unit as facts write it.
    unit : str
        Name of the job's linear unit.

    Examples
    --------
    >>> amount(0.25, "job", "ftUS"), amount(12.0, "s", "ft"), amount(4.0, "count", "ft"), amount(1 / 48, "ratio", "ft")
    ('0.250 ftUS', '12 s', '4', '2.083 %')
    """
    if of == "job":
        return words.length(value, unit)
    if of in ("count", "ratio", "slope", "angle", "time"):
        return words.quantity(value, of, unit)
    return words.MISSING if math.isnan(value) else f"{value:g} {of}".rstrip()


def facts_of(table: Any, word: str) -> list[Fact]:
    """Rows of a table of facts.

    Parameters
    ----------
    table : DataFrame
    word : str
        Column that holds the name of each fact.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"flag": ["tilt"], "number": [16.0], "unit": ["deg"]})
    >>> [(fact.name, fact.amount("ft"), fact.count) for fact in facts_of(table, "flag")]
    [('tilt', '16 deg', None)]
    """
    facts, row = different_facts(table, word)
    return [facts[each] for each in row]


def different_facts(table: Any, word: str) -> tuple[list[Fact], list[int]]:
    """Rows of a table of facts that differ, and for every row which of them it is."""
    names = [each.name for each in FACT if each.name in table.columns and table[each.name].notna().any()]
    rows = zip(table[word].tolist(), *(_values(table[name], name) for name in names), strict=True)
    place: dict[tuple[Any, ...], int] = {}
    which = [place.setdefault(row, len(place)) for row in rows]
    return [Fact(name=str(own), **dict(zip(names, values, strict=True))) for own, *values in place], which


def _values(column: Any, name: str) -> list[Any]:
    if name in TEXTS:
        return [each if isinstance(each, str) else "" for each in column.tolist()]
    if name in COUNTS:
        numbers = column.astype("Float64").to_numpy(float, na_value=math.nan)
        return [None if each != each else int(each) for each in numbers.tolist()]
    return [math.nan if each != each else float(each) for each in column.tolist()]


def sentence_of(template: Any, fact: Fact, unit: str) -> str:
    """Words of a fact, in the job's unit.

    Parameters
    ----------
    template : str or callable
        Text with names of facts in braces, where ``{number}`` and ``{limit}`` come with their unit; or what makes
        the sentence of a fact and the name of the job's unit.
    fact : Fact
    unit : str

    Examples
    --------
    >>> sentence_of("{number} from {other}", Fact(number=1.5, unit="job", other="day1/7"), "ft")
    '1.500 ft from day1/7'
    """
    if not isinstance(template, str):
        made: str = template(fact, unit)
        return made
    known = {name: getattr(fact, name) for name in Fact.__dataclass_fields__}
    known |= {name: amount(getattr(fact, name), fact.unit, unit) for name in ("number", "u", "limit")}
    return template.format_map(known)
