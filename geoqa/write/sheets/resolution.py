"""Numbers of lists for people at the resolution that is printed everywhere: no cell of 17 digits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from geoqa.model import words
from geoqa.model.shown import deserved
from geoqa.model.tables.columns import TABLES

if TYPE_CHECKING:
    import pandas as pd

OTHER = 6
"""Decimals of numbers that are no length and no judged quantity."""
_FINE = {"ppm": 3, "p_conform": 4, "excess": 2}
_JUDGED = frozenset({"design", "measured", "lower", "upper", "u", "u_common", "u_random"})
_DESERVED = {
    "deviation": ("u", ("lower", "upper")),
    "offset": ("u", ("lower", "upper")),
    "residual_easting": ("u", ()),
    "residual_northing": ("u", ()),
    "residual_elevation": ("u", ()),
    "length": ("", ()),
}
"""Lengths that are shown as their uncertainty deserves: the column that holds it, and those of the limits."""
_QUANTITIES = {"deg": "angle", "s": "time", "slope": "slope", "ratio": "ratio", "count": "count"}
_NINE = ("factor", "scale")
"""Words of columns that hold combined factors, which need every digit of a part per billion."""


def rounded(name: str, table: pd.DataFrame, unit: str) -> pd.DataFrame:
    """A table with each number rounded once, for people: what was judged as `geoqa.model.shown` says, others in full.

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
    >>> rows = pd.DataFrame({"deviation": [-0.1533, -0.1499997], "u": [0.02828427, 0.004], "quantity": "length"})
    >>> rounded("findings", rows, "ftUS")[["deviation", "u"]].to_numpy().tolist()
    [[-0.15, 0.028], [-0.15, 0.004]]
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
        if column in _DESERVED:
            made[column] = pd.Series(_as_deserved(table, column, numbers, unit), index=table.index, dtype="float64")
            continue
        if name == "quantities" and column == "value":
            rounds = [round(number, _by_u(u)) + 0.0 for number, u in zip(numbers, table["u"].tolist(), strict=True)]
            made[column] = pd.Series(rounds, index=table.index, dtype="float64")
            continue
        digits = judged if column in _JUDGED else [_digits(column, units.get(column, ""), unit)] * len(table)
        rounds = [round(number, places) + 0.0 for number, places in zip(numbers, digits, strict=True)]
        made[column] = pd.Series(rounds, index=table.index, dtype="float64")
    return table.assign(**made)


def _by_u(u: float) -> int:
    """Decimals of lengths, areas and volumes: two figures of the uncertainty, and no less than whole units.

    Examples
    --------
    >>> _by_u(0.0255), _by_u(15.0), _by_u(0.0)
    (3, 0, 3)
    """
    return min(OTHER, max(0, 1 - math.floor(math.log10(u)))) if u > 0 and math.isfinite(u) else 3


def _as_deserved(table: pd.DataFrame, column: str, numbers: list[float], unit: str) -> list[float]:
    """Lengths as `deserved`; another quantity in the same column as its kind is printed."""
    import numpy as np

    of_u, of_limits = _DESERVED[column]

    def beside(name: str) -> list[float]:
        held = table[name].to_numpy("float64", na_value=np.nan) if name in table else np.full(len(table), np.nan)
        return held.tolist()

    rows = zip(numbers, _of_quantity(table, unit), beside(of_u), *map(beside, of_limits), strict=True)
    full = words.decimals("length", unit)
    return [
        deserved(number, unit, u=u, bounds=bounds)[0] if digits == full else round(number, digits) + 0.0
        for number, digits, u, *bounds in rows
    ]


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
