"""Rules on when a crew must check on control, from delimited text."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from geoqa.model.format import Format
from geoqa.model.source import Source
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.listing import ListingReader, listing

RULES = ("opening", "closing", "interval", "pause", "marks")
SOUGHT: Sought = {
    "rule": (("rule",), ()),
    "limit": (("limit",), ("worst",)),
    "action": (("action",), ()),
    "reference": (("reference",), ("source",)),
}


class CheckPolicyText(ListingReader):
    """Rules on check shots, one a row, from delimited text with a header.

    `rule` is ``opening`` or ``closing`` (longest time between a check on control and the first or last feature shot
    of a session), ``interval`` (longest time between two checks), ``pause`` (break after which a check is
    due before the next feature shot), or ``marks`` (fewest different marks of a session). `limit` is a
    time with its unit (s, min or h), or a count. `action` is warn or reject, warn if empty.
    """

    role: ClassVar[str] = "check_policy"
    format: ClassVar[Format | None] = Format(
        title="delimited text of rules for check shots",
        keeps="every rule with where it is written",
        loses="other columns",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("rule", "limit")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        rows = listing(self, path)
        rule = rows.words("rule", RULES, default="")
        rows.leave_out(rows.raw("limit") == "", "limit", "is no limit")
        columns = {
            "rule": rule,
            "limit": rows.raw("limit"),
            "action": rows.words("action", ("warn", "reject"), default="warn"),
            "reference": rows.raw("reference").replace("", "not stated"),
        }
        return rows.source("check_policy", columns)
