"""Readings taken beside the shots: slopes of a digital level and taped widths, from delimited text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import ClassVar

import numpy as np
from pydantic import Field, field_validator

from geoqa.errors import QuantityError
from geoqa.model.format import Format
from geoqa.model.quantity import Length, Slope
from geoqa.model.source import Evidence, Peek, Source
from geoqa.read.delimited.headings import Sought, plain, readings
from geoqa.read.delimited.listing import ListingReader, listing

SOUGHT: Sought = {
    "place": (("place", "shot"), ("point", "at", "name", "ramp")),
    "value": (
        ("value", "reading"),
        (
            *("slope", "cross_slope", "crossslope", "xslope", "x_slope", "running_slope", "long_slope", "ramp_slope"),
            *("slope_percent", "slope_pct", "cross_slope_percent", "cross_slope_pct", "running_slope_percent"),
            *("running_slope_pct", "width", "clear_width"),
        ),
    ),
    "u": (("u",), ("uncertainty", "sigma")),
    "length": (("length",), ("level_length",)),
}


class ReadingsText(ListingReader):
    """Readings, one a row, from delimited text with a header.

    `place` is the name of the shot beside it, or of the ramp; `value` the slope as ``2.3 %`` or ``1:48``, or the width
    as ``4.02 ft`` or ``48 1/4 in``; `u` its 1 sigma, written likewise, where it is not that of the job; `length` that
    of the level. A number without a unit has that of its heading, ``Cross slope (%)``, or of `number_unit`; where
    neither says one it is refused.
    """

    number_unit: str = Field(
        "", description='unit of values that are written without one, where the heading says none: "%", "in", "ft"'
    )

    @field_validator("number_unit")
    @classmethod
    def _is_a_unit(cls, unit: str) -> str:
        if unit and _amount("1", unit) is None:
            raise ValueError(f'{unit!r} is no unit of a slope or a length; use "%", "in", "ft" or "m"')
        return unit

    role: ClassVar[str] = "readings"
    format: ClassVar[Format | None] = Format(
        title="slopes read on a level, and taped widths, with a header",
        keeps="every reading with its 1 sigma, and the length of the level",
        loses="where it was taken, but for the name of the shot beside it",
    )
    sought: ClassVar[Sought] = SOUGHT
    needed: ClassVar[tuple[str, ...]] = ("place", "value")

    def peek(self, path: Path) -> Peek:
        """Look at the header and the first rows, and at the units that its headings state."""
        peek = super().peek(path)
        told = self._units(dict(zip(peek.holds, peek.places, strict=True)), peek.columns)[1]
        return replace(peek, evidence=(*peek.evidence, *told))

    def _units(self, place: Mapping[str, int], columns: Sequence[str]) -> tuple[dict[str, str], list[Evidence]]:
        """Which unit numbers without one have, by our columns, and who says so."""
        headed = {ours: unit_of_heading(columns[at]) for ours, at in place.items()}
        units = {**headed, "value": headed.get("value") or self.number_unit}
        units["u"] = headed.get("u") or units["value"]
        evidence = [
            Evidence(
                what=f"unit of {ours}",
                answer=units[ours],
                because=f"its heading '{columns[place[ours]]}'" if headed[ours] else "stated in the job",
            )
            for ours in ("value", "length")
            if ours in place and units[ours]
        ]
        return units, evidence

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole file."""
        import pandas as pd

        rows = listing(self, path)
        units, evidence = self._units(rows.place, rows.table.columns)
        rows.evidence += evidence
        parsed = {
            ours: [_amount(text, units.get(ours, "")) for text in rows.raw(ours).tolist()]
            for ours in ("value", "u", "length")
        }
        said = {ours: rows.raw(ours).str.strip() != "" for ours in parsed}
        for ours, amounts in parsed.items():
            bad = np.array([amount is None for amount in amounts]) & said[ours].to_numpy(bool)
            rows.leave_out(
                bad, ours,
                'is no quantity with its unit, such as "2.3 %", "1:48" or "4.02 ft"; write the unit into the heading, '
                'such as "Slope (%)", or state number_unit = "%" in its [[readings]]',
            )  # fmt: skip
        rows.leave_out(~said["value"].to_numpy(bool), "value", "is missing")
        rows.leave_out(rows.raw("place").str.strip() == "", "place", "is missing: the name of the shot beside it")
        rows.tell_dates("place")
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


def unit_of_heading(heading: str) -> str:
    """The unit that a heading states of its numbers; empty where it states none.

    Examples
    --------
    >>> [unit_of_heading(each) for each in ("Cross slope (%)", "Length (ft)", "Slope")]
    ['%', 'ft', '']
    """
    if "%" in heading or plain(heading).split("_")[-1] in ("percent", "pct"):
        return "%"
    unit = next((each for each in readings(heading).values() if each), "")
    return "ft" if unit == "foot" else unit


def _amount(text: str, unit: str = "") -> Length | Slope | None:
    """A slope or a length; None for anything else. A number alone is of `unit`.

    Examples
    --------
    >>> [str(_amount(text)) for text in ("2.3 %", "1:48", "48 1/4 in", "2.3")]
    ['2.3 %', '1:48', '48 1/4 in', 'None']
    >>> str(_amount("2.3", "%"))
    '2.3 %'
    """
    written = text.strip()
    for each in (written, f"{written} {unit}") if unit and written else (written,):
        for sort in (Slope, Length):
            try:
                return sort.parse(each)
            except QuantityError:
                continue
    return None


def _number(amount: Length | Slope | None) -> float:
    """Metres, or rise over run; NaN where there is none."""
    if amount is None:
        return float("nan")
    return float(amount.metres) if isinstance(amount, Length) else float(amount)
