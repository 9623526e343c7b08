"""Tables that grow on disk, column by column, and are mapped into memory: what nobody looks at takes none.

A column of numbers is a file of just these numbers, one of text a file of bytes and one of where each text ends. The
system reads what is looked at, and may drop it again where memory is short. A table made of such columns is like any
other to a step, to the last bit; only points are left out, which no step of the default ones looks at.
"""

import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pandas as pd


class Numbers:
    """Numbers of one kind in a file that grows.

    Parameters
    ----------
    path : Path
    dtype : str or dtype
    """

    def __init__(self, path: Path, dtype: Any) -> None:
        self._path, self._dtype, self._count = path, np.dtype(dtype), 0
        path.write_bytes(b"")

    def append(self, values: np.ndarray) -> None:
        """Add numbers to the end of the file."""
        with self._path.open("ab") as file:
            file.write(np.ascontiguousarray(values, self._dtype).view(np.uint8).data)
        self._count += len(values)

    def mapped(self) -> np.ndarray:
        """All of them, as they lie in the file."""
        if not self._count:
            return np.zeros(0, self._dtype)
        return np.asarray(np.memmap(self._path, self._dtype, "r", shape=(self._count,)))


class Values:
    """A column that numpy or pandas holds as numbers, with or without a mask of what is missing.

    Parameters
    ----------
    path : Path
    dtype : dtype
    """

    def __init__(self, path: Path, dtype: Any) -> None:
        import pandas as pd

        self._dtype = dtype
        self._zone = isinstance(dtype, pd.DatetimeTZDtype)
        self._masked = hasattr(dtype, "numpy_dtype") and not isinstance(dtype, np.dtype)
        bare = f"M8[{dtype.unit}]" if self._zone else dtype.numpy_dtype if self._masked else dtype
        self._values = Numbers(path, bare)
        self._missing = Numbers(path.with_suffix(".missing"), bool) if self._masked else None

    def append(self, column: "pd.Series") -> None:
        """Add rows of a column of the same type."""
        array: Any = column.array
        if self._missing is not None:
            self._missing.append(array.isna())
            self._values.append(array._data)
        else:
            self._values.append(array.tz_convert(None).to_numpy() if self._zone else column.to_numpy())

    def column(self) -> Any:
        """The whole column."""
        import pandas as pd

        values = self._values.mapped()
        if self._zone:
            return pd.Series(values, copy=False).dt.tz_localize("UTC").dt.tz_convert(self._dtype.tz).astype(self._dtype)
        if self._missing is None:
            return pd.Series(values, copy=False)
        kind = pd.arrays.BooleanArray if self._dtype.kind == "b" else _masked(self._dtype)
        return pd.Series(kind(values, self._missing.mapped(), copy=False), copy=False)


class Texts:
    """A column of text: bytes, and where each text ends.

    Parameters
    ----------
    path : Path
    """

    def __init__(self, path: Path, dtype: Any) -> None:
        self._dtype = dtype
        self._bytes = Numbers(path, np.uint8)
        self._ends = Numbers(path.with_suffix(".ends"), np.int64)
        self._ends.append(np.zeros(1, np.int64))
        self._missing = Numbers(path.with_suffix(".missing"), bool)
        self._end, self._count = 0, 0

    def append(self, column: "pd.Series") -> None:
        """Add rows of a column of text."""
        import pyarrow as pa

        array = pa.array(column.array, pa.large_string())
        for chunk in array.chunks if isinstance(array, pa.ChunkedArray) else [array]:
            if not len(chunk):
                continue
            _, ends, data = chunk.buffers()
            ends = np.frombuffer(ends, np.int64)[chunk.offset : chunk.offset + len(chunk) + 1]
            if data is not None:
                self._bytes.append(np.frombuffer(data, np.uint8)[ends[0] : ends[-1]])
            self._ends.append(ends[1:] - ends[0] + self._end)
            self._missing.append(chunk.is_null().to_numpy(zero_copy_only=False))
            self._end += int(ends[-1] - ends[0])
            self._count += len(chunk)

    def column(self) -> Any:
        """The whole column."""
        import pandas as pd
        import pyarrow as pa

        missing = self._missing.mapped()
        there = pa.py_buffer(np.packbits(~missing, bitorder="little")) if missing.any() else None
        ends, data = self._ends.mapped(), self._bytes.mapped()
        whole = pa.LargeStringArray.from_buffers(self._count, pa.py_buffer(ends), pa.py_buffer(data), there)
        kind: Any = pd.arrays.ArrowStringArray
        return pd.Series(kind(pa.chunked_array([whole]), dtype=self._dtype), copy=False)


def _masked(dtype: Any) -> Any:
    return dtype.construct_array_type()


def _column(path: Path, dtype: Any) -> Values | Texts | None:
    """A column of such a type; None where it cannot lie in files."""
    import pandas as pd

    if isinstance(dtype, pd.StringDtype):
        return Texts(path, dtype) if dtype.storage == "pyarrow" else None
    if isinstance(dtype, pd.DatetimeTZDtype) or (isinstance(dtype, np.dtype) and dtype.kind in "biufmM"):
        return Values(path, dtype)
    if isinstance(dtype, pd.api.extensions.ExtensionDtype) and dtype.name in _MASKED:
        return Values(path, dtype)
    return None


_MASKED = frozenset({"Int8", "Int16", "Int32", "Int64", "UInt8", "UInt16", "UInt32", "UInt64", "Float32", "Float64",
                     "boolean"})  # fmt: skip


class Unfit(Exception):
    """A table has a column that does not lie in files, or rows of another kind than before."""


class Spooled:
    """One table whose columns lie in files of their own.

    Parameters
    ----------
    folder : Path
        In which a folder of this table is made.
    """

    def __init__(self, folder: Path) -> None:
        self._folder, self._made = Path(tempfile.mkdtemp(dir=folder)), 0
        self._columns: dict[str, Values | Texts] = {}
        self._types: dict[str, Any] = {}
        self._shown: dict[str, Any] = {}
        self._rows = 0

    def __len__(self) -> int:
        return self._rows

    def append(self, batches: "Iterable[pd.DataFrame]", rows: int) -> None:
        """Add rows, as many as are told; all have the same columns, of the same types.

        Raises
        ------
        Unfit
        """
        rows += self._rows
        for table in batches:
            if not self._types:
                self._begin(dict(table.dtypes))
            if dict(table.dtypes) != self._types or list(table.columns) != list(self._types):
                raise Unfit
            for name, column in self._columns.items():
                column.append(table[name])
            self._rows += len(table)
        self._shown = {}
        if self._rows != rows:
            raise Unfit

    def widen(self, batches: "Iterable[pd.DataFrame]") -> None:
        """Add columns, in place of those of the same names.

        Raises
        ------
        Unfit
        """
        new: dict[str, Values | Texts] = {}
        types: dict[str, Any] = {}
        rows = 0
        for table in batches:
            if not new:
                types = dict(table.dtypes)
                new = self._new(types)
            if dict(table.dtypes) != types:
                raise Unfit
            for name, column in new.items():
                column.append(table[name])
            rows += len(table)
        if rows != self._rows:
            raise Unfit
        self._columns |= new
        self._types |= types
        self._shown = {name: column for name, column in self._shown.items() if name not in new}

    def table(self) -> "pd.DataFrame":
        """The whole table, bare of shapes."""
        import pandas as pd

        for name, column in self._columns.items():
            if name not in self._shown:
                self._shown[name] = column.column()
        return pd.DataFrame({name: self._shown[name] for name in self._columns}, copy=False)

    def _begin(self, types: dict[str, Any]) -> None:
        self._types, self._columns = types, self._new(types)

    def _new(self, types: dict[str, Any]) -> dict[str, Values | Texts]:
        made = {}
        for name, dtype in types.items():
            column = _column(self._folder / f"{self._made}", dtype)
            if column is None:
                raise Unfit
            self._made += 1
            made[name] = column
        return made
