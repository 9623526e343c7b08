"""The crew's code list from delimited text."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from geoqa.errors import SourceError
from geoqa.model.format import Format
from geoqa.model.source import Source
from geoqa.model.tables.utility_columns import KNOWN_BY
from geoqa.model.words import many
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.listing import Listing, ListingReader, listing, refuse_repeats

if TYPE_CHECKING:
    import pandas as pd

SOUGHT: Sought = {
    "code": (("code",), ("feature_code",)),
    "kind": (("kind", "feature_kind"), ("feature",)),
    "geometry": (("geometry",), ("shape",)),
    "role": (("role",), ()),
    "pairs_with": (("pairs_with",), ("pair",)),
    "meaning": (("meaning", "description"), ("words",)),
    "known_by": (("known_by",), ("quality_level",)),
}

NAMED = 10
"""Codes without a kind that a refusal names."""


class CodesText(ListingReader):
    """Codes, one a row, with the feature kind each stands for.

    `geometry` is line or point, point if empty; `role` is feature, check or other, feature if empty; a code of role
    check is of kind control where none is written; `known_by` is
    exposed, measure-down, mark or record: how a shot with this code knows what is buried.
    """

    role: ClassVar[str] = "codes"
    format: ClassVar[Format | None] = Format(
        title="delimited text of a code list, with a header",
        keeps="code, kind, geometry, role, pair, meaning, and how a buried thing is known",
        loses="other columns",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("code", "kind")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        rows = listing(self, path)
        rows.leave_out(rows.raw("code") == "", "code", "is no code")
        kind = _kinds(rows)
        _refuse_unfilled(rows, kind, self.bad_rows)
        rows.leave_out(kind == "", "kind", "is no feature kind")
        geometry = rows.words("geometry", ("line", "point"), default="point")
        role = rows.words("role", ("feature", "check", "other"), default="feature")
        known_by = rows.words("known_by", ("", *KNOWN_BY), default="")
        refuse_repeats(rows, "code")
        rows.tell_dates("code")
        known = set(rows.raw("code")[~rows.dropped])
        partner = rows.raw("pairs_with")
        rows.name_rows((partner != "") & ~partner.isin(known), "pairs_with", "is no code of this list")
        columns = {
            "code": rows.raw("code"),
            "kind": kind,
            "geometry": geometry,
            "role": role,
            "pairs_with": rows.text("pairs_with"),
            "meaning": rows.text("meaning"),
            "known_by": known_by.mask(known_by == ""),
        }
        return rows.source("codes", columns)


def _kinds(rows: Listing) -> pd.Series:
    """Kind of each code; a code of checks needs none written, for what it is shot on is control."""
    kind, check = rows.raw("kind"), rows.raw("role").str.casefold() == "check"
    return kind.mask((kind == "") & check, "control")


def _refuse_unfilled(rows: Listing, kind: pd.Series, allowed: int) -> None:
    """Refuse a list of which a person has not filled in the kinds yet: its layout is in order, so that is not blamed.

    Raises
    ------
    SourceError
        Names the codes.
    """
    codes = rows.raw("code")[(kind == "") & ~rows.dropped].tolist()
    if len(codes) <= allowed:
        return
    named = ", ".join(each[:40] for each in codes[:NAMED]) + (f" and {len(codes) - NAMED} more" * (len(codes) > NAMED))
    raise SourceError(
        f"'{rows.table.name}': the kind of {many(len(codes), 'code')} is not filled in: {named}. Write in the column "
        "kind what each stands for, e.g. curb-top, or take its row out: its shots then have a code without a kind."
    )
