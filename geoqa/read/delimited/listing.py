"""Small tables with a header and a key: columns found, rows without a key named, repeats refused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from pydantic import Field

from geoqa.errors import SourceError
from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Evidence, Source, Trouble
from geoqa.read.delimited.delimited import DelimitedReader, limit_troubles
from geoqa.read.delimited.spreadsheet import dates_for_names
from geoqa.read.delimited.values import NULLS, numbers, text_or_null

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import ArrayLike

    from geoqa.read.delimited.delimited import TextTable

_YES = {"true": True, "yes": True, "y": True, "1": True, "x": True}
_NO = {"false": False, "no": False, "n": False, "0": False, "": False}


@dataclass(kw_only=True)
class Listing:
    """A table being read: columns by our names, and what was found on the way."""

    table: TextTable
    place: Mapping[str, int]
    unit: Mapping[str, str]
    evidence: list[Evidence]
    troubles: list[Trouble]
    allowed: int
    dropped: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=bool))

    def at(self, row: int) -> str:
        """Where a row stands, for messages."""
        return f"{self.table.counted} {int(self.table.lines[row])}"

    def raw(self, ours: str) -> pd.Series:
        """Text of one of our columns; all empty if the file has none."""
        import pandas as pd

        if ours in self.place:
            return self.table.text[self.place[ours]]
        return pd.Series("", index=range(len(self.table)), dtype="str")

    def text(self, ours: str) -> pd.Series:
        """Text of one of our columns; empty is null."""
        return text_or_null(self.raw(ours))

    def numbers(self, ours: str, *, nulls: Sequence[str | float] = NULLS) -> np.ndarray:
        """One of our columns as numbers."""
        got = numbers(
            self.raw(ours), lines=self.table.lines, column=ours, decimal=self.table.decimal, nulls=nulls, every=True
        )
        self.troubles += got.troubles
        return got.values

    def truths(self, ours: str) -> np.ndarray:
        """One of our columns as yes or no; empty is no."""
        text = self.raw(ours)
        said = [(_YES | _NO).get(each.casefold()) for each in text.tolist()]
        self.name_rows([each is None for each in said], ours, "is neither yes nor no; taken as no")
        return np.array([bool(each) for each in said], dtype=bool)

    def words(self, ours: str, allowed: Sequence[str], *, default: str) -> pd.Series:
        """One of our columns, held to a few words; a row with another one is left out."""
        text = self.raw(ours).str.casefold().replace("", default)
        self.leave_out(~text.isin(list(allowed)), ours, f"is none of {', '.join(allowed)}")
        return text

    def name_rows(self, mask: ArrayLike, ours: str, reason: str, *, kept: bool = False) -> None:
        """Report the rows of a mask; kept ones do not count against `bad_rows`."""
        text = self.raw(ours)
        for at in np.flatnonzero(np.asarray(mask)).tolist():
            self.troubles.append(
                Trouble(line=int(self.table.lines[at]), column=ours, text=text.iloc[at][:200], reason=reason, kept=kept)
            )

    def tell_dates(self, *names: str) -> None:
        """Report names that a spreadsheet made dates of; their rows stand, under the name that is written."""
        for ours in names:
            if ours in self.place:
                text = self.raw(ours)[~self.dropped]
                self.troubles += dates_for_names(text, lines=self.table.lines[~self.dropped], column=ours)

    def leave_out(self, mask: ArrayLike, ours: str, reason: str) -> None:
        """Report the rows of a mask and drop them in the end."""
        mask = np.asarray(mask)
        self.name_rows(mask & ~self.dropped, ours, reason)
        self.dropped = self.dropped | mask

    def source(
        self, layer: str, columns: Mapping[str, pd.Series | np.ndarray], *, unit: LengthUnit | None = None
    ) -> Source:
        """The table as a source of one layer."""
        import pandas as pd

        from geoqa.model.tables.columns import conform

        limit_troubles(self.table.name, tuple(self.troubles), self.allowed)
        frame = pd.DataFrame(dict(columns))[~self.dropped].reset_index(drop=True)
        if len(frame) == 0:
            named = "".join(f"\n  {each}" for each in self.troubles[:5])
            raise SourceError(
                f"'{self.table.name}' has no row that can be read as {layer}; state columns = in the job if they were "
                f"told wrongly.{named}"
            )
        return Source(
            layers={layer: conform(layer, frame)},
            facts={**self.table.facts, "columns": ", ".join(self.table.columns)},
            evidence=tuple(self.evidence),
            troubles=tuple(sorted(self.troubles, key=lambda each: (each.line, each.column))),
            unit=unit,
        )


class ListingReader(DelimitedReader):
    """Options of a small table that people write by hand: no row of it may fail unless the job says so."""

    bad_rows: int = Field(0, ge=0, description="rows that may fail before the file is refused")


def listing(reader: ListingReader, path: Path) -> Listing:
    """Open a table whose columns are named by its header or by the job.

    Raises
    ------
    SourceError
        No header and no stated columns, a needed column is missing, or there are no rows.
    """
    table = reader.table(path)
    heads = reader.headings(table)
    if len(table) == 0:
        raise SourceError(f"'{table.name}' has a header and no rows; export it again, or take it out of the job.")
    evidence = [*table.evidence, *heads.evidence]
    return Listing(
        table=table,
        place=heads.place,
        unit=heads.unit,
        evidence=evidence,
        troubles=list(table.troubles),
        allowed=reader.bad_rows,
        dropped=np.zeros(len(table), dtype=bool),
    )


def refuse_repeats(rows: Listing, ours: str) -> None:
    """Refuse a key that stands on two lines.

    Raises
    ------
    SourceError
        Names the key and both lines.
    """
    text, lines = rows.raw(ours)[~rows.dropped], rows.table.lines[~rows.dropped]
    again = text.duplicated().to_numpy()
    if again.any():
        line, key = int(lines[again][0]), text[again].iloc[0]
        first = int(lines[(text == key).to_numpy()][0])
        raise SourceError(
            f"'{rows.table.name}' has the {ours} '{key}' twice, in lines {first} and {line}; keep the right one."
        )
