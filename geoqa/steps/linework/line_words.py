"""What the crew says of a shot of a line: that the line starts, curves, ends or closes there."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

_BETWEEN = re.compile(r"[\s;,/+]+")
MEANINGS = ("start", "arc", "end", "close")


@dataclass(frozen=True, eq=False)
class LineWords:
    """Which shots bear which word, arrays of shape (n,).

    Attributes
    ----------
    start, arc, end, close : bool
    strange : dict of str to int
        Words that mean none of the four, with how many shots bear them.
    """

    start: np.ndarray
    arc: np.ndarray
    end: np.ndarray
    close: np.ndarray
    strange: dict[str, int]


def line_words(shots: pd.DataFrame, meaning: Mapping[str, Sequence[str]]) -> LineWords:
    """Read the column `line_word` of shots; several words may stand in it, in capitals or not.

    Parameters
    ----------
    shots : DataFrame
    meaning : mapping of str to sequence of str
        Words for start, arc, end and close.

    Examples
    --------
    >>> import pandas as pd
    >>> shots = pd.DataFrame({"line_word": pd.Series(["Start; arc", "arc", None, "PT"], dtype="str")})
    >>> found = line_words(shots, {"start": ["start"], "arc": ["arc"], "end": ["end"], "close": ["close"]})
    >>> found.start.tolist(), found.arc.tolist(), found.strange
    ([True, False, False, False], [True, True, False, False], {'pt': 1})
    """
    known = {word.casefold(): name for name in MEANINGS for word in meaning.get(name, ())}
    bears = {name: np.zeros(len(shots), dtype=bool) for name in MEANINGS}
    strange: dict[str, int] = {}
    if "line_word" not in shots or not shots["line_word"].notna().any():
        return LineWords(**bears, strange=strange)
    which, written = pd.factorize(shots["line_word"])
    for number, text in enumerate(written):
        mine = which == number
        for word in filter(None, _BETWEEN.split(str(text).casefold())):
            if word in known:
                bears[known[word]] |= mine
            else:
                strange[word] = strange.get(word, 0) + int(mine.sum())
    return LineWords(**bears, strange=dict(sorted(strange.items())))
