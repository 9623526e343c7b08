"""Untrusted text on its way to a file: made visible where it would break one, never made to run."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

_UNSEEN = "[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f\ufffe\uffff]"
_STARTS_A_FORMULA = "^[=+\\-@\\t\\r\\n＝＋－＠]"
_PLAIN = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|inf)|-", re.ASCII)
_PICTURES = {
    **{code: 0x2400 + code for code in range(0x20) if code not in (0x09, 0x0A, 0x0D)},
    0x7F: 0x2421,
    0xFFFE: 0xFFFD,
    0xFFFF: 0xFFFD,
}


def visible(text: str) -> str:
    r"""Put a picture in place of each control character; tab and line ends stay.

    A NUL ends a text in one format, is refused by another and hides a formula in a third.

    Examples
    --------
    >>> visible("rod\x00 2.0\tm")
    'rod␀ 2.0\tm'
    """
    return text.translate(_PICTURES).encode("utf-8", "replace").decode("utf-8")


def safe_cell(text: str) -> str:
    """Keep a spreadsheet from taking text for a formula: an apostrophe goes before it.

    Plain numbers written as text, a limit without an end (``-inf``) too, and a lone dash are harmless and pass as they
    are.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("-12.50"), safe_cell("-inf"), safe_cell("CTB")
    ("'=1+1", '-12.50', '-inf', 'CTB')
    """
    return f"'{text}" if re.match(_STARTS_A_FORMULA, text) and not _PLAIN.fullmatch(text) else text


def visible_column(column: pd.Series) -> pd.Series:
    """Make a whole text column `visible`; missing stays missing.

    Parameters
    ----------
    column : (n,) Series
        Text, or anything else that is to become text.

    Returns
    -------
    (n,) Series of dtype str
    """
    if str(column.dtype) != "str":
        return column.map(lambda value: visible(str(value)), na_action="ignore").astype("str")
    return column if _plainly_visible(column) else _where(column, _UNSEEN, visible)


def _plainly_visible(column: pd.Series) -> bool:
    """Whether no byte of a whole column of text can belong to a character that `visible` changes."""
    import numpy as np
    import pyarrow as pa

    arrow = pa.array(column.array)
    for chunk in arrow.chunks if isinstance(arrow, pa.ChunkedArray) else [arrow]:
        buffer = chunk.buffers()[-1]
        codes = np.frombuffer(buffer, dtype=np.uint8) if buffer is not None else np.zeros(0, dtype=np.uint8)
        if (codes < 0x20).any() or (codes == 0x7F).any() or (codes == 0xEF).any():
            return False
    return True


def safe_column(column: pd.Series) -> pd.Series:
    """Make every cell of a text column a `safe_cell`; missing stays missing."""
    return _where(column, _STARTS_A_FORMULA, safe_cell)


def one_line(text: str) -> str:
    r"""Make text fit formats that hold one line a value.

    Examples
    --------
    >>> one_line("edge broken\r\nsee photo")
    'edge broken / see photo'
    """
    return " / ".join(part for part in re.split(r"[\r\n\u2028\u2029]+", visible(text)) if part).replace("\t", " ")


def _where(column: pd.Series, pattern: str, change: Callable[[str], str]) -> pd.Series:
    import pyarrow as pa
    import pyarrow.compute as pc

    found = pc.match_substring_regex(pa.array(column.array), pattern)
    hit = pc.fill_null(found, False).to_numpy(zero_copy_only=False)
    if not hit.any():
        return column
    changed = column.copy()
    changed[hit] = column[hit].map(change)
    return changed
