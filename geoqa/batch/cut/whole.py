"""Steps of a very large job that need the whole: run once, and shared out to the parts."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.batch.cut.gathered import NOWHERE, Gathered, Pieces, Tables
from geoqa.batch.cut.kept import LIST, read_tables, write_tables
from geoqa.batch.cut.work import WHOLE, folder_of
from geoqa.errors import GeoqaError, StepError
from geoqa.job.execute import refuse_undeclared
from geoqa.model.tables.columns import empty

if TYPE_CHECKING:
    import pandas as pd

NOT_SHARED = ("findings", "evidence", "notes")
"""What a step of the whole job adds to these stays with the whole: no step that runs in parts reads it."""


class Whole:
    """Runs steps on the shots of all parts; tables that were put together are kept for the next of them.

    Parameters
    ----------
    pieces : Pieces
    """

    def __init__(self, pieces: Pieces) -> None:
        self._pieces = pieces
        self._known: dict[str, tuple[int, pd.DataFrame, np.ndarray]] = {}
        self._parts: tuple[Any, np.ndarray] | None = None
        self._derived: dict[str, Any] = {}

    def layers(self, done: int) -> Gathered:
        """The layers of the whole job after so many steps."""
        tables = Tables(self._pieces.names(done), lambda name: self.table(name, done)[0])
        layers = Gathered(tables, frame=self._pieces.frame)
        layers.share(self._derived)
        return layers

    def table(self, name: str, done: int) -> "tuple[pd.DataFrame, np.ndarray]":
        """A table after so many steps, and the part of each of its rows."""
        begin = self._known.get(name)
        if begin is None or begin[0] > done:
            begin = (0, *self._pieces.begin(name))
        self._known[name] = (done, *self._pieces.carried(name, begin, done))
        return self._known[name][1:]

    def rest(self, name: str) -> "pd.DataFrame":
        """Rows of a table, after every step, that are given to no part."""
        table, origin = self.table(name, len(self._pieces.steps))
        if name not in NOT_SHARED:
            origin = self._of_shots(table)
        return table[origin == NOWHERE].reset_index(drop=True)

    def run(self, number: int) -> None:
        """Run a step and keep what it made, for the whole and for every part; what is kept already is believed."""
        step = self._pieces.steps[number]
        place = folder_of(self._pieces.work / WHOLE, number, step)
        if not (place / LIST).is_file():
            write_tables(self._made(number), place)
        todo = [
            (part, name)
            for part, name in enumerate(self._pieces.parts)
            if not (folder_of(self._pieces.work / name, number, step) / LIST).is_file()
        ]
        if not todo:
            return
        made = read_tables(place, self._pieces.frame)
        of = {name: self._owner(number, name, table) for name, table in made.items()}
        for part, folder in todo:
            mine = {name: _shared(name, table, of[name], part) for name, table in made.items()}
            write_tables(mine, folder_of(self._pieces.work / folder, number, step))

    def count(self, number: int) -> None:
        """Notes of a step that ran in parts, of the whole: what it counts, it counts in all of them."""
        step = self._pieces.steps[number]
        place = folder_of(self._pieces.work / WHOLE, number, step)
        if not (place / LIST).is_file():
            write_tables({"notes": self._made(number)["notes"]}, place)

    def _made(self, number: int) -> "Mapping[str, pd.DataFrame]":
        step = self._pieces.steps[number]
        try:
            made = step.run(self.layers(number))
        except GeoqaError:
            raise
        except Exception as error:
            raise StepError(f"Step '{step.name}' failed: {type(error).__name__}: {error}") from error
        refuse_undeclared(step, made)
        return made

    def _owner(self, number: int, name: str, table: "pd.DataFrame") -> np.ndarray | None:
        """Part that each row of a table is of; None where every part takes all of it."""
        step = self._pieces.steps[number]
        if name in step.adds:
            return np.full(len(table), NOWHERE) if name in NOT_SHARED else self._of_shots(table)
        if name in step.gives:
            return self._of_shots(table) if "shot_key" in table.columns else None
        return self.table(name, number)[1]

    def _of_shots(self, table: "pd.DataFrame") -> np.ndarray:
        import pandas as pd

        if self._parts is None:
            shots, origin = self.table("shots", 0)
            self._parts = pd.Index(shots["shot_key"]), origin
        keys, origin = self._parts
        if not len(table):
            return np.zeros(0, np.int64)
        if len(table) == len(keys) and keys.equals(pd.Index(table["shot_key"])):
            return origin
        at = keys.get_indexer(table["shot_key"])
        return np.where(at >= 0, origin[at], NOWHERE)


def _shared(name: str, table: "pd.DataFrame", of: np.ndarray | None, part: int) -> "pd.DataFrame":
    """Rows of a table that a part is given."""
    if of is None:
        return table
    rows = np.flatnonzero(of == part)
    if not len(rows) and name in NOT_SHARED:
        return empty(name)
    return table.take(rows).reset_index(drop=True)


def left_with_the_whole(pieces: Pieces) -> list[Path]:
    """Folders of what steps of the whole job made."""
    places = [folder_of(pieces.work / WHOLE, number, step) for number, step in enumerate(pieces.steps)]
    return [each for each in places if (each / LIST).is_file()]
