"""What a reader saw of an item: a hash of its findings as they are printed, and one of the rows they were made of."""

import hashlib
from collections.abc import Iterable
from functools import lru_cache
from typing import TYPE_CHECKING

from geoqa.model import words

if TYPE_CHECKING:
    import pandas as pd

LENGTH = 16
"""Characters of either hash."""
TEXTS = ("check", "kind", "subject", "label", "verdict", "why")
ROW = ("shot", "raw_easting", "raw_northing", "raw_elevation", "code", "line_id", "rod_height", "time")
"""Columns of a shot by which it is the same measurement, whatever its file is called."""


def seen(findings: "pd.DataFrame", unit: str) -> str:
    """Hash of what is judged: each finding with its verdict, its number as it is printed, and its limits.

    Parameters
    ----------
    findings : DataFrame
        Those of one item, in any order: `check`, `kind`, `subject`, `label`, `verdict`, `why`, `quantity`,
        `deviation`, `lower`, `upper`.
    unit : str
        Name of the job's unit.

    Returns
    -------
    str
        The same for the same findings; another as soon as one is more or fewer, or is judged or measured otherwise. The
        last bits of a number, which another processor may give, do not count, and neither does the name of a file.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"check": "offset", "kind": "curb", "subject": "L", "label": "shot 7", "verdict": "OUT", "why": "proven",
    ...        "quantity": "length", "lower": -0.08, "upper": 0.08}
    >>> rows = [pd.DataFrame([row | {"deviation": each}]) for each in (0.2184, 0.21841, 0.2284)]
    >>> one, same, other = (seen(each, "ft") for each in rows)
    >>> one == same, one == other, len(one)
    (True, False, 16)
    """
    return hashed(judgements(findings, unit))


def judgements(findings: "pd.DataFrame", unit: str) -> list[str]:
    """Each finding as it is printed, in one text; what `seen` is made of.

    Examples
    --------
    >>> import pandas as pd
    >>> row = {"check": "offset", "kind": "curb", "subject": "L", "label": "shot 7", "verdict": "OUT", "why": "proven",
    ...        "quantity": "length", "deviation": 0.2184, "lower": -0.08, "upper": 0.08}
    >>> "0.218 ft" in judgements(pd.DataFrame([row]), "ft")[0]
    True
    """
    texts = zip(*(_plain(findings[name]) for name in TEXTS), strict=True)
    values = (findings[name].to_numpy(float).tolist() for name in ("deviation", "lower", "upper"))
    numbers = zip(_plain(findings["quantity"]), *values, strict=True)
    return [
        "\x1f".join([*said, *(_number(each, quantity, unit) for each in values)])
        for said, (quantity, *values) in zip(texts, numbers, strict=True)
    ]


def measurements(shots: "pd.DataFrame") -> list[str]:
    """Each shot as the measurement it is, in one text.

    Examples
    --------
    >>> import pandas as pd
    >>> table = pd.DataFrame({"shot": ["101"], "code": ["CTB"], "rod_height": [6.562], "source": ["day1"]})
    >>> measurements(table) == measurements(table.assign(source="day1_again"))
    True
    """
    parts = [_moments(shots[name]) if name == "time" else _plain(shots[name].astype("str")) for name in ROW
             if name in shots]  # fmt: skip
    return ["\x1f".join(row) for row in zip(*parts, strict=True)]


def _moments(column: "pd.Series") -> list[str]:
    """Times as they are printed with their zone; whole seconds of UTC all at once, which takes a tenth of the time."""
    import numpy as np

    zone = getattr(column.dt, "tz", None) if hasattr(column, "dt") else None
    if str(zone) != "UTC":
        return _plain(column.astype("str"))
    moments = column.dt.tz_localize(None).to_numpy()
    seconds = moments.astype("datetime64[s]")
    if not (np.isnat(moments) | (seconds == moments)).all():
        return _plain(column.astype("str"))
    texts = np.datetime_as_string(seconds).tolist()
    return ["" if text == "NaT" else f"{text[:10]} {text[11:]}+00:00" for text in texts]


def _plain(column: "pd.Series") -> list[str]:
    """A column of text, missing values empty; of a column itself each value would be fetched by itself."""
    values: list[str] = column.fillna("").astype("str").to_numpy(dtype=object).tolist()
    return values


@lru_cache(maxsize=4096)
def _number(value: float, quantity: str, unit: str) -> str:
    return words.quantity(value, quantity, unit) if value == value and abs(value) < float("inf") else str(value)


def hashed(texts: Iterable[str]) -> str:
    """Hash of texts, whatever their order.

    Examples
    --------
    >>> hashed(["a", "b"]) == hashed(["b", "a"]), hashed(["a"]) == hashed(["b"]), len(hashed([]))
    (True, False, 16)
    """
    return hashlib.sha256("\n".join(sorted(texts)).encode("utf-8", "replace")).hexdigest()[:LENGTH]
