"""What a column is, and the short way to write several."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Column:
    """One column of one table."""

    name: str
    dtype: str
    unit: str
    meaning: str
    null: str
    made_by: str = ""


def columns(*rows: tuple[str, ...]) -> tuple[Column, ...]:
    """Columns of rows (names, dtype, unit, meaning, null policy and, where it is not a reader, the maker).

    Examples
    --------
    >>> [each.name for each in columns(("low high", "float64", "job", "ends of the band", "yes"))]
    ['low', 'high']
    """
    return tuple(Column(name, *rest) for names, *rest in rows for name in names.split())


def held_as(dtype: str) -> Any:
    """The type that pandas holds a new column of this dtype in; of text, as is asked for while a job is judged."""
    import pandas as pd

    return _held_as(dtype, pd.get_option("mode.string_storage") if dtype == "str" else "")


@cache
def _held_as(dtype: str, storage: str) -> Any:
    import pandas as pd

    return pd.api.types.pandas_dtype(dtype)


def compared_as(dtype: str) -> Any:
    """What the type of a column is compared with: text is text, however it is held."""
    return dtype if dtype == "str" else _held_as(dtype, "")


def bare(column: Any) -> Any:
    """What a table is made of in the least time: the array of a column on the table's own index.

    A Series is held against that index once more, which costs as much as all the rest. Objects stay a Series: of a bare
    array the kind would be guessed.

    Examples
    --------
    >>> import pandas as pd
    >>> len(bare(pd.Series([1.5]))), type(bare(pd.Series([1.5, "a"], dtype=object))).__name__
    (1, 'Series')
    """
    return column if str(getattr(column, "dtype", "object")) == "object" else getattr(column, "array", column)


@cache
def _one_missing(held: Any) -> Any:
    import pandas as pd

    return pd.array([None], dtype=held)


def nothing(dtype: str, count: int) -> Any:
    """A column of a table in which every value is missing, as an array of `count`.

    Examples
    --------
    >>> nothing("str", 2).tolist(), nothing("Int64", 1).tolist()
    ([nan, nan], [<NA>])
    """
    return _one_missing(held_as(dtype)).repeat(count)


def blank(columns: tuple[Column, ...]) -> "pd.DataFrame":
    """An empty table with these columns, made once: steps ask for empty tables by the hundred. Copy it."""
    return _blank(columns, held_as("str"))


@cache
def _blank(columns: tuple[Column, ...], text: Any) -> "pd.DataFrame":
    import pandas as pd

    made: Any = {each.name: pd.array([], dtype=held_as(each.dtype)) for each in columns}
    return pd.DataFrame(made)


def conforms(held: Mapping[str, Any], known: tuple[Column, ...]) -> bool:
    """Whether the columns a table begins with are those that are known, in their order and dtype.

    Parameters
    ----------
    held : mapping of str to dtype
        Columns of the table.
    known : tuple of Column

    Examples
    --------
    >>> known = columns(("low high", "float64", "job", "ends of the band", "yes"))
    >>> conforms({each.name: held_as("float64") for each in known}, known), conforms({}, known)
    (True, False)
    """
    first = [*held.items()][: len(known)]
    return first == [(each.name, compared_as(each.dtype)) for each in known]
