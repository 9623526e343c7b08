"""Numbers of delimited text: no more digits than mean something. GeoPackage, GeoParquet and GeoJSON keep every bit."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

DECIMALS = 6
"""A millionth of a foot, of a metre or of one."""

EXACT = ("factor", "scale", "ppm")
"""Words of columns that hold combined factors, which need every digit of a part per billion."""
_FINER = 10
_SMALL, _SIGNIFICANT = 1e-3, 4
"""Below the first, as many digits are kept as the second says, so that small probabilities stay what they are."""


def tidy(table: pd.DataFrame) -> pd.DataFrame:
    """A table with its numbers at six decimals: far below what is measured, and none of them ends in noise.

    Parameters
    ----------
    table : DataFrame

    Returns
    -------
    DataFrame
        Missing and infinite numbers stay what they are; there is no negative zero.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame({"mean": [-0.013999999733641744, -0.0], "p": [2.7750595e-18, 0.5], "shots": [2, 1]})
    >>> tidy(rows)["mean"].tolist(), tidy(rows)["p"].tolist()
    ([-0.014, 0.0], [2.775e-18, 0.5])
    """
    import numpy as np
    import pandas as pd

    made = {}
    for column, values in table.items():
        if pd.api.types.is_float_dtype(values.dtype):
            digits = _FINER if any(word in str(column) for word in EXACT) else DECIMALS
            made[str(column)] = _rounded(values.to_numpy("float64", na_value=np.nan), digits)
    return table.assign(**made) if made else table


def _rounded(numbers: np.ndarray, digits: int) -> np.ndarray:
    import numpy as np

    made: np.ndarray = np.round(numbers, digits) + 0.0
    for row in np.flatnonzero((np.abs(numbers) < _SMALL) & (numbers != made)):
        made[row] = float(f"{numbers[row]:.{_SIGNIFICANT}g}")
    return made
