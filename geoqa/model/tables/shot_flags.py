"""Flags of a shot as one text: whole names joined by ``;``, never compared by a part of one."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

BETWEEN = ";"
"""What parts the names in the column `flags`; a name holds none."""


def has_flag(shots: Any, *names: str) -> "np.ndarray":
    """Which shots bear one of some flags, each compared as a whole name.

    Parameters
    ----------
    shots : DataFrame
        (n,) shots; without a column `flags` none bears any.
    *names : str

    Returns
    -------
    (n,) bool array

    Examples
    --------
    >>> import pandas as pd
    >>> shots = pd.DataFrame({"flags": pd.Series(["no-spike", "motion;spike", "", None], dtype="str")})
    >>> has_flag(shots, "spike").tolist()
    [False, True, False, False]
    """
    import numpy as np
    import pandas as pd

    bears = np.zeros(len(shots), dtype=bool)
    if "flags" not in shots:
        return bears
    text = shots["flags"]
    for name in names:
        # most shots hold no such text at all; only the few that do are compared name by name
        near = np.flatnonzero(text.str.contains(name, regex=False).fillna(False).to_numpy(bool))
        which, different = pd.factorize(text.iloc[near])
        whole = np.array([name in each.split(BETWEEN) for each in different], dtype=bool)
        bears[near] |= whole[which]
    return bears
