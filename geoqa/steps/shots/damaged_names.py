"""Names, line IDs and codes that a spreadsheet has changed: taken for a date or a number, or stripped of zeros."""

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.spreadsheet_dates import DATES, names_by_date, proposed, read_as_date
from geoqa.model.tables.layer import Layers

FIELDS = {"shot": "name", "line_id": "line ID", "code": "code"}
"""Columns that are looked at, with what people call them."""
_EXPONENT = re.compile(r"\d(?:\.\d+)?E\+\d+", re.I)
_POINT = re.compile(r"(\d+)\.0+")
_NUMBERS = r"(?i)(?:\d(?:\.\d+)?E\+\d+|\d+\.0+)"
_MARKS = ("control", "mark")
_DESIGN = (("design_lines", "line"), ("design_points", "point"))
_KNOWN: dict[str, tuple[tuple[str, str], ...]] = {"shot": (), "line_id": _DESIGN, "code": (("codes", "code"),)}
"""Names that a damaged word may have been; of check shots also those of marks."""


def damaged(layers: Layers) -> list[dict[str, Any]]:
    """Rows with a damaged word.

    Returns
    -------
    list of dict
        `row`, and facts: `variant` (date, number, point or zeros), `subject` (which word), `written`, `proposal` (what
        it may have been).

    Notes
    -----
    Zeros are missed where the word is the name of a mark, or of a design line or point, but for the zeros it begins
    with. A mark is named by check shots alone, design by line IDs alone: other shots may well be called 101. Of a date
    the name of a mark, design or code is proposed that a spreadsheet makes it of; what is called so itself is sound.
    """
    shots, found = layers["shots"], []
    check = shots["role"].eq("check").fillna(False).to_numpy(bool) if "role" in shots else np.zeros(len(shots), bool)
    of_marks, of_design = _with_zeros(layers, _MARKS), _with_zeros(layers, *_DESIGN)
    marks = _names(layers, _MARKS)
    for field, called in FIELDS.items():
        words = shots[field].str.strip()
        names = _names(layers, *_KNOWN[field])
        of_checks = names | (marks if field != "code" else set())
        called_so = np.where(check, words.isin(of_checks), words.isin(names))
        strange = (words.str.fullmatch(_NUMBERS) | words.str.contains(DATES)).fillna(False).to_numpy(bool) & ~called_so
        known, of_check = names_by_date(names), names_by_date(of_checks)
        zeros = np.full(len(shots), None, dtype=object)
        if field == "line_id" and of_design:
            zeros = words.map(of_design).to_numpy(object)
        if field != "code" and of_marks:
            zeros = np.where(check, words.map(of_marks).to_numpy(object), zeros)
        lost = ~pd.isna(zeros)
        for row in np.flatnonzero(strange | lost).tolist():
            written = str(words.iloc[row])
            told = ("zeros", zeros[row]) if lost[row] else was(written, of_check if check[row] else known)
            if told is None:
                continue
            variant, proposal = told
            fact = {"variant": variant, "subject": called, "written": written, "proposal": proposal}
            found.append({"row": row} | fact)
    return found


def was(written: str, known: Mapping[tuple[int, int], list[str]] = MappingProxyType({})) -> tuple[str, str] | None:
    """How a word was damaged, and what it may have been: a name of `names_by_date` before all others; None for not.

    Examples
    --------
    >>> was("Jan-02"), was("2-jan"), was("1.00E+03"), was("1630.0")
    (('date', '1-2'), ('date', '1-2'), ('number', '1000'), ('point', '1630'))
    """
    if read_as_date(written):
        return "date", proposed(written, known)
    if _EXPONENT.fullmatch(written):
        return "number", f"{float(written):.0f}"
    point = _POINT.fullmatch(written)
    return ("point", point[1]) if point else None


def _with_zeros(layers: Layers, *columns: tuple[str, str]) -> dict[str, str]:
    """Names that begin with zeros, by what is left without them; not where that is a name too."""
    names = _names(layers, *columns)
    short = {name.lstrip("0"): name for name in sorted(names) if name.startswith("0") and name.strip("0")}
    return {name: whole for name, whole in short.items() if name not in names}


def _names(layers: Layers, *columns: tuple[str, str]) -> set[str]:
    """What stands in columns of other tables."""
    names: set[str] = set()
    for table, column in columns:
        if table in layers:
            names |= set(pd.Series(layers[table][column]).dropna().str.strip())
    return names
