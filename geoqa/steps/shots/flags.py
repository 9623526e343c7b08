"""Rows of the tables of facts: what was noticed about a shot, and what must be read first."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from geoqa.model.tables.columns import conform, empty
from geoqa.steps.judging.text_columns import filled

ZERO = "zero-elevation"
"""Flag of a shot whose elevation is exactly 0 where no ground is; nothing vertical is judged by it."""


FactColumn = str | float | pd.Series | np.ndarray | Sequence[object] | None
"""One value for all rows, or one for each."""


def flagged(
    shots: pd.DataFrame, rows: ArrayLike, *, flag: str, reject: bool, step: str, **facts: FactColumn
) -> pd.DataFrame:
    """Flag shots.

    Parameters
    ----------
    shots : DataFrame
    rows : int array, shape (k,)
        Places in `shots`.
    flag : str
        Name of the flag.
    reject : bool
        The shot shall not be judged.
    step : str
        Who says so.
    **facts
        Columns of `geoqa.model.tables.fact.FACT`: one value for all, or (k,) values. Lengths are in the job's unit, and
        their `unit` is ``job``.

    Returns
    -------
    DataFrame
        Rows of `flags`.
    """
    rows = np.asarray(rows, dtype=np.int64)
    if not len(rows):
        return empty("flags")
    return pd.DataFrame(
        {
            "shot_key": shots["shot_key"].take(rows).reset_index(drop=True),
            "flag": filled(flag, len(rows)),
            "reject": np.full(len(rows), reject),
            "step": filled(step, len(rows)),
            **{name: _column(value, len(rows)) for name, value in facts.items()},
        }
    )


def _column(value: FactColumn, count: int) -> pd.Series | np.ndarray:
    if isinstance(value, str):
        return filled(value, count)
    if isinstance(value, pd.Series):
        return value.reset_index(drop=True)
    if isinstance(value, Sequence) or (isinstance(value, np.ndarray) and value.ndim):
        return pd.Series(list(value))
    return np.full(count, value)


def as_columns(facts: Sequence[Mapping[str, Any]]) -> dict[str, pd.Series]:
    """Facts of rows as the columns that `flagged` takes.

    Examples
    --------
    >>> {name: column.tolist() for name, column in as_columns([{"number": 1.0}, {"number": 2.0}]).items()}
    {'number': [1.0, 2.0]}
    """
    return {str(name): column for name, column in pd.DataFrame(facts).items()}


def all_flags(parts: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """One `flags` table of several, in a fixed order."""
    whole = [part for part in parts if len(part)]
    if not whole:
        return empty("flags")
    table = pd.concat(whole, ignore_index=True).sort_values(["shot_key", "flag", "reject"], ignore_index=True)
    return conform("flags", table)


def noted(step: str, facts: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """Notes of a step, to be read before the numbers.

    Parameters
    ----------
    step : str
    facts : sequence of mapping
        `note`, its name, and columns of `geoqa.model.tables.fact.FACT`.

    Returns
    -------
    DataFrame
        Rows of `notes`.
    """
    if not facts:
        return empty("notes")
    return conform("notes", pd.DataFrame(list(facts)).assign(step=step))
