"""Columns of text, made without a loop over rows."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

Texts = pd.Series | np.ndarray | Sequence[str | None]
"""A column of texts; null where there is none."""


def taken(names: pd.Series | Iterable[str | None], places: ArrayLike) -> pd.Series:
    """Text at the given places; null where the place is -1.

    Examples
    --------
    >>> taken(["a", "b"], [1, 0, -1]).tolist()
    ['b', 'a', nan]
    """
    places = np.asarray(places, dtype=np.int64)
    # a column of text is one already; a list of its values would be built only to be packed again
    text = names.array if isinstance(names, pd.Series) and names.dtype == "str" else pd.array(list(names), dtype="str")
    return pd.Series(text.take(places, allow_fill=True), copy=False)  # it is nobody else's


def rows_of(keys: Texts, among: Texts) -> np.ndarray:
    """Row of each key among unique ones; -1 where it is not there, or null.

    Examples
    --------
    >>> rows_of(["b", "x"], ["a", "b"]).tolist()
    [1, -1]
    """
    wanted, unique = _packed(keys), _packed(among)
    if len(wanted) * 4 < len(unique):
        return _rows_of_few(wanted, unique)
    return _places(wanted, unique)


def _packed(column: Texts) -> Any:
    import pyarrow as pa

    if isinstance(column, pd.Series) and column.dtype == "str":
        return pa.array(column.array)  # as it is held
    # the stubs of pandas know each of the kinds of column, and not that it may be one or another
    return pa.array(pd.array(column, dtype="str"))  # type: ignore[call-overload]


def _rows_of_few(wanted: Any, among: Any) -> np.ndarray:
    """As `rows_of`, with a table of the few that are wanted, and not of the many they are among."""
    import pyarrow.compute as pc

    few = pc.unique(wanted)
    place = _places(among, few)
    there = np.flatnonzero(place >= 0)[::-1]  # of equal ones the first stays
    row = np.full(len(few) + 1, -1, dtype=np.int64)  # the last for what is null
    row[place[there]] = there
    return row[_places(wanted, few)]


def _places(wanted: Any, among: Any) -> np.ndarray:
    import pyarrow.compute as pc

    found = pc.index_in(wanted, value_set=among.cast(wanted.type), skip_nulls=True)
    return np.asarray(pc.fill_null(found, -1).to_numpy(zero_copy_only=False), dtype=np.int64)


def numbers_of(text: pd.Series) -> np.ndarray:
    """Numbers that texts are, as float64; NaN for what is none.

    Examples
    --------
    >>> numbers_of(pd.Series(["1.50", "-2", "x", None], dtype="str")).tolist()
    [1.5, -2.0, nan, nan]
    """
    import pyarrow as pa
    import pyarrow.compute as pc

    try:  # many times as fast, and refuses all where one is no number
        made = pc.cast(pa.array(text.array), pa.float64())
    except pa.ArrowInvalid:
        return np.asarray(pd.to_numeric(text, errors="coerce"), dtype=np.float64)
    return np.asarray(pc.fill_null(made, np.nan).to_numpy(zero_copy_only=False))


def codes_of(*columns: Any) -> tuple[np.ndarray, list[tuple[Any, ...]]]:
    """Number each different combination of texts, in sorted order; with the combinations.

    Examples
    --------
    >>> codes_of(["b", "a", "b"], ["x", "y", "x"])
    (array([1, 0, 1]), [('a', 'y'), ('b', 'x')])
    """
    total, uniques = np.zeros(len(columns[0]), dtype=np.int64), []
    for column in columns:
        code, unique = pd.factorize(pd.array(column, dtype="str"), sort=True, use_na_sentinel=False)
        uniques.append(list(unique))
        total = total * max(len(unique), 1) + code
    there, number = np.unique(total, return_inverse=True)
    combinations = []
    for value in there.tolist():
        parts: list[Any] = []
        for unique in reversed(uniques):
            value, place = divmod(value, max(len(unique), 1))
            parts.append(unique[place])
        combinations.append(tuple(reversed(parts)))
    return number.ravel(), combinations


def filled(text: str, count: int) -> pd.Series:
    """The same text in every row."""
    return taken([text], np.zeros(count, dtype=np.int64))
