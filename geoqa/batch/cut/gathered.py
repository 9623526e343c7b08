"""The layers of a job whose shots lie in parts, put together again for a step that needs the whole."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.batch.cut.kept import read_tables
from geoqa.batch.cut.work import BASE, START, WHOLE, folder_of
from geoqa.errors import LayerError
from geoqa.model.frame import Frame
from geoqa.model.step import Step
from geoqa.model.tables.columns import STARTING, empty
from geoqa.model.tables.layer import Layers, placed

if TYPE_CHECKING:
    import pandas as pd

NOWHERE = -1
"""Part of a row that a step of the whole job made."""


class Tables(Mapping[str, Any]):
    """Tables that are put together when they are asked for."""

    def __init__(self, names: Collection[str], make: Callable[[str], Any]) -> None:
        self._names, self._make = dict.fromkeys(names), make

    def __getitem__(self, name: str) -> Any:
        if name not in self._names:
            raise KeyError(name)
        return self._make(name)

    def __iter__(self) -> Iterator[str]:
        return iter(self._names)

    def __len__(self) -> int:
        return len(self._names)


class Gathered(Layers):
    """Layers of which a table is put together when a step asks for it."""

    def __init__(self, tables: Tables, *, frame: Frame) -> None:
        super().__init__({}, frame=frame)
        self._tables = tables  # type: ignore[assignment]

    def share(self, derived: dict[str, Any]) -> None:
        """Take what is only derived from a place that other layers of the same job use too."""
        self._derived = derived

    def __getitem__(self, name: str) -> Any:
        if name not in self._tables:
            brief = f"There is no layer '{name}' here"
            raise LayerError(f"{brief}; there are {', '.join(sorted(self._tables))}.", brief)
        return self._tables[name]


@dataclass(frozen=True, kw_only=True, eq=False)
class Pieces:
    """Everything on disk that the whole is put together from.

    Attributes
    ----------
    work : Path
    parts : tuple of str
        Folders of the parts, in order.
    frame : Frame
    steps : tuple of Step
    alone : frozenset of int
        Numbers of the steps that ran in parts.
    first : tuple of str
        Names of the tables that were read.
    """

    work: Path
    parts: tuple[str, ...]
    frame: Frame
    steps: tuple[Step, ...]
    alone: frozenset[int]
    first: tuple[str, ...]

    def names(self, done: int) -> list[str]:
        """Tables that are there after so many steps."""
        names = dict.fromkeys([*self.first, "shots", *STARTING])
        for step in self.steps[:done]:
            names |= dict.fromkeys(step.gives)
        return list(names)

    def begin(self, name: str) -> "tuple[pd.DataFrame, np.ndarray]":
        """A table before the first step, and the part of each row."""
        return self._first(name)

    def carried(
        self, name: str, begin: "tuple[int, pd.DataFrame, np.ndarray]", done: int
    ) -> "tuple[pd.DataFrame, np.ndarray]":
        """A table that is known after some steps, after so many, and the part of each row."""
        known, table, origin = begin
        for number in range(known, done):
            step = self.steps[number]
            more = any(each.partition(".")[0] == name for each in step.extends)
            if name in step.gives or name in step.adds or more:
                table, origin = self._laid(number, name, table, origin)
        return table, origin

    def _laid(
        self, number: int, name: str, table: "pd.DataFrame", origin: np.ndarray
    ) -> "tuple[pd.DataFrame, np.ndarray]":
        """What one step did to a table, laid over it."""
        step = self.steps[number]
        made, of = self._made(number, name)
        if name in step.gives:
            return made, of
        if name in step.adds:
            # the same step, as if it added to nothing else
            alone: Any = type(step.name, (), {"name": step.name, "gives": (), "extends": (), "adds": (name,)})
            laid = Layers({name: table}, frame=self.frame).after(alone, {name: made})[name]
            return laid, np.concatenate([origin, of]) if len(made) else origin
        whole = made.set_axis(table.index)
        return table.assign(**{column: whole[column] for column in whole.columns}), origin

    def _first(self, name: str) -> "tuple[pd.DataFrame, np.ndarray]":
        if name == "shots":
            return self._joined([self.work / part / START for part in self.parts], name)
        if name in self.first:
            table = read_tables(self.work / BASE, self.frame, [name])[name]
        elif name in STARTING:
            table = placed(name, empty(name), self.frame)
        else:
            import pandas as pd

            table = pd.DataFrame()
        return table, np.full(len(table), NOWHERE)

    def _made(self, number: int, name: str) -> "tuple[pd.DataFrame, np.ndarray]":
        """What a step made of a table, and the part of each row."""
        step = self.steps[number]
        counted = folder_of(self.work / WHOLE, number, step)
        if number in self.alone and not (name == "notes" and counted.exists()):
            return self._joined([folder_of(self.work / part, number, step) for part in self.parts], name)
        table = read_tables(folder_of(self.work / WHOLE, number, step), self.frame, [name])[name]
        return table, np.full(len(table), NOWHERE)

    def _joined(self, places: list[Path], name: str) -> "tuple[pd.DataFrame, np.ndarray]":
        import pandas as pd

        tables = [read_tables(place, self.frame, [name])[name] for place in places]
        kept = [each for each in tables if len(each)] or tables[:1]
        whole = pd.concat(kept, ignore_index=True) if len(kept) > 1 else kept[0]
        return whole, np.repeat(np.arange(len(tables)), [len(each) for each in tables])
