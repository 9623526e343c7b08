"""Worst first: the order of findings, without sorting a million names of which hardly two are asked for."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import ArrayLike


def worst_first(excess: "ArrayLike", names: "pd.Series", rank: "ArrayLike | None" = None) -> "np.ndarray":
    """Rows by rank, then by largest excess, missing last; equal ones by name.

    Parameters
    ----------
    excess : (n,) array_like of float
    names : (n,) Series of str
        Different in every row.
    rank : (n,) array_like of int, optional
        Smaller comes first, whatever the excess.

    Returns
    -------
    (n,) int64 array

    Examples
    --------
    >>> import pandas as pd
    >>> worst_first([1.0, float("nan"), 2.0, 1.0], pd.Series(["F3", "F2", "F9", "F1"], dtype="str")).tolist()
    [2, 3, 0, 1]
    """
    import numpy as np

    excess = np.asarray(excess, dtype=float)
    rank = np.zeros(len(excess), dtype=np.int64) if rank is None else np.asarray(rank, dtype=np.int64)
    key = np.where(np.isnan(excess), np.inf, -excess)
    order = np.lexsort((key, rank))
    if len(order) < 2:
        return order
    same = (key[order][1:] == key[order][:-1]) & (rank[order][1:] == rank[order][:-1])
    tied = np.append(same, False) | np.append(False, same)
    group = np.cumsum(~np.append(False, same))[tied]
    rows = order[tied]
    if len(rows):
        order[tied] = rows[np.lexsort((names.iloc[rows].to_numpy(str), group))]
    return order
