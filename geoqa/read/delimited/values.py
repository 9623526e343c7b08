"""Text columns to numbers, times and nulls; what is neither is named, line by line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Generic, Literal, TypeVar

import numpy as np

from geoqa.errors import SourceError
from geoqa.model.source import Evidence, Trouble
from geoqa.read.delimited.day_order import patterns_of
from geoqa.read.delimited.spreadsheet import CUT, CUT_REASON

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

Whole = Literal["Int32", "Int64"]
"""Columns of whole numbers, any of which may be missing."""

NULLS = ("", "-9999")
"""Texts that mean no value, where the job does not say others."""

Values = TypeVar("Values")

_NUMBER = {
    ".": r"^[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?$",
    ",": r"^[+-]?(?:[0-9]+,?[0-9]*|,[0-9]+)(?:[eE][+-]?[0-9]+)?$",
}
_ENDLESS = ("nan", "inf", "-inf", "+inf", "infinity", "-infinity")
_ZONED = r"[Tt ][0-9]{2}[0-9:.,]* ?(?:[Zz]|[+-][0-9]{2}(?::?[0-9]{2})?)$"
LARGEST = 1e9
"""Most that a coordinate or a length can be in any unit; arithmetic with more ends in noise or in nothing."""
_LISTED = 20
"""Values of one column named singly; the rest is counted."""


@dataclass(frozen=True, kw_only=True)
class Read(Generic[Values]):
    """One column, read.

    Attributes
    ----------
    values : (n,) array or Series
        NaN or NaT where there is none.
    null : (n,) bool
        Blank, or one of the texts that mean none.
    troubles : tuple of Trouble
        Values that are neither.
    evidence : tuple of Evidence
    """

    values: Values
    null: np.ndarray
    troubles: tuple[Trouble, ...] = ()
    evidence: tuple[Evidence, ...] = ()


def text_or_null(text: pd.Series) -> pd.Series:
    """Text as written; empty is null."""
    return text.where(text != "", None).astype("str")


def numbers(
    text: pd.Series,
    *,
    lines: np.ndarray,
    column: str,
    decimal: str = ".",
    nulls: Sequence[str | float] = NULLS,
    every: bool = False,
    largest: float = LARGEST,
) -> Read[np.ndarray]:
    """Read numbers; a value that is none becomes NaN and is named.

    Parameters
    ----------
    text : Series of str
    lines : (n,) int64
        1-based lines of the file.
    column : str
        For messages.
    decimal : {".", ","}
    nulls : sequence of str or float
        Texts, in any case, or numbers, in any spelling, that mean none.
    every : bool
        Name every value that fails, not only the first twenty.
    largest : float
        A number beyond it, to either side, is told and not taken.

    Examples
    --------
    >>> import pandas as pd
    >>> text = pd.Series(["1.5", "-9999.00", "1e400", "x"], dtype="str")
    >>> got = numbers(text, lines=np.arange(1, 5), column="elevation")
    >>> got.values.tolist(), [each.reason for each in got.troubles]
    ([1.5, nan, nan, nan], ['is not a finite number', 'is not a number'])
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    arrow = pa.array(text)
    shaped = pc.match_substring_regex(arrow, _NUMBER[decimal])
    plain = pc.replace_substring(arrow, ",", ".") if decimal == "," else arrow
    values = pc.cast(pc.if_else(shaped, plain, None), pa.float64()).to_numpy(zero_copy_only=False).copy()
    shaped = np.asarray(shaped.to_numpy(zero_copy_only=False), dtype=bool)
    words = [str(each).casefold() for each in nulls]
    null = np.asarray(pc.is_in(pc.utf8_lower(arrow), pa.array(words, arrow.type)).to_numpy(zero_copy_only=False))
    figures = [float(each) for each in nulls if _is_figure(each)]
    null = null | np.isin(values, figures) if figures else null.copy()
    values[null] = np.nan
    endless = shaped & np.isinf(values)
    spelled = pc.is_in(pc.utf8_lower(arrow), pa.array(_ENDLESS, arrow.type))
    endless |= np.asarray(spelled.to_numpy(zero_copy_only=False)) & ~null
    wrong = ~shaped & ~null & ~endless
    values[endless] = np.nan
    cut = _cut_short(arrow) & ~null
    values[cut] = np.nan
    vast = np.abs(values) > largest
    values[vast] = np.nan
    reasons = {
        CUT_REASON: cut,
        "is not a number": wrong,
        "is not a finite number": endless,
        "is larger than any measured number": vast,
    }
    named = [_named(text, lines, column, failed, reason, every=every) for reason, failed in reasons.items()]
    troubles = tuple(sorted((one for told, _ in named for one in told), key=lambda each: each.line))
    return Read(values=values, null=null, troubles=troubles, evidence=tuple(one for _, rest in named for one in rest))


def _cut_short(arrow: pa.Array) -> np.ndarray:
    """Numbers whose last figures a spreadsheet did not write."""
    import pyarrow.compute as pc

    if not pc.any(pc.match_substring(arrow, "e", ignore_case=True)).as_py():
        return np.zeros(len(arrow), dtype=bool)
    return np.asarray(pc.match_substring_regex(arrow, CUT).to_numpy(zero_copy_only=False), dtype=bool)


def whole_numbers(text: pd.Series, *, lines: np.ndarray, column: str, decimal: str, dtype: Whole) -> Read[pd.Series]:
    """Read whole numbers into a nullable integer column."""
    import pandas as pd

    got = numbers(text, lines=lines, column=column, decimal=decimal, largest=np.inf)
    broken = np.isfinite(got.values) & ((got.values != np.rint(got.values)) | (np.abs(got.values) > 2**31 - 1))
    found = _named(text, lines, column, broken, "is not a whole number")
    values = np.where(broken, np.nan, got.values)
    series = pd.Series(values, index=text.index).astype(dtype)
    return Read(
        values=series, null=got.null, troubles=got.troubles + tuple(found[0]), evidence=got.evidence + tuple(found[1])
    )


def times(
    text: pd.Series, *, lines: np.ndarray, column: str, zone: str | None = None, pattern: str | None = None
) -> Read[pd.Series]:
    """Read observation times to UTC.

    ISO 8601 unless a pattern is stated. A time without Z or offset is read in `zone`; without a
    zone it is null, and that is told, because hours would be off without a word. Where day and month stand as numbers
    before the year, a day above 12 settles which is first; without one the pattern is asked for, with the zone at once.
    """
    import pandas as pd

    null = (text == "").to_numpy()
    with_zone = text.str.contains(_ZONED, regex=True).to_numpy(dtype=bool) & ~null
    if pattern is not None:
        with_zone = np.full(len(text), "%z" in pattern) & ~null
    naive = ~with_zone & ~null
    evidence: list[Evidence] = []
    orders, settles = patterns_of(text[naive]) if pattern is None and naive.any() and not with_zone.any() else ((), "")
    if len(orders) == 1:
        pattern = orders[0]
        because = f"{settles!r} has a day above 12, and no time contradicts it"
        evidence.append(Evidence(what=f"order of {column}", answer=pattern, because=because))
    form = pattern or "ISO8601"
    values = pd.Series(pd.NaT, index=text.index, dtype="datetime64[us, UTC]")
    if with_zone.any():
        values[with_zone] = pd.to_datetime(text[with_zone], format=form, errors="coerce", utc=True).dt.as_unit("us")
    lost: list[Trouble] = []
    if naive.any() and zone is None:
        first = int(np.flatnonzero(naive)[0])
        more = f", nor have {naive.sum() - 1} others" if naive.sum() > 1 else ""
        asked = "state time_zone =" + (f" and time_format = {_either(orders)}" if len(orders) > 1 else "")
        reason = f"has no Z and no offset{more}: no such time is taken; {asked}"
        lost.append(Trouble(line=int(lines[first]), column=column, text=str(text.iloc[first])[:200], reason=reason))
        evidence.append(
            Evidence(
                what=column,
                answer=f"{naive.sum()} not taken",
                because=f"no Z or offset, e.g. line {lines[naive][0]}: {text[naive].iloc[0]!r}; {asked} ",
            )
        )
    elif naive.any():
        local = pd.to_datetime(text[naive], format=form, errors="coerce")
        values[naive] = _in_zone(local, zone or "UTC").dt.tz_convert("UTC").dt.as_unit("us")
        evidence.append(Evidence(what=column, answer=f"in {zone}", because="no Z or offset; stated in the job"))
    wrong = values.isna().to_numpy() & ~null & (with_zone | (zone is not None))
    reason = (
        f"is no time like {pattern}" if pattern else "is no ISO 8601 time that exists once there; state time_format ="
    )
    if len(orders) > 1:
        reason += f" {_either(orders)}, for {int(naive.sum())} such times"
    found = _named(text, lines, column, wrong, reason)
    return Read(values=values, null=null, troubles=(*lost, *found[0]), evidence=(*evidence, *found[1]))


def _either(orders: Sequence[str]) -> str:
    """Patterns of which one is to be stated: no day above 12 tells which of two."""
    return " or ".join(f'"{each}"' for each in orders)


def _in_zone(local: pd.Series, zone: str) -> pd.Series:
    from zoneinfo import ZoneInfoNotFoundError

    try:
        return local.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    except (ZoneInfoNotFoundError, ValueError, KeyError):
        raise SourceError(f"No time zone named '{zone}'; use a name such as America/Chicago or UTC.") from None


def _is_figure(value: str | float) -> bool:
    try:
        return bool(np.isfinite(float(value)))
    except ValueError:
        return False


def _named(
    text: pd.Series, lines: np.ndarray, column: str, mask: np.ndarray, reason: str, *, every: bool = False
) -> tuple[list[Trouble], list[Evidence]]:
    places = np.flatnonzero(mask)
    shown = places if every else places[:_LISTED]
    troubles = [
        Trouble(line=int(lines[at]), column=column, text=str(text.iloc[at])[:200], reason=reason)
        for at in shown.tolist()
    ]
    rest = len(places) - len(shown)
    if not rest:
        return troubles, []
    troubles[-1] = replace(troubles[-1], more=rest)
    because = f"{rest} more after line {lines[shown[-1]]}: each {reason}"
    return troubles, [Evidence(what=column, answer=f"{len(places)} values not taken", because=because)]
