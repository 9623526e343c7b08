"""Tables as they go to disk: rows in the order of their keys, no infinity, text that any format can hold."""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from geoqa.contract.odds_sentences import odds_of
from geoqa.contract.sentences import reasons_of
from geoqa.errors import OutputError
from geoqa.model.results import Results
from geoqa.model.tables.column import bare
from geoqa.model.tables.order import worst_first
from geoqa.write.text import visible_column

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

Row = Mapping[Hashable, Any]
"""One row of a table, by column."""

FIRST = ("findings", "shots", "runs", "gaps", "control", "design_lines", "design_points", "bands")
"""Tables people look for, in that order; the others follow by name."""

KEYS: dict[str, tuple[str, ...]] = {
    "shots": ("shot_key",),
    "control": ("mark",),
    "codes": ("code",),
    "design_lines": ("line",),
    "design_elements": ("line", "sequence"),
    "design_points": ("point",),
    "limits": ("kind", "check", "ruleset"),
    "precision": ("kind",),
    "screening": ("kind", "field"),
    "flags": ("shot_key", "flag", "step"),
    "notes": ("note", "variant", "subject", "place", "step"),
    "evidence": ("finding", "role", "layer", "key"),
    "sources": ("source",),
    "runs": ("run",),
    "run_members": ("run", "shot_key"),
    "work_odds": ("finding", "evidence"),
    "places": ("place",),
    "place_members": ("finding", "shot_key"),
    "gaps": ("kind", "line", "station", "finding"),
    "line_matches": ("shot_key", "design", "station"),
    "point_matches": ("shot_key", "design"),
    "control_residuals": ("mark", "session"),
    "screening_gaps": ("field",),
    "check_policy": ("rule",),
    "day_items": ("item",),
    "session_checks": ("session", "rule"),
    "control_table": ("session", "mark", "shot_key"),
    "control_sessions": ("session",),
    "site_fit_marks": ("mark",),
    "bands": ("kind", "line"),
    "ground_distances": ("start", "end"),
    "quantities": ("name", "measure"),
    "asbuilt_lines": ("line",),
    "asbuilt_areas": ("line",),
    "asbuilt_elements": ("line", "sequence"),
    "asbuilt_members": ("line", "sequence"),
    "line_comparison": ("line", "design", "station"),
}
"""Columns that rows are sorted by; findings go worst first."""

FEW = 10_000
"""Rows: a table of fewer is sorted by all its columns at once, without asking which of them tell its rows apart, and
what was made of it is kept for the next who writes or reads it; of many rows that would be a second job in memory."""
_SORTED_AT_ONCE = frozenset({"str", "float64", "int64", "Int64", "int32", "Int32", "bool", "boolean"})

FACTS = ("flags", "notes")
"""Tables of facts."""

MAY_BE_ONE_SIDED = {"findings": ("lower", "upper"), "limits": ("lower", "upper"), "bands": ("lower", "upper")}
"""Columns that always get a text twin, so that a file has the same columns in every job."""
RATIOS_TO_U = frozenset({"excess"})
"""Columns that count in u: of a number without any uncertainty, as a count of shots, there is none on disk."""


def names_of(results: Results) -> list[str]:
    """Names of the layers that are tables, in the order people look for them."""
    import pandas as pd

    tables = {name for name, table in results.layers.items() if isinstance(table, pd.DataFrame)}
    return [name for name in FIRST if name in tables] + sorted(tables - set(FIRST))


def tables_of(results: Results) -> dict[str, pd.DataFrame]:
    """Every layer that is a table, in the order people look for them, ready for disk."""
    return {name: on_disk(name, arranged(results, name), ordered=True) for name in names_of(results)}


def arranged(results: Results, name: str) -> pd.DataFrame:
    """A layer as people read it, its rows in the order of its key: found once for all who write it and read it back."""
    layers = results.layers
    if len(layers[name]) >= FEW:
        return _ordered(results, name, worded(results, name))
    of = (name, "work_odds") if name == "findings" else (name,)
    return layers.derived(f"{name} as people read it", of, lambda: _ordered(results, name, worded(results, name))).copy(
        deep=False
    )


def as_held(results: Results, name: str) -> pd.DataFrame:
    """A layer with the columns it has and no other, its rows in the order of its key."""
    return _ordered(results, name, results.layers[name])


def _ordered(results: Results, name: str, table: pd.DataFrame) -> pd.DataFrame:
    order = results.layers.derived(f"order of {name} on disk", (name,), lambda: _order(name, table))
    return _taken(table, order)


def worded(results: Results, name: str) -> pd.DataFrame:
    """A layer as people read it: facts with the job's unit written out, flags with their reason, findings with odds."""
    table = results.layers[name]
    if name == "findings" and "work_odds" in results.layers:
        made = table.copy(deep=False)
        made.insert(list(made.columns).index("remedy") + 1, "odds", odds_of(results.layers, table["finding"]))
        return made
    if name not in FACTS:
        return table
    unit = results.layers.frame.unit.name
    made = table.assign(unit=table["unit"].mask(table["unit"] == "job", unit))
    if name == "flags":
        made.insert(list(made.columns).index("reject") + 1, "reason", reasons_of(table, unit))
    return made


def on_disk(name: str, table: pd.DataFrame, *, ordered: bool = False) -> pd.DataFrame:
    """Make one table ready for disk; its geometry, if it has one, stays as it is.

    Parameters
    ----------
    name : str
    table : DataFrame or GeoDataFrame
    ordered : bool
        The rows are in the order they are to be read in; leave them.

    Returns
    -------
    DataFrame or GeoDataFrame
        Rows sorted, index from 0. Infinite numbers are null, and the text column ``NAME_text``
        says ``inf`` or ``-inf``; a ratio to an uncertainty of 0 is null alone. Text is `visible`. Objects of other
        kinds are text.

    Raises
    ------
    OutputError
        Two columns have names that differ in case only.
    """
    _refuse_twins(name, table)
    table = _from_zero(table) if ordered else in_order(name, table)
    columns: dict[str, pd.Series | np.ndarray] = {}
    for column, values in plain_items(table):
        columns.update(_columns_on_disk(column, values, column in MAY_BE_ONE_SIDED.get(name, ())))
    return _like(table, columns)


def is_placed(table: pd.DataFrame) -> bool:
    """True for a table with shapes; a text column named geometry (as in codes) is not one."""
    return "geometry" in table.columns and str(table["geometry"].dtype) == "geometry"


def plain_columns(table: pd.DataFrame) -> list[str]:
    """Names of a table's columns, its shapes left out."""
    return [name for name in table.columns if not (name == "geometry" and is_placed(table))]


def plain_items(table: pd.DataFrame) -> Iterator[tuple[str, pd.Series]]:
    """Name and values of a table's columns, its shapes left out."""
    import pandas as pd

    placed, plain = is_placed(table), pd.DataFrame(table)  # a table with shapes asks of every column whether it is one
    return ((str(name), column) for name, column in plain.items() if not (placed and name == "geometry"))


def in_order(name: str, table: pd.DataFrame) -> pd.DataFrame:
    """Sort the rows of a table by its key: the same bytes whatever order they came in."""
    return _taken(table, _order(name, table))


def _taken(table: pd.DataFrame, order: np.ndarray | None) -> pd.DataFrame:
    return _from_zero(table if order is None else table.take(order))


def _from_zero(table: pd.DataFrame) -> pd.DataFrame:
    """A table whose rows are numbered from 0; it is itself where they are."""
    import pandas as pd

    numbered = type(table.index) is pd.RangeIndex and table.index.start == 0 and table.index.step == 1
    return table if numbered else table.reset_index(drop=True)


def _order(name: str, table: pd.DataFrame) -> np.ndarray | None:
    """Rows of a table in the order of its key; None where they are in it, or where there is nothing to sort by."""
    if len(table) < 2:
        return None
    if name == "findings":
        order = worst_first(table["excess"], table["finding"])
    else:
        held = dict(zip(table.columns, table.dtypes, strict=True))
        plain = [column for column in plain_columns(table) if str(held[column]) != "object"]
        by = [column for column in KEYS.get(name, plain) if column in plain]
        rest = [column for column in plain if column not in by]
        if by + rest == []:
            return None
        if len(table) < FEW and all(str(held[column]) in _SORTED_AT_ONCE for column in by + rest):
            return _unless_in_order(_sorted_at_once(table, by + rest))
        if name in KEYS and not table.duplicated(by).any():
            rest = []
        elif name not in KEYS:
            by = _telling(table, by)
        keys = table[by + rest].reset_index(drop=True)
        order = keys.sort_values(by + rest, kind="stable", na_position="last").index.to_numpy()
    return _unless_in_order(order)


def _unless_in_order(order: np.ndarray) -> np.ndarray | None:
    import numpy as np

    return None if (order == np.arange(len(order))).all() else order


def _sorted_at_once(table: pd.DataFrame, columns: list[str]) -> np.ndarray:
    """Rows in the order of all the columns, missing ones last: for few rows a tenth of the time of a sort by codes."""
    import pyarrow as pa
    import pyarrow.compute as pc

    keys = pa.table({str(number): pa.array(table[name], from_pandas=True) for number, name in enumerate(columns)})
    by: list[Any] = [(name, "ascending") for name in keys.column_names]
    order: np.ndarray = pc.sort_indices(keys, sort_keys=by).to_numpy()
    return order.astype("int64")


def _telling(table: pd.DataFrame, columns: list[str]) -> list[str]:
    """As many of the columns, from the first, as tell all rows apart: those that follow cannot change the order."""
    count = 1
    while count < len(columns):
        if not table.duplicated(columns[:count]).any():
            return columns[:count]
        count *= 2
    return columns


def _columns_on_disk(name: str, column: pd.Series, always_text: bool) -> dict[str, pd.Series | np.ndarray]:
    import numpy as np
    import pandas as pd

    dtype = column.dtype
    if isinstance(dtype, pd.StringDtype):
        return {name: visible_column(column)}
    if pd.api.types.is_bool_dtype(dtype) or pd.api.types.is_integer_dtype(dtype):
        return {name: column}
    if pd.api.types.is_float_dtype(dtype):
        values = column.to_numpy(dtype="float64", na_value=np.nan)
        endless = np.isinf(values)
        if name in RATIOS_TO_U:
            return {name: np.where(endless, np.nan, values)}
        if not (endless.any() or always_text):
            return {name: values}
        text = np.where(values > 0, "inf", "-inf").astype(object)
        text[~endless] = None
        return {
            name: np.where(endless, np.nan, values),
            f"{name}_text": pd.Series(text).astype("str"),
        }
    if isinstance(dtype, pd.DatetimeTZDtype):
        return {name: column.dt.tz_convert("UTC").dt.as_unit("us")}
    if pd.api.types.is_datetime64_dtype(dtype):
        return {name: column.dt.as_unit("us")}
    return {name: visible_column(column)}


def _like(table: pd.DataFrame, columns: dict[str, pd.Series | np.ndarray]) -> pd.DataFrame:
    import geopandas
    import pandas as pd

    made = pd.DataFrame({name: bare(column) for name, column in columns.items()}, index=table.index)
    if not is_placed(table):
        return made
    return geopandas.GeoDataFrame(made, geometry=table["geometry"].to_numpy(), crs=table.crs)


def _refuse_twins(name: str, table: pd.DataFrame) -> None:
    seen: dict[str, str] = {}
    for column in table.columns:
        other = seen.setdefault(str(column).lower(), str(column))
        if other != column:
            raise OutputError(
                f"Table '{name}' has the columns '{other}' and '{column}', which most formats take for one; rename one."
            )


def measured_alone(findings: pd.DataFrame, *names: str) -> dict[str, pd.Series]:
    """Numbers of findings as columns for people: empty where things are counted, for a count is no deviation.

    Examples
    --------
    >>> import pandas as pd
    >>> rows = pd.DataFrame({"quantity": ["length", "count"], "deviation": [0.1, 7.0]})
    >>> measured_alone(rows, "deviation")["deviation"].tolist()
    [0.1, nan]
    """
    counted = findings["quantity"] == "count"
    return {name: findings[name].mask(counted) for name in names}
