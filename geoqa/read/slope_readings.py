"""Readings taken beside the shots: slopes of a digital level and taped widths, from delimited text."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

import numpy as np

from geoqa.errors import QuantityError
from geoqa.model.format import Format
from geoqa.model.quantity import Length, Slope
from geoqa.model.source import Source
from geoqa.read.delimited.headings import Sought
from geoqa.read.delimited.listing import ListingReader, listing

SOUGHT: Sought = {
    "place": (("place", "shot"), ("point", "at", "name", "ramp")),
    "value": (("value", "reading"), ("slope", "width")),
    "u": (("u",), ("uncertainty", "sigma")),
    "length": (("length",), ("level_length",)),
}


class ReadingsText(ListingReader):
    """Readings, one a row, from delimited text with a header.

    `place` is the name of the shot beside it, or of the ramp; `value` the slope as ``2.3 %`` or ``1:48``, or the width
    as ``4.02 ft`` or ``48 1/4 in``; `u` its 1 sigma, written likewise, where it is not that of the job; `length` that
    of the level. A number without a unit is refused.
    """

    role: ClassVar[str] = "readings"
    format: ClassVar[Format | None] = Format(
        title="slopes read on a level, and taped widths, with a header",
        keeps="every reading with its 1 sigma, and the length of the level",
        loses="where it was taken, but for the name of the shot beside it",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("place", "value")

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        import pandas as pd

        rows = listing(self, path)
        parsed = {ours: [_amount(text) for text in rows.raw(ours).tolist()] for ours in ("value", "u", "length")}
        said = {ours: rows.raw(ours).str.strip() != "" for ours in parsed}
        for ours, amounts in parsed.items():
            bad = np.array([amount is None for amount in amounts]) & said[ours].to_numpy(bool)
            rows.leave_out(bad, ours, 'is no quantity with its unit, such as "2.3 %", "1:48" or "4.02 ft"')
        rows.leave_out(~said["value"].to_numpy(bool), "value", "is missing")
        rows.leave_out(rows.raw("place").str.strip() == "", "place", "is missing: the name of the shot beside it")
        quantity = ["length" if isinstance(each, Length) else "slope" for each in parsed["value"]]
        of_u = ["length" if isinstance(each, Length) else "slope" for each in parsed["u"]]
        other = np.array([bool(there) and a != b for there, a, b in zip(said["u"], quantity, of_u, strict=True)])
        rows.leave_out(other, "u", "is not of the sort of its value")
        columns: dict[str, pd.Series | np.ndarray] = {
            "source": pd.Series(source, index=range(len(rows.table)), dtype="str"),
            "line": rows.table.lines,
            "place": rows.raw("place").str.strip(),
            "quantity": pd.Series(quantity, dtype="str"),
            "text": rows.raw("value").str.strip(),
            **{ours: np.array([_number(each) for each in amounts]) for ours, amounts in parsed.items()},
        }
        return rows.source("readings", columns)


def _amount(text: str) -> Length | Slope | None:
    """A slope or a length; None for anything else.

    Examples
    --------
    >>> [str(_amount(text)) for text in ("2.3 %", "1:48", "48 1/4 in", "2.3")]
    ['2.3 %', '1:48', '48 1/4 in', 'None']
    """
    for sort in (Slope, Length):
        try:
            return sort.parse(text.strip())
        except QuantityError:
            continue
    return None


def _number(amount: Length | Slope | None) -> float:
    """Metres, or rise over run; NaN where there is none."""
    if amount is None:
        return float("nan")
    return float(amount.metres) if isinstance(amount, Length) else float(amount)
