"""Numbers of lists for people, at the resolution that is printed everywhere: no cell of 17 digits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from geoqa.model import words
from geoqa.model.tables.columns import TABLES

if TYPE_CHECKING:
    import pandas as pd

OTHER = 6
"""Decimals of numbers that are no length and no judged quantity."""
_FINE = {"ppm": 3, "p_conform": 4, "excess": 2}
_JUDGED = frozenset({"design", "measured", "deviation", "lower", "upper", "u", "u_common", "u_random"})
_QUANTITIES = {"deg": "angle", "s": "time", "slope": "slope", "ratio": "ratio", "count": "count"}
_NINE = ("factor", "scale")
"""Words of columns that hold combined factors, which need every digit of a part per billion."""


def rounded(name: str, table: pd.DataFrame, unit: str) -> pd.DataFrame:
    """A table with each number rounded once: lengths to 0.001 ft or m, others by their quantity.

    Parameters
    ----------
    name : str
        Of the layer that the columns are called as in.
    table : DataFrame
    unit : str
        Of the job.

    Returns
    -------
    DataFrame

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame({"deviation": [-0.1499997], "u": [0.02828427], "quantity": ["length"]})
    >>> rounded("findings", rows, "ftUS")[["deviation", "u"]].iloc[0].tolist()
    [-0.15, 0.028]
    """
    import numpy as np
    import pandas as pd

    units = {each.name: each.unit for each in TABLES.get(name, ())}
    judged = _of_quantity(table, unit)
    made = {}
    for column in table.columns:
        if not pd.api.types.is_float_dtype(table[column].dtype):
            continue
        numbers = table[column].to_numpy("float64", na_value=np.nan).tolist()
        digits = judged if column in _JUDGED else [_digits(column, units.get(column, ""), unit)] * len(table)
        rounds = [round(number, places) + 0.0 for number, places in zip(numbers, digits, strict=True)]
        made[column] = pd.Series(rounds, index=table.index, dtype="float64")
    return table.assign(**made)


def _of_quantity(table: pd.DataFrame, unit: str) -> list[int]:
    """Decimals of the judged numbers of each row: by its quantity, or by the unit that stands beside them."""
    if "quantity" in table:
        kinds = table["quantity"].tolist()
    else:
        kinds = table["unit"].map(_QUANTITIES).tolist() if "unit" in table else ["length"] * len(table)
    return [words.decimals(kind if isinstance(kind, str) else "length", unit) for kind in kinds]


def _digits(column: str, own: str, unit: str) -> int:
    """Decimals of a column by its name, and by the unit its layer declares for it."""
    if any(word in column for word in _NINE):
        return 9
    length = own == "job" or column.endswith(("easting", "northing", "elevation")) or column in ("u_h", "u_v")
    return _FINE.get(column, words.decimals("length", unit) if length else OTHER)
