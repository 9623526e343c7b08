"""Keys of shots that do not depend on the order of rows in a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

_ORDER = ("time", "easting", "northing", "elevation", "code", "note")


def shot_keys(shots: pd.DataFrame, source: str) -> pd.Series:
    """Give each shot its key, ``source/name``.

    Shots of one name, and all shots without one (named ``-``), are numbered ``~2``, ``~3`` … by time,
    easting and northing; the row order decides only between rows that agree in everything. A ``~`` in
    a name is doubled, so that a key never belongs to two shots.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame({"shot": ["7", "7", None], "easting": [2.0, 1.0, 0.0], "northing": [0.0, 0.0, 0.0]})
    >>> shot_keys(rows, "day1").tolist()
    ['day1/7~2', 'day1/7', 'day1/-']
    """
    if "shot" in shots.columns:
        name = shots["shot"].fillna("-").str.replace("~", "~~", regex=False)
    else:
        import pandas as pd

        name = pd.Series("-", index=shots.index, dtype="str")
    keys = source + "/" + name
    again = name.duplicated(keep=False)
    if not again.any():
        return keys.astype("str")
    order = [each for each in _ORDER if each in shots.columns]
    some = shots.loc[again, order].assign(name=name[again])
    some = some.sort_values(["name", *order], kind="stable", na_position="last")
    nth = some.groupby("name", sort=False).cumcount().add(1).reindex(name.index[again])
    later = nth[nth > 1]
    keys.loc[later.index] = keys.loc[later.index] + "~" + later.astype("int64").astype("str")
    return keys.astype("str")
