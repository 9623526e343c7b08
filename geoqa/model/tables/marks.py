"""Which shots were taken on which control mark: by their names alone, whatever their numbers say."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd

Rows = NDArray[np.int64]


ASSUMED_U = 0.03
"""Feet, each axis: 1 sigma of a published value that states none. Common practice, no source."""


def stated_or_assumed(u: "pd.Series", feet: float) -> NDArray[np.float64]:
    """1 sigma of published values; what is assumed where none is stated, never 0.

    Parameters
    ----------
    u : Series, (n,)
        As stated; NaN where it is not.
    feet : float
        Feet in units of `u`.

    Examples
    --------
    >>> import pandas as pd
    >>> stated_or_assumed(pd.Series([0.01, None]), 1.0).tolist()
    [0.01, 0.03]
    """
    return np.asarray(u.astype(float).fillna(ASSUMED_U * feet), dtype=np.float64)


def best_mark(control: "pd.DataFrame", feet: float) -> float:
    """1 sigma of the elevation of the best mark, which a level run from it feels; 0 where there is none.

    Parameters
    ----------
    control : DataFrame
        With `elevation` and `u_v`.
    feet : float
        Feet in the job's unit.

    Examples
    --------
    >>> import pandas as pd
    >>> marks = pd.DataFrame({"elevation": [812.5, 813.0, None], "u_v": [None, 0.02, 0.001]})
    >>> best_mark(marks, 1.0), best_mark(marks.head(1), 1.0), best_mark(marks.tail(1), 1.0)
    (0.02, 0.03, 0.0)
    """
    known = control.loc[control["elevation"].notna(), "u_v"]
    return float(stated_or_assumed(known, feet).min()) if len(known) else 0.0


def mark_of(checks: "pd.DataFrame", control: "pd.DataFrame") -> Rows:
    """Row of `control` of each check shot, by its line ID, else its name, else its note; -1 where none has a mark.

    Examples
    --------
    >>> import pandas as pd
    >>> shots = pd.DataFrame({"line_id": ["CP-1", None], "shot": ["1", "2"], "note": [None, "CP-9"]}, dtype="str")
    >>> mark_of(shots, pd.DataFrame({"mark": ["CP-9", "CP-1"]}, dtype="str")).tolist()
    [1, 0]
    """
    import pandas as pd

    marks = pd.Index(control["mark"])
    found = np.full(len(checks), -1, dtype=np.int64)
    for column in ("line_id", "shot", "note"):
        if (found < 0).any():
            found = np.where(found < 0, marks.get_indexer(pd.Index(checks[column].str.strip())), found)
    return found


def marks_shot(shots: "pd.DataFrame", control: "pd.DataFrame", codes: "pd.DataFrame | None" = None) -> Rows:
    """Row of `control` that each shot was taken on; -1 for those that are no check shots.

    With a code list, the shots whose code has the role ``check``. Without one, a code of which more than half the
    shots bear the name of a mark is taken for that of check shots.

    Examples
    --------
    >>> import pandas as pd
    >>> shots = pd.DataFrame({"line_id": ["CP-1", "L"], "shot": ["1", "2"], "code": ["K", "C"]}, dtype="str")
    >>> marks_shot(shots, pd.DataFrame({"mark": ["CP-1"]}, dtype="str")).tolist()
    [0, -1]
    """
    code = shots["code"].str.strip()
    if codes is not None and len(codes):
        check = code.isin(codes.loc[codes["role"] == "check", "code"].str.strip()).to_numpy()
        rows = np.full(len(shots), -1, dtype=np.int64)
        rows[check] = mark_of(shots[check], control)
        return rows
    found = mark_of(shots.assign(note=None, code=code).astype({"note": "str"}), control)
    share = (shots.assign(named=found >= 0).groupby(code.fillna(""))["named"]).transform("mean")
    return np.where(share > 0.5, found, -1)
