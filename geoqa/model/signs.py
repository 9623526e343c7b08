"""One table of symbol, colour and text per verdict, for map, report, drawing and terminal."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class Sign:
    """How a verdict looks: never by colour alone."""

    verdict: str
    text: str
    short: str
    colour: str
    shape: str
    mark: str
    order: int = 0


_WORST_FIRST = (
    Sign("OUT", "out of tolerance", "out", "#B3261E", "triangle", "▲"),
    Sign("UNDECIDED", "cannot be decided with this measurement", "undecided", "#C27400", "diamond", "◆"),
    Sign("NO_DATA", "not judged", "not judged", "#6B7280", "cross", "×"),
    Sign("IN", "within tolerance", "in", "#0072B2", "circle", "●"),
)
SIGNS = {sign.verdict: replace(sign, order=place) for place, sign in enumerate(_WORST_FIRST)}
"""Worst first, and the only place where that order stands. Blue, orange, dark red and grey stay apart for readers who
do not tell red from green."""


def ranks(verdicts: Any) -> "np.ndarray":
    """Place of each verdict among `SIGNS`, 0 the worst.

    Parameters
    ----------
    verdicts : (n,) Series of str

    Returns
    -------
    (n,) int64 array

    Examples
    --------
    >>> import pandas as pd
    >>> ranks(pd.Series(["IN", "OUT", "IN"], dtype="str")).tolist()
    [3, 0, 3]
    """
    import numpy as np
    import pandas as pd

    code, different = pd.factorize(verdicts)
    return np.array([SIGNS[each].order for each in different], dtype=np.int64)[code]
