"""Names, line IDs and codes that a spreadsheet has changed: taken for a date or a number, or stripped of zeros."""

import re
from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers

FIELDS = {"shot": "name", "line_id": "line ID", "code": "code"}
"""Columns that are looked at, with what people call them."""
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = "|".join(_MONTHS)
_DATE = re.compile(rf"(?:(?P<day>\d{{1,2}})-(?P<month>{_MONTH}))|(?:(?P<first>{_MONTH})-(?P<then>\d{{1,4}}))", re.I)
_EXPONENT = re.compile(r"\d(?:\.\d+)?E\+\d+", re.I)
_POINT = re.compile(r"(\d+)\.0+")
_ANY = rf"(?i)(?:\d{{1,2}}-(?:{_MONTH})|(?:{_MONTH})-\d{{1,4}}|\d(?:\.\d+)?E\+\d+|\d+\.0+)"
_DESIGN = (("design_lines", "line"), ("design_points", "point"))


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
    with. A mark is named by check shots alone, design by line IDs alone: other shots may well be called 101.
    """
    shots, found = layers["shots"], []
    check = shots["role"].eq("check").fillna(False).to_numpy(bool) if "role" in shots else np.zeros(len(shots), bool)
    of_marks, of_design = _with_zeros(layers, ("control", "mark")), _with_zeros(layers, *_DESIGN)
    for field, called in FIELDS.items():
        words = shots[field].str.strip()
        strange = words.str.fullmatch(_ANY).fillna(False).to_numpy(bool)
        zeros = np.full(len(shots), None, dtype=object)
        if field == "line_id" and of_design:
            zeros = words.map(of_design).to_numpy(object)
        if field != "code" and of_marks:
            zeros = np.where(check, words.map(of_marks).to_numpy(object), zeros)
        lost = ~pd.isna(zeros)
        for row in np.flatnonzero(strange | lost).tolist():
            written = str(words.iloc[row])
            variant, proposal = ("zeros", zeros[row]) if lost[row] else was(written)
            fact = {"variant": variant, "subject": called, "written": written, "proposal": proposal}
            found.append({"row": row} | fact)
    return found


def was(written: str) -> tuple[str, str]:
    """How a word was damaged, and what it may have been.

    Examples
    --------
    >>> was("Jan-02"), was("2-jan"), was("1.00E+03"), was("1630.0")
    (('date', '1-2'), ('date', '1-2'), ('number', '1000'), ('point', '1630'))
    """
    if found := _DATE.fullmatch(written):
        month = found["month"] or found["first"]
        number = _MONTHS.index(month.lower()) + 1
        return "date", f"{number}-{int(found['day'] or found['then'])}"
    if _EXPONENT.fullmatch(written):
        return "number", f"{float(written):.0f}"
    point = _POINT.fullmatch(written)
    return "point", point[1] if point else written


def _with_zeros(layers: Layers, *columns: tuple[str, str]) -> dict[str, str]:
    """Names that begin with zeros, by what is left without them; not where that is a name too."""
    names: set[str] = set()
    for table, column in columns:
        if table in layers:
            names |= set(pd.Series(layers[table][column]).dropna().str.strip())
    short = {name.lstrip("0"): name for name in sorted(names) if name.startswith("0") and name.strip("0")}
    return {name: whole for name, whole in short.items() if name not in names}
