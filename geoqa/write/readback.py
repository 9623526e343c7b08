"""Compare a file that was opened again with the tables it was made from: shapes, columns, frame, foot.

A file that cannot be opened, or gives back another number, is worse than none: the desk that
loads it would never know. Comparison is with the layers themselves, not with what a writer made
of them, so that a slip in a writer shows.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from geoqa.errors import GeoqaError, OutputError
from geoqa.model.frame import Frame
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.model.tables.columns import PLACED
from geoqa.model.words import many
from geoqa.write.rows import RATIOS_TO_U, plain_columns, plain_items
from geoqa.write.text import visible_column

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import pandas as pd
    from numpy.typing import ArrayLike

    ColumnText = Callable[[pd.Series], pd.Series]

Writer = TypeVar("Writer", bound=Output)
ReadBack = Callable[[Writer, Results, Path], dict[str, Any]]

_FACTOR_AGREES = 1e-9
"""Relative; the two feet differ by 2e-6."""


def opening_again(read_back: ReadBack[Writer]) -> ReadBack[Writer]:
    """Let a `read_back` say that a file cannot be opened in geoqa's words, whatever its library raises."""

    @wraps(read_back)
    def guarded(self: Writer, results: Results, folder: Path) -> dict[str, Any]:
        try:
            return read_back(self, results, folder)
        except GeoqaError:
            raise
        except Exception as error:
            raise OutputError(
                f"What '{self.name}' wrote cannot be opened again ({type(error).__name__}: {error}); do not use it."
            ) from error

    return guarded


def compare_columns(
    file: str,
    expected: pd.DataFrame,
    readback: pd.DataFrame,
    *,
    text: ColumnText = visible_column,
    near: float = 0.0,
) -> int:
    """Compare all columns of a table, row by row.

    Parameters
    ----------
    file : str
        Named in the message.
    expected : (n,) DataFrame
        The layer, in the order the file is in.
    readback : (n,) DataFrame
        What the file gave back.
    text : callable
        What the format does to a column of text.
    near : float
        How far a number may be off, of its size or of one, where the format has fixed decimals.

    Returns
    -------
    int
        Number of values compared.

    Raises
    ------
    OutputError
        Rows or columns are missing, or a value is another.
    """
    import numpy as np

    if len(expected) != len(readback):
        raise OutputError(
            f"{file} gives back {many(len(readback), 'row')} where {len(expected)} were written; do not use it."
        )
    plain, there = plain_columns(expected), set(readback.columns)
    if gone := [name for name in plain if name not in there]:
        raise OutputError(f"{file} gives back no column '{gone[0]}'; it has {', '.join(map(str, readback.columns))}.")
    back = dict(readback.items()) if len(expected) else {}
    for name, wanted in plain_items(expected) if len(expected) else ():
        got = back[name]
        same = _same(wanted, got, text, near)
        if not same.all():
            same |= _none(wanted, got) if name in RATIOS_TO_U else _endless(wanted, readback, f"{name}_text")
        if not same.all():
            row = int(np.flatnonzero(~same)[0])
            raise OutputError(
                f"{file} gives back another {name} in row {row + 1}: {_short(got.iloc[row])} "
                f"where {_short(wanted.iloc[row])} was written "
                f"({many(int((~same).sum()), 'row differs', 'rows differ')})."
            )
    return len(expected) * len(plain)


def compare_shapes(file: str, layer: str, expected: gpd.GeoDataFrame, shapes: ArrayLike) -> int:
    """Compare the shapes of a layer, exactly; points with the layer's own coordinate columns.

    Parameters
    ----------
    file, layer : str
    expected : (n,) GeoDataFrame
    shapes : (n,) array of geometry
        What the file gave back; a point has Z where the row has an elevation, and only there.

    Returns
    -------
    int
        Number of shapes compared.

    Raises
    ------
    OutputError
        A shape is another, is missing, or has a Z it should not have.
    """
    import numpy as np
    import shapely

    shapes = np.asarray(shapes, dtype=object)
    if len(shapes) != len(expected):
        raise OutputError(f"{file} gives back {len(shapes)} shapes where {len(expected)} were written; do not use it.")
    if PLACED.get(layer) == "Point":
        wanted = expected[["easting", "northing", "elevation"]].to_numpy(dtype=float, copy=True)
        wanted[~np.isfinite(wanted[:, :2]).all(axis=1)] = np.nan
        got = np.column_stack([shapely.get_x(shapes), shapely.get_y(shapes), shapely.get_z(shapes)])
        same = (np.where(np.isfinite(wanted), wanted, np.nan) == got) | (~np.isfinite(wanted) & np.isnan(got))
        same = same.all(axis=1)
    else:
        wanted_shapes = np.asarray(expected.geometry.array, dtype=object)
        same = shapely.equals_identical(_comparable(wanted_shapes), _comparable(shapes))
        same |= shapely.is_missing(shapes) & expected.geometry.isna().to_numpy()
    if not same.all():
        row = int(np.flatnonzero(~same)[0])
        raise OutputError(
            f"{file} gives back another place in row {row + 1}: {_short(shapes[row])} where "
            f"{_short(expected.geometry.iloc[row])} was written "
            f"({many(int((~same).sum()), 'row differs', 'rows differ')}); do not use it."
        )
    return len(shapes)


def _comparable(shapes: np.ndarray) -> np.ndarray:
    """Shapes without what formats change freely: collections of one part, and where a ring begins and turns."""
    import numpy as np
    import shapely

    alone = shapely.get_num_geometries(shapes) == 1
    made = shapes.copy()
    made[alone] = shapely.get_geometry(shapes[alone], 0)
    rings = np.isin(shapely.get_type_id(made), (3, 6))
    made[rings] = shapely.normalize(made[rings])
    return made


def compare_frame(file: str, frame: Frame, expected: Any, readback: Any, *, by_name: bool = True) -> None:
    """Compare coordinate systems, and the length of the unit with the job's own foot.

    An older format keeps the parameters of a system and not its name; `by_name` is False there.

    Raises
    ------
    OutputError
        The file names another system, none, or another foot.
    """
    if expected is None and readback is None:
        return
    if readback is None:
        raise OutputError(f"{file} gives back no coordinate system; {frame.horizontal_name} was written.")
    factor = readback.axis_info[0].unit_conversion_factor if readback.axis_info else float("nan")
    if not abs(factor / frame.unit.metres_float - 1.0) < _FACTOR_AGREES:
        raise OutputError(
            f"{file} gives back a unit of {factor!r} m where the {frame.unit.full_name} "
            f"({frame.unit.metres_float!r} m) was written; do not use it."
        )
    same = readback == expected if by_name else _same_projection(readback, expected)
    if not same:
        raise OutputError(
            f"{file} gives back the coordinate system '{readback.name}' where '{expected.name}' was written."
        )


def _same(expected: pd.Series, readback: pd.Series, text: ColumnText, near: float) -> np.ndarray:
    import numpy as np
    import pandas as pd

    held, given = expected.dtype, readback.dtype
    if held == given == np.float64:  # a table has more of these than of all others
        number, other = expected.to_numpy(), readback.to_numpy()
        return (number == other) | (np.isnan(number) & np.isnan(other)) | _near(number, other, near)
    if held == given == np.int64:
        return np.asarray(expected.to_numpy() == readback.to_numpy())
    if str(held) == str(given) == "str" and _all_alike(text(expected), readback):
        return np.ones(len(expected), dtype=bool)
    missing, absent = expected.isna().to_numpy(bool), readback.isna().to_numpy(bool)
    same = missing & absent
    if str(held) == str(given) == "str":
        return same | np.asarray(text(expected).array == readback.array, dtype=bool)
    both = ~missing & ~absent
    if not both.any():
        return same
    wanted, got = expected[both], readback[both]
    if isinstance(expected.dtype, pd.DatetimeTZDtype) or pd.api.types.is_datetime64_dtype(expected.dtype):
        aware = pd.to_datetime(got, utc=True, format="ISO8601" if str(got.dtype) in ("str", "object") else None)
        apart = (pd.to_datetime(wanted, utc=True).to_numpy("datetime64[us]") - aware.to_numpy("datetime64[us]")).astype(
            "int64"
        )
        same[both] = np.abs(apart) < 1000
    elif pd.api.types.is_bool_dtype(expected.dtype):
        same[both] = wanted.astype(bool).to_numpy() == got.astype(bool).to_numpy()
    elif pd.api.types.is_numeric_dtype(expected.dtype):
        number, other = wanted.to_numpy(dtype="float64"), pd.to_numeric(got).to_numpy(dtype="float64")
        same[both] = (number == other) | _near(number, other, near)
    else:
        same[both] = text(wanted).to_numpy(object) == got.to_numpy(object)
    return same


def _all_alike(expected: pd.Series, readback: pd.Series) -> bool:
    """Whether two columns of text are the same to the last cell: asked once, and not row by row."""
    import pyarrow as pa

    wanted, got = (pa.table({"": pa.array(each.array)}) for each in (expected, readback))
    return bool(wanted.equals(got))


def _near(number: np.ndarray, other: np.ndarray, near: float) -> np.ndarray:
    import numpy as np

    if near == 0:
        return np.zeros(len(number), dtype=bool)
    with np.errstate(invalid="ignore"):
        made: np.ndarray = np.abs(number - other) <= near * np.maximum(1.0, np.abs(number))
    return made


def _same_projection(readback: Any, expected: Any) -> bool:
    """Compare method and parameters in one dialect, where names and codes have no say."""

    def parameters(system: Any) -> list[Any]:
        operation = system.coordinate_operation
        return sorted((each.name.lower(), round(each.value, 9)) for each in operation.params) if operation else []

    return readback.equals(expected, ignore_axis_order=True) or (
        parameters(readback) == parameters(expected) != [] and readback.ellipsoid == expected.ellipsoid
    )


def _none(expected: pd.Series, readback: pd.Series) -> np.ndarray:
    """A ratio to an uncertainty of 0 is none on disk."""
    import numpy as np

    return np.isinf(expected.to_numpy(dtype="float64", na_value=np.nan)) & readback.isna().to_numpy(bool)


def _endless(expected: pd.Series, readback: pd.DataFrame, twin: str) -> np.ndarray:
    """Rows whose infinite number is null in the file, with its text beside it."""
    import numpy as np
    import pandas as pd

    none = np.zeros(len(expected), dtype=bool)
    if not pd.api.types.is_float_dtype(expected.dtype) or twin not in readback.columns:
        return none
    values = expected.to_numpy(dtype="float64", na_value=np.nan)
    if not np.isinf(values).any():
        return none
    said = readback[twin].astype(object).where(readback[twin].notna(), "").to_numpy()
    return (
        np.isinf(values) & (said == np.where(values > 0, "inf", "-inf")) & readback[twin.removesuffix("_text")].isna()
    )


def _short(value: object) -> str:
    text = repr(value) if not hasattr(value, "wkt") else value.wkt
    return text if len(text) <= 80 else f"{text[:77]}..."
