"""A table as rows that sentences are made of."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd


def in_rows(table: "pd.DataFrame") -> list[dict[Any, Any]]:
    """Rows of a table as plain values by the name of their column.

    As ``to_dict("records")`` gives them, in a fraction of its time: whole columns are taken apart, not cell by cell.

    Parameters
    ----------
    table : (n,) DataFrame
        No two columns of one name.

    Returns
    -------
    list of dict
        n rows; shapes are values too.

    Examples
    --------
    >>> import pandas as pd
    >>> in_rows(pd.DataFrame({"shot": pd.Series(["a", None], dtype="str"), "u": [0.5, 1.5]}))
    [{'shot': 'a', 'u': 0.5}, {'shot': nan, 'u': 1.5}]
    """
    import pandas as pd

    columns = [_values(column) for _, column in pd.DataFrame(table).items()]
    names = list(table.columns)
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def _values(column: "pd.Series") -> list[Any]:
    """Plain values of a column; text by way of objects, which is many times as fast as one by one."""
    import numpy as np

    values: list[Any]
    if str(column.dtype) == "str":
        values = column.to_numpy(dtype=object).tolist()
        return values
    values = column.tolist()
    known = isinstance(column.dtype, np.dtype) and column.dtype != object
    return values if known else [_plain(value) for value in values]


def _plain(value: Any) -> Any:
    """What pandas holds as missing where whole numbers or yes and no may be missing is None."""
    import numpy as np
    import pandas as pd

    if isinstance(value, np.generic):
        return value.item()
    return None if value is pd.NA else value
