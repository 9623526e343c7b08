"""Tables of a caller as layers: what can be derived is filled in, and the rest is said in one message.

Each table is copied first; what is written here is written to the copy.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import geopandas
import numpy as np
import pandas as pd
import shapely

from geoqa.errors import GeoqaError, LayerError
from geoqa.library.design_tables import element_rows, filled, texts_of
from geoqa.library.given_frame import refuse_other_system
from geoqa.library.makers import missing
from geoqa.library.numbers import column_of
from geoqa.library.shapes import elements_of, elevations_of, places_of
from geoqa.model.check import CONTROL
from geoqa.model.frame import Frame
from geoqa.model.tables.column import Column
from geoqa.model.tables.columns import PLACED, TABLES, TIME, columns_of
from geoqa.model.tables.layer import placed, shaped
from geoqa.model.words import many

_KEY = {"shots": "shot", "control": "mark", "design_lines": "line", "design_points": "point"}
"""What a row is called, where its index says it if no column does."""
_FILLED: Mapping[str, Mapping[str, Any]] = {
    "control": {"held": False, "independent": False},
    "design_lines": {"source": "design"},
    "design_points": {"source": "design"},
    "limits": {"ruleset": "job", "verified": False},
}
"""What a column holds where nothing is given for it."""
_PLACE = ("easting", "northing")
_UNCERTAINTY = ("u_h_random", "u_v_random", "u_h_common", "u_v_common")
_SAME = 1e-9


@dataclass
class Given:
    """Tables as they are brought into shape, and all that is wrong with them.

    Attributes
    ----------
    frame : Frame
    tables : dict of str to DataFrame
    problems : list of str
        A sentence each, every one with its table and column.
    """

    frame: Frame
    tables: dict[str, pd.DataFrame] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)

    def take(self, name: str, table: Any) -> None:
        """Take one table in, or say what is wrong with it."""
        if not isinstance(table, pd.DataFrame):
            self.problems.append(f"{name} must be a DataFrame or GeoDataFrame, and is a {type(table).__name__}")
        elif not table.columns.is_unique:
            twice = table.columns[table.columns.duplicated()][0]
            self.problems.append(f"{name} has two columns '{twice}'; rename one of them")
        else:
            try:
                self.tables[name] = self._made(name, table)
            except GeoqaError as error:
                self.problems.append(str(error).rstrip("."))

    def _made(self, name: str, given: pd.DataFrame) -> pd.DataFrame:
        shapes = _geometry(given)
        if shapes is not None and name in PLACED:
            refuse_other_system(name, given, self.frame)
        attributes = [each for each, dtype in given.dtypes.items() if str(dtype) != "geometry"]
        table = pd.DataFrame(given[attributes]).reset_index(drop=True)
        if PLACED.get(name) == "Point" and shapes is not None:
            table = self._with_places(name, table, shapes)
        table = self._named(name, table, given.index)
        for column, value in _FILLED.get(name, {}).items():
            if column not in table:
                table[column] = value
        typed = self._typed(name, table)
        if name == "design_lines" and shapes is not None:
            return shaped(typed, shapely.force_2d(shapes.to_numpy()), self.frame)
        if name in PLACED and PLACED[name] != "Point":
            return shaped(typed, [None] * len(typed) if shapes is None else list(shapes), self.frame)
        return placed(name, typed, self.frame) if name in PLACED and set(_PLACE) <= set(typed) else typed

    def _with_places(self, name: str, table: pd.DataFrame, shapes: geopandas.GeoSeries) -> pd.DataFrame:
        """Points of a geometry as columns; where columns stand there already, they must say the same."""
        drawn = np.column_stack([places_of(shapes, what=name), elevations_of(shapes)])
        for at, column in enumerate((*_PLACE, "elevation")):
            if column not in table:
                table[column] = drawn[:, at]
                continue
            own, _ = column_of(table[column], name=f"{name}.{column}")
            apart = np.abs(own - drawn[:, at]) > _SAME * np.maximum(np.abs(own), 1.0)
            if apart.any():
                raise LayerError(
                    f"{name}.{column} stands in a column and in the geometry, and "
                    f"{many(int(apart.sum()), 'row differs', 'rows differ')}, the "
                    f"first is {_label(shapes.index, int(np.argmax(apart)))}; drop the column, or use force_2d"
                )
        return table

    def _named(self, name: str, table: pd.DataFrame, index: pd.Index[Any]) -> pd.DataFrame:
        """Keys of rows that have none: a column `name` or, without one, the index."""
        key = _KEY.get(name)
        if key is not None and key not in table:
            table[key] = table["name"] if "name" in table and name != "shots" else _index_text(index)
        if name != "shots":
            return table
        table["source"] = table.get("source", "shots")
        table["line"] = table.get("line", np.arange(1, len(table) + 1))
        if "shot_key" not in table:
            key_of = texts_of(table["source"]) + "/" + texts_of(table["shot"])
            if key_of.duplicated().any() or key_of.isna().any():  # names of a day are given twice; an index is not
                key_of = texts_of(table["source"]) + "/" + _index_text(index)
            table["shot_key"] = key_of
        if "kind" in table and "role" not in table:
            kinds = texts_of(table["kind"])
            table["role"] = filled(len(table), "feature").mask(kinds == CONTROL, "check").where(kinds.notna())
        if "kind" in table and "code" not in table:
            table["code"] = table["kind"]
        return table

    def _typed(self, name: str, table: pd.DataFrame) -> pd.DataFrame:
        """Every column in its dtype; what is missing becomes null where that is allowed."""
        if name not in TABLES:
            return table
        series: dict[str, Any] = {}
        for column in columns_of(name):
            if column.name in table:
                found = self._column(name, column, table[column.name])
                series[column.name] = filled(len(table), None) if found is None else found
            elif column.made_by:
                self._say_partly_given(name, column, table)
            elif column.null.startswith("never") or column.name in _PLACE:
                self.problems.append(missing(f"{name}.{column.name}"))
            else:
                dtype: Any = column.dtype
                series[column.name] = pd.Series([None] * len(table)).astype(dtype)
        rest = {each: table[each] for each in table.columns if each not in series}
        return pd.DataFrame({**series, **rest}, index=table.index)

    def _say_partly_given(self, name: str, column: Column, table: pd.DataFrame) -> None:
        if column.name in _UNCERTAINTY and set(_UNCERTAINTY) & set(table.columns):
            self.problems.append(missing(f"{name}.{column.name}") + "; give all four, or none")

    def _column(self, name: str, column: Column, values: pd.Series) -> pd.Series | None:
        where = f"{name}.{column.name}"
        try:
            typed = _as_dtype(where, column, values)
        except LayerError as error:
            self.problems.append(str(error).rstrip("."))
            return None
        if column.null.startswith("never") and typed.isna().any():
            self.problems.append(
                f"{where} ({column.meaning}) is missing in {many(int(typed.isna().sum()), 'row')}; fill it in"
            )
        elif "unique" in column.null and typed.duplicated().any():
            twice = typed[typed.duplicated()].iloc[0]
            self.problems.append(
                f"{where} ({column.meaning}) holds {twice!r} more than once; give each its own, or "
                "make the index unique with reset_index(drop=True)"
            )
        return typed

    def draw_elements(self, lines: Any) -> None:
        """Elements of design lines: their legs, with the elevations of their vertices."""
        shapes = _geometry(lines) if isinstance(lines, pd.DataFrame) else None
        if shapes is None:
            self.problems.append(missing("design_elements") + "; or give design_lines a geometry of LineStrings")
        elif "design_lines" in self.tables:
            try:
                made = element_rows(elements_of(shapes, what="design_lines"), self.tables["design_lines"]["line"])
            except GeoqaError as error:
                self.problems.append(str(error).rstrip("."))
            else:
                self.tables["design_elements"] = self._typed("design_elements", made)

    def refuse_problems(self) -> None:
        """Say all that is wrong in one message.

        Raises
        ------
        LayerError
        """
        if self.problems:
            count = f"{len(self.problems)} things are" if len(self.problems) > 1 else "1 thing is"
            lines = "\n".join(f"  {each}" for each in self.problems)
            raise LayerError(f"{count} missing in these tables, or cannot be used:\n{lines}")


def _geometry(table: pd.DataFrame) -> geopandas.GeoSeries | None:
    if isinstance(table, geopandas.GeoDataFrame) and table.active_geometry_name is not None:
        return table.geometry
    return None


def _index_text(index: pd.Index[Any]) -> pd.Series:
    if isinstance(index, pd.MultiIndex):
        return pd.Series(["/".join(map(str, each)) for each in index], dtype="str")
    return texts_of(index.to_series().reset_index(drop=True))


def _label(index: pd.Index[Any], row: int) -> str:
    return repr(index[[row]].tolist()[0])


def _as_dtype(where: str, column: Column, values: pd.Series) -> pd.Series:
    """A column in its dtype; nothing is turned into what it was not."""
    dtype: Any = column.dtype
    if dtype == "str":
        return texts_of(values)
    if dtype == TIME:
        if not isinstance(values.dtype, pd.DatetimeTZDtype) and not values.isna().all():
            raise LayerError(
                f"{where} ({column.meaning}) is of dtype {values.dtype}, and a time needs its zone; use "
                "pandas.to_datetime(column).dt.tz_localize(zone)"
            )
        return pd.to_datetime(values, utc=True).astype(dtype)
    if dtype in ("bool", "boolean"):
        if not pd.api.types.is_bool_dtype(values.dtype):
            raise LayerError(f"{where} ({column.meaning}) is of dtype {values.dtype} and not true or false")
        if dtype == "bool" and values.isna().any():
            raise LayerError(
                f"{where} ({column.meaning}) is missing in {many(int(values.isna().sum()), 'row')}; fill it in"
            )
        return values.astype(dtype)
    numbers, _ = column_of(values, name=where)
    if dtype == "float64":
        return pd.Series(numbers, index=values.index)
    known = numbers[~np.isnan(numbers)]
    if not np.isfinite(known).all() or (known % 1 != 0).any():
        strange = known[~np.isfinite(known) | (known % 1 != 0)][0]
        raise LayerError(f"{where} ({column.meaning}) holds {strange}, and is a whole number")
    if dtype == "int64" and len(known) < len(numbers):
        raise LayerError(
            f"{where} ({column.meaning}) is missing in {many(len(numbers) - len(known), 'row')}; fill it in"
        )
    return pd.Series(pd.array(numbers, dtype="Float64"), index=values.index).mask(np.isnan(numbers)).astype(dtype)
