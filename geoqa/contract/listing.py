"""Lists in notes: how many are written out, and each with its count."""

from collections.abc import Sequence

from geoqa.model.tables.fact import Fact

NAMES_LISTED = 12
"""Names that are written out; the count is always complete."""


def counted(facts: Sequence[Fact], name: str) -> str:
    """Names of facts, each with its count.

    Examples
    --------
    >>> counted([Fact(subject="ramp", count=2), Fact(subject="rim", count=1)], "subject")
    'ramp (2), rim (1)'
    """
    return ", ".join(f"{getattr(fact, name)} ({fact.count})" for fact in facts)
