"""Columns of numbers as arguments: a number, an array, or a Series on the index of the values."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.errors import LayerError, QuantityError
from geoqa.kernels.arrays import Floats
from geoqa.library.lengths import length_in
from geoqa.model.quantity import Length, LengthUnit, length_unit
from geoqa.model.words import many


def column_of(values: Any, *, name: str) -> tuple[Floats, pd.Index]:
    """Numbers, (n,), and the index they stand on; missing is NaN.

    Raises
    ------
    LayerError
        Text, mixed objects or truths in place of numbers; or an array of more dimensions.

    Examples
    --------
    >>> column_of(pd.Series([1, None], index=["a", "b"], dtype="Int64"), name="values")
    (array([ 1., nan]), Index(['a', 'b'], dtype='str'))
    """
    if isinstance(values, pd.DataFrame):
        raise LayerError(f"{name} is a table; give one of its columns ({', '.join(map(str, values.columns))}).")
    column = values if isinstance(values, pd.Series) else _series(values, name)
    if len(column) and (not pd.api.types.is_numeric_dtype(column.dtype) or pd.api.types.is_bool_dtype(column.dtype)):
        if not column.isna().all():
            raise LayerError(
                f"{name} is of dtype {column.dtype} and not of numbers; turn it into numbers with "
                "pandas.to_numeric(column, errors='coerce'), and look at what became missing."
            )
        column = column.astype("float64")
    return column.to_numpy(dtype=np.float64, na_value=np.nan), column.index


def _series(values: Any, name: str) -> pd.Series:
    array = np.atleast_1d(np.asarray(values))
    if array.ndim > 1:
        raise LayerError(f"{name} have shape {array.shape}; give one column.")
    return pd.Series(array.tolist() if array.dtype == object else array)  # a list with None in it may be numbers


def beside(value: Any, index: pd.Index, *, name: str, unit: str | None, none: float = np.nan) -> Floats:
    """Numbers for every row of an index: one for all, an array of as many, or a Series on that index.

    Parameters
    ----------
    value : float, str, Length, array, Series or None
        A text or Length carries its unit, and needs `unit` to be put in.
    index : Index
    name : str
        Of the argument, for messages.
    unit : str or None
        Unit of the values.
    none : float
        What None stands for.

    Raises
    ------
    LayerError
        Another index, another number of rows, or what is not numbers.
    QuantityError
        A length where the unit of the values is not stated.

    Examples
    --------
    >>> beside("1/4 in", pd.RangeIndex(2), name="upper", unit="in").tolist()
    [0.25, 0.25]
    """
    if value is None:
        return np.full(len(index), none)
    if isinstance(value, str | Length):
        return np.full(len(index), _length(value, name, unit))
    numbers, own = column_of(value, name=name)
    if isinstance(value, pd.Series):
        if not own.equals(index):
            raise LayerError(
                f"{name} stands on another index than the values; bring it there with {name}.reindex(values.index), "
                "or give its array."
            )
        return numbers
    if np.ndim(value) and len(numbers) != len(index):
        raise LayerError(
            f"{name} has {many(len(numbers), 'row')} beside {len(index)} values; give one number, or one a row."
        )
    return np.broadcast_to(numbers, len(index))


def uncertainties(value: Any, index: pd.Index, *, name: str, unit: LengthUnit, given: str | None) -> Floats:
    """Standard uncertainties for every row of an index: a length with its unit, or numbers in a stated unit.

    Parameters
    ----------
    value : str, Length, or float, array or Series beside `given`
    index : Index
    name : str
        Of the argument, for messages.
    unit : LengthUnit
        In which they are wanted.
    given : str or None
        Unit of numbers.

    Raises
    ------
    LayerError
        As in `beside`.
    QuantityError
        Numbers without a unit, or one below 0.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> uncertainties([0.3048, None], pd.RangeIndex(2), name="u_h", unit=FOOT, given="m").tolist()
    [1.0, nan]
    """
    if isinstance(value, str | Length):
        numbers = beside(value, index, name=name, unit=unit.name)
    elif given is None:
        raise QuantityError(
            f'{name} holds numbers without a unit; state unit= (m, ft, ftUS, in, cm, mm), or write it as "0.02 ft".'
        )
    else:
        numbers = beside(value, index, name=name, unit=unit.name) * float(length_unit(given).metres / unit.metres)
    return sizes(numbers, name=name)


def sizes(numbers: Floats, *, name: str) -> Floats:
    """Refuse uncertainties that are negative.

    Raises
    ------
    QuantityError

    Examples
    --------
    >>> sizes(np.array([-0.1]), name="u")
    Traceback (most recent call last):
    ...
    geoqa.errors.QuantityError: u holds -0.1, and an uncertainty is not negative; give its size.
    """
    if (negative := numbers < 0).any():
        first = float(numbers[int(np.argmax(negative))])
        raise QuantityError(f"{name} holds {first!r}, and an uncertainty is not negative; give its size.")
    return numbers


def _length(value: str | Length, name: str, unit: str | None) -> float:
    if unit is None:
        raise QuantityError(
            f"{name} is a length ({value}), and the unit of the values is not stated; say unit= (m, ft, ftUS, in, cm, "
            "mm)."
        )
    return length_in(value, length_unit(unit), name=name)
