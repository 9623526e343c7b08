"""Labels of findings without what the page knows anyway: the name of the shot and the subject."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import pandas as pd


AS_SHOT = "\x01"
"""Stands for what the shot of a finding says itself: its name in a label, its kind, its line."""
AS_SUBJECT = "\x02"
"""Stands for the subject in a label."""

_MARKS = f"[{AS_SHOT}{AS_SUBJECT}]"
_ROUNDS = 20
"""Patterns tried on all labels at once; labels of rarer patterns are taken one by one."""


def patterns(
    labels: "pd.Series | Sequence[str | None]",
    names: "pd.Series | Sequence[str | None]",
    subjects: "pd.Series | Sequence[str | None]",
) -> "pd.Series":
    """Put marks in place of the subject and of the shot's name, in labels that hold them.

    Parameters
    ----------
    labels, names, subjects : (n,) array_like of str
        Missing stays missing; a missing name or subject is in no label.

    Returns
    -------
    (n,) Series of str

    Examples
    --------
    >>> patterns(["shot 101", "CTB-L"], ["101", None], ["-", "CTB-L"]).tolist() == [f"shot {AS_SHOT}", AS_SUBJECT]
    True
    """
    import pandas as pd

    columns = (pd.Series(each, dtype="str").reset_index(drop=True) for each in (labels, names, subjects))
    labels, names, subjects = columns
    names, subjects = names.fillna(""), subjects.fillna("")
    made = np.full(len(labels), None, dtype=object)
    left = labels.notna().to_numpy(copy=True)
    # a pattern is tried on whole columns only where no text can be taken for a mark and every part is long enough
    plain = left & (names.str.len() != 1).to_numpy() & (subjects.str.len() > 1).to_numpy()
    for each in (labels, names, subjects):
        plain &= ~each.str.contains(_MARKS, na=False).to_numpy(bool)
    for _ in range(_ROUNDS):
        rows = np.flatnonzero(plain & left)
        if not len(rows):
            break
        pattern = _one(labels[rows[0]], names[rows[0]], subjects[rows[0]])
        hit = rows[_expanded(pattern, names.iloc[rows], subjects.iloc[rows]) == labels.iloc[rows].to_numpy(object)]
        made[hit], left[hit] = pattern, False
    for row in np.flatnonzero(left).tolist():
        made[row] = _one(labels[row], names[row], subjects[row])
    return pd.Series(made, dtype="str")


def _one(label: str, name: str, subject: str) -> str:
    return _replaced(_replaced(label, subject, AS_SUBJECT), name, AS_SHOT)


def _replaced(label: str, part: str, mark: str) -> str:
    return label.replace(part, mark, 1) if len(part) > 1 else label


def _expanded(pattern: str, names: "pd.Series", subjects: "pd.Series") -> np.ndarray:
    """What the page makes of a pattern, row by row of the columns."""
    import pandas as pd

    made = pd.Series("", index=names.index, dtype="str")
    for number, part in enumerate(pattern.split(AS_SUBJECT)):
        made = made + subjects if number else made
        for place, text in enumerate(part.split(AS_SHOT)):
            made = (made + names if place else made) + text
    return made.to_numpy(object)
