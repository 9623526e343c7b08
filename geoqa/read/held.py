"""Tables held in memory, read as if they were files: the same headings, nulls, keys and troubles, by the same code.

Every value becomes the text a file would hold of it; of a number, the shortest that reads back as just that number.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from pydantic import Field, model_validator

from geoqa.errors import SourceError
from geoqa.model.source import Evidence, Source
from geoqa.read.check_policy import CheckPolicyText
from geoqa.read.codes import CodesText
from geoqa.read.control import ControlText
from geoqa.read.delimited.delimited import DelimitedReader, TextTable
from geoqa.read.delimited.headings import Headings, by_words
from geoqa.read.design import DesignVector
from geoqa.read.screening import ScreeningText
from geoqa.read.shots import ShotsText
from geoqa.read.vector.features import Layer, features_in
from geoqa.read.vector.linework import Drawn

if TYPE_CHECKING:
    import pandas as pd

_DRAWN = {"easting": "geometry.easting", "northing": "geometry.northing", "elevation": "geometry.elevation"}
"""Names of the columns that a point geometry becomes."""
_SAME = 1e-9
_EXACT = 1e15
"""Whole numbers below it are written without an exponent."""


class Held(DelimitedReader):
    """A table in memory: rows count from 1, and points of a geometry are eastings, northings and elevations."""

    in_memory: ClassVar[bool] = True
    role: ClassVar[str] = "shots"
    """Argument of a call that it is."""

    held: Any = Field(exclude=True, repr=False, description="the table; only code can give one")

    def table(self, path: Path, *, at_most: int | None = None) -> TextTable:
        """Every value as text."""
        columns = {str(name): text_of(self.held[name]) for name in _attributes(self.held)}
        placeless = 0
        if "geometry" in _kinds_of_columns(self.held):
            drawn, placeless = _places(path.name, self.held)
            columns |= {_DRAWN[name]: text_of(values) for name, values in drawn.items()}
        because = "rows without a geometry, or with an empty one"
        found = (Evidence(what="place", answer=f"{placeless} without", because=because),) if placeless else ()
        return TextTable(
            name=path.name,
            columns=tuple(columns),
            header=True,
            text=tuple(columns.values()),
            lines=np.arange(1, len(self.held) + 1, dtype=np.int64),
            decimal=".",
            facts={"header": "yes", "rows": str(len(self.held))},
            evidence=found,
            troubles=(),
        )

    def headings(self, table: TextTable) -> Headings:
        """As of a file; places are those of the geometry, unless the job states columns for them."""
        stated = dict(self.columns) if isinstance(self.columns, Mapping) else {}
        own = {ours: name for ours, name in _DRAWN.items() if name in table.columns and ours in self.sought}
        if "elevation" in own and "elevation" not in stated:
            _refuse_two_elevations(table, self.sought)
        whole: Any = {**own, **stated}
        return super(Held, self.model_copy(update={"columns": whole} if whole else {})).headings(table)

    def read(self, path: Path, *, source: str) -> Source:
        """Read the whole table."""
        return replace(super().read(path, source=source), crs=system_of(self.held))

    def stating(self, names: Sequence[str]) -> str:
        """How a call says which columns are ours."""
        columns = ", ".join(f'"{each}": "..."' for each in names)
        return f'declared={{"{self.role}": {{"columns": {{{columns}}}}}}}'

    def fingerprint(self) -> str:
        """Hash of what the table holds."""
        return fingerprint(self.held)


class HeldShots(Held, ShotsText):
    """Shots of a table in memory."""

    def stating(self, names: Sequence[str]) -> str:
        """How a call says which columns are ours."""
        return "columns={" + ", ".join(f'"{each}": "..."' for each in names) + "}"


class HeldControl(Held, ControlText):
    """Control marks of a table in memory."""

    role: ClassVar[str] = "control"


class HeldCodes(Held, CodesText):
    """A code list of a table in memory."""

    role: ClassVar[str] = "codes"


class HeldScreening(Held, ScreeningText):
    """Screening limits of a table in memory."""

    role: ClassVar[str] = "screening"


class HeldCheckPolicy(Held, CheckPolicyText):
    """Rules on check shots of a table in memory."""

    role: ClassVar[str] = "check_policy"


class HeldDesign(DesignVector):
    """Design lines and points of tables in memory, each a layer; arcs are in `elements`, if there are any."""

    in_memory: ClassVar[bool] = True

    held: Any = Field(exclude=True, repr=False, description="layer = table; only code can give one")
    elements: Any = Field(None, exclude=True, repr=False, description="table of what is judged; only code can give it")

    @model_validator(mode="after")
    def _has_layers(self) -> HeldDesign:
        if not isinstance(self.held, Mapping):
            raise ValueError("must be layer = table")
        return self

    def _stating_kinds(self, layer: str) -> str:
        return f'declared={{"design": {{"kind_field": "type"}}}}, or a column {self.kind_field}'

    def _gather(self, path: Path, drawn: Drawn) -> tuple[list[Layer], pd.DataFrame | None]:
        systems = {name: system_of(table) for name, table in self.held.items()}
        if len(set(systems.values())) > 1:
            listed = "; ".join(f"{name} in {(system or 'none')[:60]}" for name, system in systems.items())
            raise SourceError(
                f"'{path.name}' has tables in several coordinate systems ({listed}); bring them into one."
            )
        layers = [
            Layer(name=name, fields=tuple(str(each) for each in _attributes(table)), crs=systems[name])
            for name, table in self.held.items()
        ]
        self._refuse_unknown_layers(layers, path.name)
        unnamed: dict[str, int] = {}
        for layer in layers:
            self._take(drawn, layer, features_in(self.held[layer.name]), unnamed)
        return layers, self.elements

    def fingerprint(self) -> str:
        """Hash of what the tables hold."""
        return fingerprint(*self.held.values(), *([] if self.elements is None else [self.elements]))


def text_of(values: pd.Series) -> pd.Series:
    """A column as a file would hold it; missing is empty.

    Parameters
    ----------
    values : Series
        Of any dtype. A column of whole numbers, also one that is held as floats because some are missing,
        is written without a point.

    Examples
    --------
    >>> import pandas as pd
    >>> text_of(pd.Series([0.1, float("nan"), 12.0])).tolist(), text_of(pd.Series([7.0, None])).tolist()
    (['0.1', '', '12.0'], ['7', ''])
    >>> text_of(pd.Series(pd.to_datetime(["2026-05-12T13:08:50Z"]))).tolist()
    ['2026-05-12T13:08:50+00:00']
    """
    import pandas as pd

    missing = values.isna().to_numpy(dtype=bool)
    dtype = values.dtype
    if isinstance(dtype, pd.StringDtype):
        return values.astype("str").str.strip().fillna("").reset_index(drop=True)
    if pd.api.types.is_float_dtype(dtype):
        said = _numbers(values.to_numpy(dtype=np.float64, na_value=np.nan))
    elif isinstance(dtype, pd.DatetimeTZDtype) or pd.api.types.is_datetime64_dtype(dtype):
        said = ["" if gone else each.isoformat() for each, gone in zip(values, missing, strict=True)]
    else:
        said = [str(each).strip() for each in values.tolist()]
    text = np.array(said, dtype=object)
    text[missing] = ""
    return pd.Series(text, index=range(len(values)), dtype="str")


def _numbers(numbers: np.ndarray) -> list[str]:
    there = numbers[np.isfinite(numbers)]
    if len(there) and (there == np.rint(there)).all() and (np.abs(there) < _EXACT).all():
        return [repr(each).removesuffix(".0") for each in np.where(numbers == 0.0, 0.0, numbers).tolist()]
    return list(map(repr, numbers.tolist()))


def system_of(table: pd.DataFrame) -> str | None:
    """Coordinate system that a table states, by its code if it has one; None without."""
    crs: Any = getattr(table, "crs", None) if "geometry" in _kinds_of_columns(table) else None
    if crs is None:
        return None
    code = crs.to_json_dict().get("id")
    return f"{code['authority']}:{code['code']}" if code else str(crs.to_wkt())


def fingerprint(*tables: pd.DataFrame) -> str:
    """SHA-256 of columns, values, geometries and coordinate systems; the index, and how values are held, are not in it.

    Examples
    --------
    >>> import pandas as pd
    >>> one = fingerprint(pd.DataFrame({"mark": ["A"], "easting": [1.5]}))
    >>> one == fingerprint(pd.DataFrame({"mark": ["A"], "easting": ["1.5"]}, index=[9]))
    True
    """
    import shapely

    digest = hashlib.sha256()
    for table in tables:
        digest.update(f"{system_of(table)}\x1d{len(table)}\x1d".encode())
        for name in _attributes(table):
            digest.update("\x1f".join([str(name), *text_of(table[name]).tolist()]).encode() + b"\x1e")
        if "geometry" in _kinds_of_columns(table):
            shapes = np.asarray(table.geometry, dtype=object)
            parts, row = shapely.get_parts(shapes, return_index=True)
            numbers = (shapely.get_type_id(shapes), row, shapely.get_num_coordinates(parts))
            for each in (*numbers, shapely.get_coordinates(shapes, include_z=True)):
                digest.update(np.ascontiguousarray(each, dtype="<f8").tobytes() + b"\x1d")
    return digest.hexdigest()


def _kinds_of_columns(table: pd.DataFrame) -> set[str]:
    return {str(each) for each in table.dtypes}


def _attributes(table: pd.DataFrame) -> list[Any]:
    return [name for name, dtype in table.dtypes.items() if str(dtype) != "geometry"]


def _places(name: str, table: Any) -> tuple[dict[str, pd.Series], int]:
    """Easting, northing and, where some row has one, elevation of a geometry of points; and how many have none."""
    import pandas as pd
    import shapely

    shapes = np.asarray(table.geometry, dtype=object)
    empty = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    strange = np.flatnonzero(~empty & (shapely.get_type_id(shapes) != 0))
    if len(strange):
        row = int(strange[0])
        raise SourceError(
            f"'{name}': row {row + 1} is a {shapes[row].geom_type}, and a row here is one Point ({len(strange)} such). "
            "Take parts apart with explode(), or lines with their vertices, first."
        )
    place = np.full((len(shapes), 3), np.nan)
    place[~empty] = shapely.get_coordinates(shapes[~empty], include_z=True)
    drawn = {each: pd.Series(place[:, at]) for at, each in enumerate(_DRAWN)}
    if not np.isfinite(place[:, 2]).any():
        del drawn["elevation"]
    return drawn, int(empty.sum())


def _refuse_two_elevations(table: TextTable, sought: Any) -> None:
    """Refuse elevations that stand both in the geometry and in a column, and differ."""
    import pandas as pd

    try:
        words = by_words(table.columns, {"elevation": sought["elevation"]}, name=table.name).place
    except SourceError:
        return
    if "elevation" not in words:
        return
    column = table.columns[words["elevation"]]
    theirs = pd.to_numeric(table.text[words["elevation"]], errors="coerce").to_numpy(float)
    drawn = pd.to_numeric(table.text[table.columns.index(_DRAWN["elevation"])], errors="coerce").to_numpy(float)
    apart = np.abs(theirs - drawn) > _SAME * np.maximum(np.abs(drawn), 1.0)
    if apart.any():
        raise SourceError(
            f"'{table.name}': its geometry has elevations, and so has its column '{column}', and {apart.sum()} differ, "
            f"the first in row {int(np.flatnonzero(apart)[0]) + 1}; state "
            f'columns={{"elevation": "{column}"}}, or "{_DRAWN["elevation"]}".'
        )
