"""Delimited text: shots, findings worst first, causes of blunders, gaps, residuals, distances, and control checks.

UTF-8 without a mark, line feeds, a header line, every text in quotes, missing is an empty cell.
Numbers have six decimals at most (`geoqa.write.tidy`), in the order of the numbers themselves; the GeoPackage and the
GeoParquet keep every bit. Text that a spreadsheet would take for a formula begins with an apostrophe.
"""

from __future__ import annotations

import csv as text
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from geoqa.model.format import Format
from geoqa.model.output import Output
from geoqa.model.results import Results
from geoqa.write.control_checks import control_checks
from geoqa.write.readback import compare_columns, opening_again
from geoqa.write.rows import FEW, arranged, on_disk, plain_columns
from geoqa.write.text import safe_column, visible_column
from geoqa.write.tidy import tidy

if TYPE_CHECKING:
    import pandas as pd
    import pyarrow as pa

PLAIN = ("findings", "causes", "shots", "gaps", "control_residuals", "ground_distances", "quantities")


class Tables(Output):
    """The tables people open in a spreadsheet."""

    name: ClassVar[str] = "csv"
    files: ClassVar[Mapping[str, str]] = {
        "findings.csv": "every judged number with all its columns",
        "shots.csv": "every shot with kind, uncertainty and flags",
        "causes.csv": "which known blunder explains what control shows",
        "gaps.csv": "reaches of the design without a shot",
        "control_residuals.csv": "check shots by mark and session",
        "control_checks.csv": "every check shot against its mark, with its means",
        "ground_distances.csv": "distances on the grid and on the ground",
        "quantities.csv": "lengths, areas and counts that follow from the shots",
    }
    format: ClassVar[Format | None] = Format(
        title="delimited text, a table a file",
        keeps="every column; numbers read back as the same numbers",
        loses="shapes of lines, other than in their own columns; the type of a column; the frame stands in "
        "summary.json",
    )

    def write(self, results: Results, folder: Path) -> tuple[str, ...]:
        """Write the files into `folder`; a table that the job does not have is not written."""
        made = {name: on_disk(name, table, ordered=True) for name, table in _tables(results).items()}
        return tuple(save(Path(folder, f"{name}.csv"), table) for name, table in made.items())

    @opening_again
    def read_back(self, results: Results, folder: Path) -> dict[str, Any]:
        """Read every file again, typed as its table is, and compare all values."""
        said = {}
        for name, expected in _tables(results).items():
            found = opened(Path(folder, f"{name}.csv"), expected)
            values = compare_columns(f"{name}.csv", expected, found, text=text_of)
            said[f"{name}.csv"] = {"values": values}
        return said


def text_of(column: pd.Series) -> pd.Series:
    """Give a column of text as delimited text holds it."""
    return safe_column(visible_column(column))


def _tables(results: Results) -> dict[str, pd.DataFrame]:
    layers = results.layers
    if any(len(layers[name]) >= FEW for name in PLAIN if name in layers):
        return _tidied(results)
    return layers.derived("tables of delimited text", (*PLAIN, "control", "work_odds"), lambda: _tidied(results))


def _tidied(results: Results) -> dict[str, pd.DataFrame]:
    layers = results.layers
    made = {name: tidy(arranged(results, name)) for name in PLAIN if name in layers}
    if "control" in layers:
        made["control_checks"] = tidy(control_checks(results))
    return made


def opened(path: Path, expected: pd.DataFrame) -> pd.DataFrame:
    """Read a file that `save` wrote, typed as the table `expected` is."""
    import pandas as pd
    import pyarrow as pa
    from pyarrow import csv

    with path.open(encoding="utf-8", newline="") as file:
        header = next(text.reader(file))
    types = {name: pa.string() for name in header}
    for name, dtype in zip(expected.columns, expected.dtypes, strict=True):
        if pd.api.types.is_bool_dtype(dtype):
            types[name] = pa.bool_()
        elif pd.api.types.is_numeric_dtype(dtype):
            types[name] = pa.float64() if pd.api.types.is_float_dtype(dtype) else pa.int64()
    cells = csv.ConvertOptions(
        column_types=types, null_values=[""], strings_can_be_null=True, quoted_strings_can_be_null=False
    )
    table = csv.read_csv(path, parse_options=csv.ParseOptions(newlines_in_values=True), convert_options=cells)
    return table.to_pandas()


def save(path: Path, table: pd.DataFrame) -> str:
    """Write one table as delimited text and return the file's name."""
    import pyarrow as pa
    from pyarrow import csv

    arrays = {name: _cells(table[name]) for name in plain_columns(table)}
    with path.open("wb") as file:
        csv.write_csv(pa.table(arrays), file)
    return path.name


def _cells(column: pd.Series) -> pa.Array:
    import pandas as pd
    import pyarrow as pa

    dtype = column.dtype
    if isinstance(dtype, pd.DatetimeTZDtype) or pd.api.types.is_datetime64_dtype(dtype):
        return _times(column)
    if str(dtype) == "str":
        return pa.array(safe_column(column), type=pa.large_string(), from_pandas=True)
    return pa.array(column, from_pandas=True)


def _times(column: pd.Series) -> pa.Array:
    """ISO 8601 text with Z, to the second where no time of the column is finer."""
    import pyarrow as pa
    import pyarrow.compute as pc

    times = pa.array(column, from_pandas=True)
    whole = pc.all(pc.equal(pc.microsecond(times), 0)).as_py() and pc.all(pc.equal(pc.millisecond(times), 0)).as_py()
    if whole is not False:
        times = times.cast(pa.timestamp("s", tz=times.type.tz))
    return pc.strftime(times, format="%Y-%m-%dT%H:%M:%SZ" if times.type.tz else "%Y-%m-%dT%H:%M:%S")
