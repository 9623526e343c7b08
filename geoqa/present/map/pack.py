"""Columns of whole numbers and of texts, packed small for a page.

A column is written as differences from the row before (`delta`) or from its most common value,
folded to unsigned, one above for "none", and split into byte planes: first the lowest byte of
every row, then the next. As many planes as the widest value needs, so nothing is ever clipped.
All planes of all columns are deflated together and written as base64.
"""

import base64
import json
import zlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import OutputError

if TYPE_CHECKING:
    import pandas as pd


LARGEST = 2**51
"""Whole numbers above this are no longer exact when the page adds them up."""

MOST_DIGITS = 15
"""A running number of at most so many digits is written as a number."""

_DIGITS = "0123456789"


class Packer:
    """Collect columns and texts; give the directory of what lies where, and the packed bytes."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []
        self._size = 0
        self._tables: dict[str, dict[str, Any]] = {}

    def table(self, name: str, rows: int) -> "PackedTable":
        """Start a table of `rows` rows."""
        entry: dict[str, Any] = {"rows": rows, "columns": {}}
        self._tables[name] = entry
        return PackedTable(self, entry)

    def add(self, data: bytes) -> int:
        """Append bytes; return where they start."""
        start = self._size
        self._parts.append(data)
        self._size += len(data)
        return start

    def directory(self) -> dict[str, Any]:
        """Give tables, columns and where they lie, JSON-ready."""
        return {"size": self._size, "tables": self._tables}

    def payload(self) -> str:
        """Everything, deflated, as base64 text."""
        squeezed = zlib.compressobj(9, zlib.DEFLATED, -15, 9)
        return base64.b64encode(squeezed.compress(b"".join(self._parts)) + squeezed.flush()).decode("ascii")


class PackedTable:
    """One table of a `Packer`."""

    def __init__(self, packer: Packer, entry: dict[str, Any]) -> None:
        self._packer = packer
        self._entry = entry

    @property
    def rows(self) -> int:
        """Number of rows."""
        return int(self._entry["rows"])

    def numbers(self, name: str, values: ArrayLike, *, delta: bool = False) -> None:
        """Add whole numbers; what is not finite is "none".

        Parameters
        ----------
        name : str
        values : array_like, shape (rows,)
            Whole numbers as integers or floats.
        delta : bool
            Write differences from the last row that has a value.

        Raises
        ------
        OutputError
            A value is too large to stay exact on the page.
        """
        exact = np.asarray(values, dtype=float)
        if len(exact) != self.rows:
            raise OutputError(f"Column '{name}' has {len(exact)} rows; its table has {self.rows}.")
        there = np.isfinite(exact)
        present = exact[there].astype(np.int64)
        if len(present) and np.abs(exact[there]).max() > LARGEST:
            raise OutputError(f"Column '{name}' holds {exact[there].max():g}, too large for the map to hold exactly.")
        base = _most_common(present) if not delta else int(present[0]) if len(present) else 0
        steps = np.diff(present, prepend=base) if delta else present - base
        folded = np.where(steps < 0, -2 * steps - 1, 2 * steps)
        none = not there.all()
        codes = np.zeros(self.rows, dtype=np.int64)
        codes[there] = folded + none
        self._planes(name, codes, {"base": base, "delta": int(delta), "none": int(none)})

    def texts(self, name: str, values: "pd.Series | np.ndarray | Sequence[str | None]") -> None:
        """Add texts as places in a list of the different ones; missing is "none"."""
        import pandas as pd

        codes, different = pd.factorize(pd.Series(values).astype("str"), use_na_sentinel=True)
        self.chosen(name, codes, [str(each) for each in different])

    def chosen(self, name: str, codes: ArrayLike, texts: list[str]) -> None:
        """Add places in a list of texts; a negative place is "none"."""
        places = np.asarray(codes, dtype=float)
        self.numbers(name, np.where(places < 0, np.nan, places))
        self._entry["columns"][name]["texts"] = self._list(texts)

    def names(self, name: str, values: "pd.Series | Sequence[str | None]") -> np.ndarray:
        """Add texts that mostly end in a running number: the stem in a list, the number by difference.

        Returns
        -------
        ndarray of float64, shape (rows,)
            The running numbers; NaN where a text does not end in one that stays exact.
        """
        import pandas as pd
        import pyarrow as pa
        import pyarrow.compute as pc

        texts = pd.Series(values).astype("str").reset_index(drop=True)
        stem = texts.str.rstrip(_DIGITS)
        length, kept = texts.str.len().to_numpy(float), stem.str.len().to_numpy(float)
        numbered = (length > kept) & (length - kept <= MOST_DIGITS)
        found = pc.extract_regex(pa.array(texts.where(numbered, "0").array), "(?P<digits>[0-9]+)$")
        digits = pc.struct_field(found, "digits")
        number = np.where(numbered, np.asarray(digits.cast(pa.int64()), dtype=float), np.nan)
        padded = numbered & np.asarray(pc.starts_with(digits, "0")) & (length - kept > 1)
        self.texts(f"{name}.stem", stem.where(numbered, texts))
        self.numbers(f"{name}.width", np.where(padded, length - kept, 0.0))
        self.numbers(f"{name}.number", number, delta=True)
        return number

    def facts(self, name: str, records: list[dict[str, Any]]) -> None:
        """Add a short list of records that a column of this table points into."""
        self._entry.setdefault("facts", {})[name] = self._list(records)

    def _list(self, rows: "list[str] | list[dict[str, Any]]") -> list[int]:
        data = json.dumps(rows, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "surrogatepass")
        return [self._packer.add(data), len(data)]

    def _planes(self, name: str, codes: np.ndarray, facts: dict[str, int]) -> None:
        count = (int(codes.max()).bit_length() + 7) // 8 if len(codes) else 0
        planes = [((codes >> (8 * plane)) & 255).astype(np.uint8).tobytes() for plane in range(count)]
        start = self._packer.add(b"".join(planes))
        self._entry["columns"][name] = {"at": start, "planes": count, **facts}


def _most_common(values: np.ndarray) -> int:
    if len(values) == 0:
        return 0
    low, high = int(values.min()), int(values.max())
    if high - low < 4 * len(values) + 1024:
        return low + int(np.bincount(values - low).argmax())
    different, counts = np.unique(values, return_counts=True)
    return int(different[counts.argmax()])
