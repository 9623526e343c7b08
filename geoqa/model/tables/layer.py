"""Named tables in one frame, and what a step may do to them.

A step never changes a table in place. `Layers.after` lays its result over the old tables
and refuses what the step did not declare, so that a column means the same all the way down.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, Protocol, Self, TypeVar

from geoqa.errors import LayerError, StepError
from geoqa.model.frame import Frame
from geoqa.model.tables.columns import IN_SOME_JOBS, PLACED, STARTING, TABLES, conform, empty

if TYPE_CHECKING:
    import geopandas as gpd
    import numpy as np
    import pandas as pd
    from shapely.geometry.base import BaseGeometry


Derived = TypeVar("Derived")


class Declaration(Protocol):
    """What a step says it makes, as in `geoqa.model.step.Step`: `Layers.after` holds it to that."""

    name: ClassVar[str]
    gives: ClassVar[tuple[str, ...]]
    extends: ClassVar[tuple[str, ...]]
    adds: ClassVar[tuple[str, ...]]


class Layers(Mapping[str, Any]):
    """Read-only mapping of table name to table, all in one `frame`.

    Whether a table has a place is known by its name alone, so to a type checker each is `Any`.

    Parameters
    ----------
    tables : mapping of str to DataFrame or GeoDataFrame
    frame : Frame
    """

    def __init__(self, tables: "Mapping[str, pd.DataFrame]", *, frame: Frame) -> None:
        self._tables = dict(tables)
        self._derived: dict[str, tuple[tuple[Any, ...], Any]] = {}
        self.frame = frame
        for name in STARTING:
            if name not in self._tables:
                self._tables[name] = placed(name, empty(name), frame)

    def __getitem__(self, name: str) -> Any:
        try:
            return self._tables[name]
        except KeyError:
            brief = f"There is no layer '{name}' here"
            raise LayerError(f"{brief}; there are {', '.join(sorted(self._tables))}.", brief) from None

    def __contains__(self, name: object) -> bool:
        return name in self._tables

    def __iter__(self) -> Iterator[str]:
        return iter(self._tables)

    def __len__(self) -> int:
        return len(self._tables)

    def available(self) -> frozenset[str]:
        """Names of all layers and of all ``layer.column`` that hold something."""
        names = set(self._tables)
        for layer, table in self._tables.items():
            names |= {f"{layer}.{column}" for column in table.columns}
        return frozenset(names)

    def derived(self, name: str, of: tuple[str, ...], make: Callable[[], Derived]) -> Derived:
        """What several steps work out of the same tables, worked out once in a run.

        Parameters
        ----------
        name : str
        of : tuple of str
            Names of the tables it is made of; it is made anew where one of them is another table.
        make : callable
            Makes it. What it gives is shared, and must not be changed.
        """
        tables = tuple(self._tables.get(each) for each in of)
        known = self._derived.get(name)
        if known is None or any(one is not other for one, other in zip(known[0], tables, strict=True)):
            known = self._derived[name] = (tables, make())
        return known[1]

    def apart(self) -> "Iterable[Layers]":
        """These layers in pieces that no finding of a shot reaches across; in one, unless they are cut.

        A step that adds up what it works out of single shots may go through them one by one, and hold one at a time.
        """
        return (self,)

    def instead(self, tables: "Mapping[str, pd.DataFrame]") -> Self:
        """These layers with other tables in place of theirs; what was worked out of the rest stays known.

        Parameters
        ----------
        tables : mapping of str to DataFrame or GeoDataFrame
        """
        layers = type(self)({**self._tables, **tables}, frame=self.frame)
        layers._derived = dict(self._derived)  # of its own: what comes of the other tables is no matter of these
        return layers

    def after(self, step: Declaration, output: "Mapping[str, pd.DataFrame]") -> Self:
        """Lay what a step made over these layers.

        Parameters
        ----------
        step : Step
            Its `gives`, `extends` and `adds` say what `output` may hold.
        output : mapping of table name to table
            For `gives` a whole table, for `extends` a table with exactly the new columns on the
            old index, for `adds` the rows to append.

        Raises
        ------
        StepError
            The step made something else than it declared.
        """
        self.refuse_undeclared(step, output)
        return self.with_tables(
            {name: self.laid(step, name, new, self._tables.get(name)) for name, new in output.items()}
        )

    def with_tables(self, tables: "Mapping[str, pd.DataFrame]") -> Self:
        """These layers with more tables, or later forms of theirs; what was worked out of them is shared."""
        layers = type(self)({**self._tables, **tables}, frame=self.frame)
        layers._derived = self._derived
        return layers

    @staticmethod
    def refuse_undeclared(step: Declaration, output: "Mapping[str, pd.DataFrame]") -> None:
        """Refuse what a step made if it is other tables than it declared."""
        promised = {*step.gives, *_by_layer(step.extends), *step.adds}
        if set(output) != promised:
            raise StepError(
                f"Step '{step.name}' declared {sorted(promised)} and made {sorted(output)}; "
                "it must return exactly those."
            )

    def laid(self, step: Declaration, name: str, new: "pd.DataFrame", old: "pd.DataFrame | None") -> "pd.DataFrame":
        """One table with what a step made of it, as `after` lays it; `old` is None where there is none yet."""
        if name in step.gives:
            return self._given(step, name, new, old)
        if old is None:
            old = self[name]  # which says what there is
        columns = _by_layer(step.extends).get(name)
        if columns is not None:
            return self._extended(step, name, columns, new, old)
        return self._added(step, name, new, old)

    def _given(self, step: Declaration, name: str, table: "pd.DataFrame", old: "pd.DataFrame | None") -> "pd.DataFrame":
        if old is not None:
            raise StepError(f"Step '{step.name}' gives '{name}', which is already there; use extends or adds.")
        if "geometry" in table.columns and getattr(table, "crs", None) is None:
            raise StepError(f"Layer '{name}' of step '{step.name}' has a geometry but not the job's frame.")
        return table

    def _extended(
        self, step: Declaration, name: str, columns: list[str], new: "pd.DataFrame", old: "pd.DataFrame"
    ) -> "pd.DataFrame":
        if list(new.columns) != columns:
            raise StepError(f"Step '{step.name}' declared {name}.{columns} and made {list(new.columns)}.")
        if clash := [column for column in columns if column in old.columns]:
            raise StepError(f"Step '{step.name}' would change the old columns {clash} of '{name}'.")
        if not new.index.equals(old.index):
            raise StepError(f"Step '{step.name}' returned other rows for '{name}' than it was given.")
        return old.assign(**{column: new[column] for column in columns})

    def _added(self, step: Declaration, name: str, new: "pd.DataFrame", old: "pd.DataFrame") -> "pd.DataFrame":
        import pandas as pd

        if name in TABLES:
            new = conform(name, new)
            known = {*old.columns, *IN_SOME_JOBS, "geometry"}
            if strange := [column for column in new.columns if column not in known]:
                raise StepError(f"Step '{step.name}' adds unknown columns {strange} to '{name}'.")
        if len(new) == 0:
            return old
        # only the new rows are given a geometry; the old ones have theirs
        new = placed(name, new.reset_index(drop=True), self.frame)
        whole = new if len(old) == 0 else pd.concat([old, new], ignore_index=True)
        if PLACED.get(name, "Point") != "Point":
            whole = shaped(whole, list(whole["geometry"]), self.frame)
        if name == "findings" and whole["finding"].duplicated().any():
            twice = whole.loc[whole["finding"].duplicated(), "finding"].iloc[0]
            raise StepError(f"Step '{step.name}' adds a second finding {twice}; ids must be unique.")
        return whole

    def __getstate__(self) -> dict[str, Any]:
        """What is only derived stays behind: another process works it out again."""
        return {**vars(self), "_derived": {}}

    def __repr__(self) -> str:
        rows = ", ".join(f"{name} {len(table)}" for name, table in sorted(self._tables.items()))
        return f"Layers({rows}; {self.frame.horizontal_name}, {self.frame.unit.name})"


def placed(name: str, table: "pd.DataFrame", frame: Frame) -> "pd.DataFrame":
    """Give a table of points its geometry from easting and northing; others pass unchanged.

    Rows without a position get no geometry, never a point at 0, 0. A point that a row has already, at just its easting
    and northing, is kept: making points is dear.
    """
    if PLACED.get(name) != "Point":
        return table
    import geopandas
    import numpy as np
    import shapely

    easting = table["easting"].to_numpy(float)
    northing = table["northing"].to_numpy(float)
    there = np.isfinite(easting) & np.isfinite(northing)
    geometry = np.full(len(table), None, dtype=object)
    if "geometry" in table.columns and table["geometry"].dtype == "geometry":
        given = np.asarray(table["geometry"], dtype=object)
        fits = there & (shapely.get_x(given) == easting) & (shapely.get_y(given) == northing)
        geometry[fits], there = given[fits], there & ~fits
    geometry[there] = shapely.points(easting[there], northing[there])
    return geopandas.GeoDataFrame(table, geometry=geometry, crs=frame.horizontal_wkt or None)


def shaped(
    table: "pd.DataFrame", geometry: "Sequence[BaseGeometry | None] | np.ndarray", frame: Frame
) -> "gpd.GeoDataFrame":
    """Give a table its geometry, in the job's frame."""
    import geopandas

    return geopandas.GeoDataFrame(table, geometry=geometry, crs=frame.horizontal_wkt or None)


def _by_layer(names: tuple[str, ...]) -> dict[str, list[str]]:
    grouped: dict[str, list[str]] = {}
    for name in names:
        layer, _, column = name.partition(".")
        grouped.setdefault(layer, []).append(column)
    return grouped
