"""Columns as fields of a dBASE table: short names, widths, and texts that fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

LONGEST_NAME, LONGEST_TEXT = 10, 254
_NUMBER_WIDTH, _DECIMALS = 24, 15


@dataclass(frozen=True)
class Field:
    """One field: its short name, which column it holds and how."""

    name: str
    column: str
    holds: str
    kind: str
    width: int
    cut: int = 0

    def as_written(self, column: pd.Series) -> list[Any]:
        """Values of a column as they go into the file; missing is None."""
        read = self.as_read(column)
        return [None if absent else value for value, absent in zip(read.tolist(), read.isna().tolist(), strict=True)]

    def as_read(self, column: pd.Series) -> pd.Series:
        """Values of a column as the file gives them back."""
        if self.holds in ("number", "whole number"):
            return column
        texts = _texts(column, self.holds).map(fitting, na_action="ignore")
        return texts.where(texts.notna() & (texts != ""), None).astype("str")


def fields_of(table: pd.DataFrame) -> list[Field]:
    """Describe every column of a table that is ready for disk.

    Parameters
    ----------
    table : DataFrame
    """
    from geoqa.write.rows import plain_columns

    names = short_names(plain_columns(table))
    return [_field(names[column], column, table[column]) for column in names]


def short_names(columns: list[str]) -> dict[str, str]:
    """Give each column a name of at most ten characters, all different.

    Examples
    --------
    >>> short_names(["raw_easting", "raw_easting_text", "u"])
    {'raw_easting': 'raw_eastin', 'raw_easting_text': 'raw_east_1', 'u': 'u'}
    """
    taken: dict[str, str] = {}
    for column in columns:
        plain = "".join(each if each.isascii() and each.isalnum() else "_" for each in column)
        name, number = plain[:LONGEST_NAME], 0
        while name.lower() in taken:
            number += 1
            tail = f"_{number}"
            name = plain[: LONGEST_NAME - len(tail)] + tail
        taken[name.lower()] = column
    return {column: _as_given(name, column) for name, column in taken.items()}


def _as_given(name: str, column: str) -> str:
    head = len(name)
    while head and column[:head].lower() != name[:head]:
        head -= 1
    return column[:head] + name[head:]


def fitting(text: str) -> str:
    """Cut a text to the bytes a field holds, never inside a character.

    Examples
    --------
    >>> len(fitting("é" * 200).encode("utf-8")), fitting("short")
    (253, 'short')
    """
    raw = text.encode("utf-8")
    if len(raw) <= LONGEST_TEXT:
        return text
    return raw[: LONGEST_TEXT - 3].decode("utf-8", "ignore") + "…"


def _field(name: str, column: str, values: pd.Series) -> Field:
    import pandas as pd

    dtype = values.dtype
    if pd.api.types.is_bool_dtype(dtype):
        return Field(name, column, "true or false", "str:5", 5)
    if pd.api.types.is_integer_dtype(dtype):
        return Field(name, column, "whole number", "int:18", 18)
    if pd.api.types.is_float_dtype(dtype):
        return Field(name, column, "number", f"float:{_NUMBER_WIDTH}.{_decimals(values)}", _NUMBER_WIDTH)
    if isinstance(dtype, pd.DatetimeTZDtype) or pd.api.types.is_datetime64_dtype(dtype):
        return Field(name, column, "time", "str:32", 32)
    lengths = values.dropna().map(lambda text: len(text.encode("utf-8")))
    width = int(min(max(lengths.max() if len(lengths) else 1, 1), LONGEST_TEXT))
    return Field(name, column, "text", f"str:{width}", width, int((lengths > LONGEST_TEXT).sum()))


def _decimals(values: pd.Series) -> int:
    """As many decimals as the width leaves beside the sign, the point and the longest whole part."""
    largest = values.abs().max()
    whole = len(str(int(largest))) if largest == largest else 1
    return max(0, min(_DECIMALS, _NUMBER_WIDTH - 2 - whole))


def _texts(column: pd.Series, holds: str) -> pd.Series:
    if holds == "true or false":
        return column.astype(object).map({True: "true", False: "false"}).astype("str")
    if holds == "time":
        return column.map(lambda time: time.isoformat().replace("+00:00", "Z"), na_action="ignore").astype("str")
    return column
