"""Columns of a field log, as the tables of shots hold them: numbers, lengths, times and texts."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.errors import GeometryInputError, LayerError, QuantityError
from geoqa.kernels.arrays import Floats
from geoqa.library.design_tables import column, filled, texts_of
from geoqa.library.lengths import distance_in
from geoqa.library.numbers import column_of
from geoqa.model.quantity import Length, LengthUnit, length_unit
from geoqa.model.words import many


def numbers_in(table: Any, name: str | None, *, what: str, option: str) -> Floats:
    """Numbers of a column, (n,); NaN everywhere where none is asked for.

    Raises
    ------
    LayerError
        There is no such column, or it is not of numbers.

    Examples
    --------
    >>> numbers_in(pd.DataFrame({"lean": ["3.0"]}), "lean", what="shots", option="tilt")
    Traceback (most recent call last):
    ...
    geoqa.errors.LayerError: shots: 'lean' for tilt is of dtype str and not of numbers; turn it into numbers with \
pandas.to_numeric(column, errors='coerce'), and look at what became missing.
    """
    values = column(table, name, what=what, option=option)
    if values is None:
        return np.full(len(table), np.nan)
    return column_of(values, name=f"{what}: '{name}' for {option}")[0]


def azimuths_in(table: Any, name: str | None, *, what: str) -> Floats:
    """Azimuths of the lean in degrees, (n,); NaN everywhere where none is asked for.

    Raises
    ------
    GeometryInputError
        One is beyond a turn, as azimuths in gon are.

    Examples
    --------
    >>> azimuths_in(pd.DataFrame({"toward": [100.0, 399.0]}), "toward", what="shots")
    Traceback (most recent call last):
    ...
    geoqa.errors.GeometryInputError: shots: 'toward' holds 399 (row 1), 1 such row; azimuths are degrees, -360 to 360. \
Multiply the column by 0.9 if it holds gon, else make these rows missing.
    """
    values = numbers_in(table, name, what=what, option="azimuth")
    if (wrong := np.abs(values) > 360.0).any():
        row = int(np.argmax(wrong))
        label = repr(table.index[[row]].tolist()[0])
        raise GeometryInputError(
            f"{what}: '{name}' holds {values[row]:g} (row {label}), {many(int(wrong.sum()), 'such row')}; azimuths are "
            "degrees, -360 to 360. Multiply the column by 0.9 if it holds gon, else make these rows missing."
        )
    return values


def lengths_in(
    table: Any, value: str | Length | None, *, what: str, option: str, unit: LengthUnit, given: str | None
) -> Floats:
    """A length for every row, (n,): one for all with its unit, or a column of numbers in a stated unit.

    Parameters
    ----------
    table : DataFrame
    value : str, Length or None
        Name of a column, or a length such as ``"2 m"``; None is missing in every row.
    unit : LengthUnit
        In which they are wanted.
    given : str or None
        Unit of the column.

    Raises
    ------
    LayerError
        The column is not of numbers.
    QuantityError
        The column is given without a unit; or a text that is neither a column nor a length.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> log = pd.DataFrame({"pole": [2.0, None]})
    >>> lengths_in(log, "pole", what="shots", option="rod", unit=FOOT, given="m").round(3).tolist()
    [6.562, nan]
    """
    if value is None:
        return np.full(len(table), np.nan)
    if not isinstance(value, str) or value not in getattr(table, "columns", ()):
        return np.full(len(table), _one_length(table, value, what=what, option=option, unit=unit))
    numbers = numbers_in(table, value, what=what, option=option)
    if given is None:
        raise QuantityError(
            f"{what}: '{value}' for {option} holds numbers without a unit; state unit= (m, ft, ftUS, in, cm, mm)."
        )
    stated = length_unit(given)
    return numbers if stated == unit else numbers * float(stated.metres / unit.metres)


def _one_length(table: Any, value: Any, *, what: str, option: str, unit: LengthUnit) -> float:
    """A length that stands for every row."""
    try:
        if isinstance(value, str):
            Length.parse(value)
    except QuantityError:
        known = ", ".join(map(str, getattr(table, "columns", ()))) or "none"
        raise QuantityError(
            f"{option} is '{value}', neither a column of {what} ({known}) nor a length; write a length with its unit, "
            'for example "2 m".'
        ) from None
    return distance_in(value, unit, name=option)


def times_in(table: Any, name: str | None, *, what: str, option: str = "time") -> pd.Series:
    """Times of a column, in UTC; missing everywhere where none is asked for.

    Raises
    ------
    LayerError
        There is no such column, or its times are of no datetime dtype.

    Examples
    --------
    >>> times_in(pd.DataFrame({"at": ["8:00"]}), "at", what="shots")
    Traceback (most recent call last):
    ...
    geoqa.errors.LayerError: shots: times in 'at' are of dtype str; turn them into times with pandas.to_datetime.
    """
    times = column(table, name, what=what, option=option)
    if times is None:
        return pd.Series(pd.NaT, index=range(len(table)), dtype="datetime64[us, UTC]")
    if not pd.api.types.is_datetime64_any_dtype(times.dtype):
        raise LayerError(
            f"{what}: times in '{name}' are of dtype {times.dtype}; turn them into times with pandas.to_datetime."
        )
    aware = times.dt.tz_localize("UTC") if times.dt.tz is None else times.dt.tz_convert("UTC")
    return aware.astype("datetime64[us, UTC]")


def texts_in(table: Any, name: str | None, *, what: str, option: str) -> pd.Series:
    """Labels of a column as texts; missing everywhere where none is asked for.

    Examples
    --------
    >>> texts_in(pd.DataFrame({"day": [1, 2]}), "day", what="shots", option="session").tolist()
    ['1', '2']
    """
    values = column(table, name, what=what, option=option)
    return filled(len(table), None) if values is None else texts_of(values)
