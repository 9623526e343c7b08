"""Screening limits, worst values still taken from a log, from delimited text."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from geoqa.model.format import Format
from geoqa.model.source import Source
from geoqa.model.tables.columns import SOLUTIONS, columns_of
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.listing import ListingReader, listing
from geoqa.read.delimited.solutions import solution_word

SOUGHT: Sought = {
    "kind": (("kind",), ("feature_kind",)),
    "field": (("field",), ("column",)),
    "worst": (("worst",), ("limit",)),
    "action": (("action",), ()),
    "reference": (("reference",), ("source",)),
}


_DECIMAL_COMMA = r"^\s*([+-]?\d+),(\d+)"
"""Of a limit, in a file whose numbers have commas; what limits make of themselves later knows points alone."""


class ScreeningText(ListingReader):
    """Screening limits, one a row, from delimited text with a header.

    `kind` is a feature kind or ``*``; `field` a column of shots; `worst` the worst value still taken, or
    allowed words joined by ``|``; `action` is warn or reject, warn if empty.
    """

    role: ClassVar[str] = "screening"
    format: ClassVar[Format | None] = Format(
        title="delimited text of rules for screening shots",
        keeps="every rule with where it is written",
        loses="other columns",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("field", "worst")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        rows = listing(self, path)
        fields = [each.name for each in columns_of("shots", made_by="")]
        rows.leave_out(~rows.raw("field").isin(fields), "field", "is no column of shots")
        rows.leave_out(rows.raw("worst") == "", "worst", "is no limit")
        limits = rows.raw("worst")
        if rows.table.decimal == ",":
            limits = limits.str.replace(_DECIMAL_COMMA, r"\1.\2", regex=True)
        worst = limits.mask(rows.raw("field") == "solution", limits.map(_solutions))
        # a word that no log is read as would reject every shot
        rows.leave_out(worst.isna(), "worst", f"allows a solution that nobody knows; known are {', '.join(SOLUTIONS)}")
        action = rows.words("action", ("warn", "reject"), default="warn")
        columns = {
            "kind": rows.raw("kind").replace("", "*"),
            "field": rows.raw("field"),
            "worst": worst.fillna(""),
            "action": action,
            "reference": rows.raw("reference").replace("", "not stated"),
            "source": rows.raw("field").mask(rows.raw("field").notna(), source),
        }
        return rows.source("screening", columns)


def _solutions(worst: str) -> str | None:
    """Allowed solutions in our words; None where one of them is no solution."""
    written = [each.strip() for each in worst.split("|") if each.strip()]
    said = [solution_word(each) for each in written]
    if any(ours == "other" != each.casefold() for ours, each in zip(said, written, strict=True)):
        return None
    return "|".join(said)
