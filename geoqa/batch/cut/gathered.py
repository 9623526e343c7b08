"""The layers of a job whose shots lie in parts, put together again for a step that needs the whole."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.batch.cut.kept import BARE, batches_of, read_tables, rows_of
from geoqa.batch.cut.spooled import Spooled, Unfit
from geoqa.batch.cut.work import BASE, START, WHOLE, Place, folder_of, only
from geoqa.errors import LayerError, StepError
from geoqa.model.frame import Frame
from geoqa.model.step import Step
from geoqa.model.tables.columns import IN_SOME_JOBS, STARTING, conform, empty
from geoqa.model.tables.layer import Layers

if TYPE_CHECKING:
    import pandas as pd

NOWHERE = -1
"""Part of a row that a step of the whole job made."""
JUDGE = frozenset({"offsets", "elevations", "positions", "one-place"})
"""Steps that judge single shots against the design, and what stands at one place."""
SPOOLED = 10_000
"""Rows from which on a table of the whole lies in files that are mapped into memory."""


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

    def __init__(
        self, tables: Mapping[str, Any], *, frame: Frame, cut: "Callable[[], Iterable[Layers]] | None" = None
    ) -> None:
        super().__init__({}, frame=frame)
        self._tables = tables  # type: ignore[assignment]
        self._cut = cut

    def share(self, derived: dict[str, Any]) -> None:
        """Take what is only derived from a place that other layers of the same job use too."""
        self._derived = derived

    def apart(self) -> "Iterable[Layers]":
        """The layers of each part, one after another."""
        return (self,) if self._cut is None else self._cut()

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
    spool : Path, optional
        Folder for columns of large tables, of this process alone; without it they are held in memory.
    """

    work: Path
    parts: tuple[str, ...]
    frame: Frame
    steps: tuple[Step, ...]
    alone: frozenset[int]
    first: tuple[str, ...]
    spool: Path | None = None

    def apart(self, done: int) -> "Iterator[Layers]":
        """The layers of each part after so many steps."""
        for part in self.parts:
            yield Place(work=str(self.work), name=part, frame=self.frame, steps=self.steps).layers(done)

    @property
    def alike(self) -> bool:
        """Whether a part says of its shots what the whole says of them: every step that judges them ran in parts."""
        return all(number in self.alone for number, step in enumerate(self.steps) if step.name in JUDGE)

    def names(self, done: int) -> list[str]:
        """Tables that are there after so many steps."""
        names = dict.fromkeys([*self.first, "shots", *STARTING])
        for step in self.steps[:done]:
            names |= dict.fromkeys(step.gives)
        return list(names)

    def begin(self, name: str) -> "Carried":
        """A table before the first step."""
        if name == "shots":
            return self._opened([self.work / part / START for part in self.parts], name)
        if name in self.first:
            table = read_tables(self.work / BASE, self.frame, [name])[name]
        elif name in STARTING:
            table = empty(name)
        else:
            import pandas as pd

            table = pd.DataFrame()
        return Carried(table=table, origin=_origin(len(table)))

    def carried(self, name: str, known: "Carried", done: int) -> "Carried":
        """A table that is known after some steps, after so many."""
        for number in range(known.done, done):
            step = self.steps[number]
            more = any(each.partition(".")[0] == name for each in step.extends)
            if name in step.gives:
                known = self._opened(self._places(number, name), name)
            elif name in step.adds:
                known = self._added(number, name, known)
            elif more:
                known = self._widened(number, name, known)
        return replace(known, done=done)

    def _places(self, number: int, name: str) -> list[Path]:
        """Folders that hold what a step made of a table, one a part; or one, where it was made of the whole."""
        step = self.steps[number]
        counted = folder_of(self.work / WHOLE, number, step)
        if number in self.alone and not (name == "notes" and counted.exists()):
            return [folder_of(self.work / part, number, step) for part in self.parts]
        return [counted]

    def _opened(self, places: list[Path], name: str) -> "Carried":
        """A table that begins with these rows."""
        rows = [rows_of(place, name) for place in places]
        origin = _origin(rows, places)
        if self.spool is not None and sum(rows) >= SPOOLED:
            spooled = Spooled(self.spool)
            with suppress(Unfit):
                spooled.append((batch for place in places for batch in batches_of(place, name)), sum(rows))
                return Carried(table=spooled.table(), origin=origin, spooled=spooled)
        return Carried(table=self._joined(places, name), origin=origin)

    def _added(self, number: int, name: str, known: "Carried") -> "Carried":
        """A table with the rows that a step added to it."""
        places = self._places(number, name)
        rows = [rows_of(place, name) for place in places]
        if not sum(rows):
            return known
        origin = np.concatenate([known.origin, _origin(rows, places)])
        if self.spool is not None and name in STARTING and len(origin) >= SPOOLED:
            spooled = known.spooled
            with suppress(Unfit):
                if spooled is None:
                    spooled = Spooled(self.spool)
                    spooled.append([known.table] if len(known.table) else [], len(known.table))
                batches = (batch for place in places for batch in batches_of(place, name))
                spooled.append((fitting(name, batch, known.table) for batch in batches), sum(rows))
                return replace(known, table=spooled.table(), origin=origin, spooled=spooled)
        made = self._joined(places, name)
        if name in STARTING:
            import pandas as pd

            new = fitting(name, made, known.table)
            whole = pd.concat([known.table, new], ignore_index=True) if len(known.table) else new
        else:
            step = only(self.steps[number], name)
            whole = Layers({name: known.table}, frame=self.frame).after(step, {name: made})[name]
        return replace(known, table=whole, origin=origin, spooled=None)

    def _widened(self, number: int, name: str, known: "Carried") -> "Carried":
        """A table with the columns that a step gave it."""
        places = self._places(number, name)
        if known.spooled is not None:
            with suppress(Unfit):
                known.spooled.widen(batch for place in places for batch in batches_of(place, name))
                return replace(known, table=known.spooled.table())
        made = self._joined(places, name).set_axis(known.table.index)
        return replace(
            known, table=known.table.assign(**{column: made[column] for column in made.columns}), spooled=None
        )

    def _joined(self, places: list[Path], name: str) -> "pd.DataFrame":
        import pandas as pd

        without = ["geometry"] if name in BARE else []
        tables = [read_tables(place, self.frame, [name], without=without)[name] for place in places]
        kept = [each for each in tables if len(each)] or tables[:1]
        return pd.concat(kept, ignore_index=True) if len(kept) > 1 else kept[0]


@dataclass(frozen=True, kw_only=True, eq=False)
class Carried:
    """A table after some steps.

    Attributes
    ----------
    table : DataFrame
    origin : (n,) int32 array
        Part of each row.
    done : int
        After how many steps.
    spooled : Spooled or None
        Files in which its columns lie.
    """

    table: "pd.DataFrame"
    origin: np.ndarray
    done: int = 0
    spooled: Spooled | None = None


def _origin(rows: int | list[int], places: Sequence[Path] = ()) -> np.ndarray:
    """Part of each row of tables, one a part; nowhere, where one table is of the whole."""
    if isinstance(rows, int):
        return np.full(rows, NOWHERE, np.int32)
    if places[0].parent.name == WHOLE:
        return np.full(rows[0], NOWHERE, np.int32)
    return np.repeat(np.arange(len(rows), dtype=np.int32), rows)


def fitting(name: str, new: "pd.DataFrame", old: "pd.DataFrame") -> "pd.DataFrame":
    """Rows that are added to a table, held to its columns as `Layers.after` holds them."""
    new = conform(name, new)
    if strange := [each for each in new.columns if each not in {*old.columns, *IN_SOME_JOBS}]:
        raise StepError(f"Columns {strange} are unknown to '{name}'.")
    return new
