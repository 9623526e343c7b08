"""Rows of the `flags` table: what was noticed about a shot, with its numbers."""

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd

from geoqa.model.columns import conform, empty
from geoqa.steps.judging.text_columns import filled

ZERO = "zero-elevation"
"""Flag of a shot whose elevation is exactly 0 where no ground is; nothing vertical is judged by it."""


def flagged(shots: pd.DataFrame, rows: Any, *, flag: str, reasons: Any, reject: bool, step: str) -> pd.DataFrame:
    """Flag shots.

    Parameters
    ----------
    shots : DataFrame
    rows : int array
        Places in `shots`.
    flag : str
        Reason code.
    reasons : str or sequence of str
        Words with the numbers; one for all, or one for each.
    reject : bool
        The shot shall not be judged.
    step : str
        Who says so.

    Returns
    -------
    DataFrame
        Rows of `flags`.
    """
    rows = np.asarray(rows, dtype=np.int64)
    return pd.DataFrame(
        {
            "shot_key": shots["shot_key"].take(rows).reset_index(drop=True),
            "flag": filled(flag, len(rows)),
            "reject": np.full(len(rows), reject),
            "reason": filled(reasons, len(rows)) if isinstance(reasons, str) else pd.Series(list(reasons), dtype="str"),
            "step": filled(step, len(rows)),
        }
    )


def all_flags(parts: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """One `flags` table of several, in a fixed order."""
    whole = [part for part in parts if len(part)]
    if not whole:
        return empty("flags")
    table = pd.concat(whole, ignore_index=True).sort_values(["shot_key", "flag", "reject"], ignore_index=True)
    return conform("flags", table)
