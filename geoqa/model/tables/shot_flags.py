"""Flags of a shot as one text: whole names joined by ``;``, never compared by a part of one."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

BETWEEN = ";"
"""What parts the names in the column `flags`; a name holds none."""


CODE_ASKED = frozenset({"code-slip", "swapped-pair"})
"""Flags that say the code is in doubt, not the measurement."""
AGAIN = "row-twice"
"""Flag of a row that lists a measurement again: it counts where it stands first."""


def once(shots: Any) -> Any:
    """Shots without those rows that list a measurement again.

    Parameters
    ----------
    shots : DataFrame

    Returns
    -------
    DataFrame
        The same one where nothing is listed twice.

    Examples
    --------
    >>> import pandas as pd
    >>> once(pd.DataFrame({"shot": ["7", "7"], "flags": pd.Series(["", "row-twice"], dtype="str")}))["shot"].tolist()
    ['7']
    """
    again = has_flag(shots, AGAIN)
    return shots[~again] if again.any() else shots


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
        if not len(near):
            continue
        which, different = pd.factorize(text.iloc[near])
        whole = np.array([name in each.split(BETWEEN) for each in different], dtype=bool)
        bears[near] |= whole[which]
    return bears
