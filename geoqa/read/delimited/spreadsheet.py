"""What a spreadsheet does to a table that passes through it: numbers cut short, and names turned into dates."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from geoqa.model.source import Trouble
from geoqa.model.spreadsheet_dates import DATES, read_as_date

if TYPE_CHECKING:
    import pandas as pd

CUT = "|".join(rf"^[+-]?[0-9](?:[.,][0-9]{{0,{power - 1}}})?[eE]\+?0?{power}$" for power in range(2, 10))
"""A number in powers of ten whose last figure stands for more than 1: what was behind it is lost."""
CUT_REASON = "is a longer number cut short, as a spreadsheet shows it: its last figures are lost; export them whole"
DATE_REASON = "is a date, as a spreadsheet makes it of a name such as 2-3; write the name as text where it came from"
_LISTED = 20


def is_date(name: str) -> bool:
    """Whether a name is a date, as a spreadsheet or a field of dates makes it.

    Examples
    --------
    >>> is_date("2026-02-03"), is_date("3-Feb"), is_date("CP-3")
    (True, True, False)
    """
    return bool(read_as_date(name))


def dates_for_names(text: pd.Series, *, lines: np.ndarray, column: str) -> Iterator[Trouble]:
    """Names and codes that are dates; the rows stand, under the name that is written.

    Examples
    --------
    >>> import pandas as pd
    >>> names = pd.Series(["101", "3-Feb", "CP-1"], dtype="str")
    >>> [str(each)[:22] for each in dates_for_names(names, lines=np.array([2, 3, 4]), column="shot")]
    ["line 3, shot: '3-Feb' "]
    """
    may_be = np.flatnonzero(text.str.contains(DATES, regex=True).to_numpy(dtype=bool, na_value=False))
    found = [row for row in may_be.tolist() if is_date(str(text.iloc[row]))]
    for row in found[:_LISTED]:
        yield Trouble(line=int(lines[row]), column=column, text=str(text.iloc[row]), reason=DATE_REASON, kept=True)
    if (more := len(found) - _LISTED) > 0:
        reason = f"and {more} more such names are dates"
        yield Trouble(line=int(lines[found[_LISTED]]), column=column, text="", reason=reason, kept=True)
