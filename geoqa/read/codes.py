"""The crew's code list from delimited text."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from geoqa.model.format import Format
from geoqa.model.source import Source
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.listing import ListingReader, listing, refuse_repeats

SOUGHT: Sought = {
    "code": (("code",), ("feature_code",)),
    "kind": (("kind", "feature_kind"), ("feature",)),
    "geometry": (("geometry",), ("shape",)),
    "role": (("role",), ()),
    "pairs_with": (("pairs_with",), ("pair",)),
    "meaning": (("meaning", "description"), ("words",)),
}


class CodesText(ListingReader):
    """Codes, one a row, with the feature kind each stands for.

    `geometry` is line or point, point if empty; `role` is feature, check or other, feature if empty.
    """

    role: ClassVar[str] = "codes"
    format: ClassVar[Format | None] = Format(
        title="delimited text of a code list, with a header",
        keeps="code, kind, geometry, role, pair and meaning",
        loses="other columns",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("code", "kind")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        rows = listing(self, path)
        rows.leave_out(rows.raw("code") == "", "code", "is no code")
        rows.leave_out(rows.raw("kind") == "", "kind", "is no feature kind")
        geometry = rows.words("geometry", ("line", "point"), default="point")
        role = rows.words("role", ("feature", "check", "other"), default="feature")
        refuse_repeats(rows, "code")
        known = set(rows.raw("code")[~rows.dropped])
        partner = rows.raw("pairs_with")
        rows.name_rows((partner != "") & ~partner.isin(known), "pairs_with", "is no code of this list")
        columns = {
            "code": rows.raw("code"),
            "kind": rows.raw("kind"),
            "geometry": geometry,
            "role": role,
            "pairs_with": rows.text("pairs_with"),
            "meaning": rows.text("meaning"),
        }
        return rows.source("codes", columns)
