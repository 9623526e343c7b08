"""Steps of a very large job that need the whole: run once, and shared out to the parts."""

from collections.abc import Mapping
from dataclasses import is_dataclass
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.batch.cut.gathered import NOWHERE, SPOOLED, Carried, Gathered, Pieces, Tables
from geoqa.batch.cut.kept import BARE, LIST, read_tables, write_tables
from geoqa.batch.cut.work import WHOLE, folder_of
from geoqa.errors import StepError
from geoqa.job.execute import made_by
from geoqa.job.memory import give_back
from geoqa.model.tables.columns import empty
from geoqa.model.tables.layer import placed

if TYPE_CHECKING:
    import pandas as pd

NOT_SHARED = ("findings", "evidence", "notes")
"""What a step of the whole job adds to these stays with the whole: no step that runs in parts reads it."""


LIGHT = 64
"""Bytes a shot up to which something that is derived is kept for the next step."""


class Whole:
    """Runs steps on the shots of all parts; tables that were put together are kept for the next of them.

    Parameters
    ----------
    pieces : Pieces
    """

    def __init__(self, pieces: Pieces) -> None:
        self._pieces = pieces
        self._known: dict[str, Carried] = {}
        self._keys: tuple[pd.Series, np.ndarray] | None = None
        self._derived: dict[str, Any] = {}

    def layers(self, done: int, *, bare: bool = True) -> Gathered:
        """The layers of the whole job after so many steps.

        Parameters
        ----------
        done : int
        bare : bool
            Whether the points of large tables are left out.
        """

        def table(name: str) -> Any:
            made = self.table(name, done)[0]
            return made if bare or name not in BARE else placed(name, made, pieces.frame)

        pieces = self._pieces
        cut = partial(pieces.apart, done) if pieces.alike else None
        layers = Gathered(Tables(pieces.names(done), table), frame=pieces.frame, cut=cut)
        if bare:
            layers.share(self._derived)
        return layers

    def table(self, name: str, done: int) -> "tuple[pd.DataFrame, np.ndarray]":
        """A table after so many steps, and the part of each of its rows."""
        known = self._known.get(name)
        if known is None or known.done > done:
            known = self._pieces.begin(name)
        known = self._known[name] = self._pieces.carried(name, known, done)
        return known.table, known.origin

    def rest(self, name: str) -> "pd.DataFrame":
        """Rows of a table, after every step, that are given to no part."""
        table, origin = self.table(name, len(self._pieces.steps))
        if name not in NOT_SHARED:
            origin = self._of_shots(table)
        rest = table[origin == NOWHERE].reset_index(drop=True)
        return placed(name, rest, self._pieces.frame) if name in BARE else rest

    def refuse_twice(self) -> None:
        """Names of findings are once in the whole job; within a part this is known already."""
        name = twice(self.table("findings", len(self._pieces.steps))[0]["finding"])
        if name is not None:
            raise StepError(f"There is a second finding {name}; ids must be unique.")

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
        rows = {name: None if each is None else grouped(each, len(self._pieces.parts)) for name, each in of.items()}
        for part, folder in todo:
            mine = {
                name: _shared(name, made[name], None if each is None else each[part]) for name, each in rows.items()
            }
            write_tables(mine, folder_of(self._pieces.work / folder, number, step))

    def count(self, number: int) -> None:
        """Notes of a step that ran in parts, of the whole: what it counts, it counts in all of them."""
        step = self._pieces.steps[number]
        place = folder_of(self._pieces.work / WHOLE, number, step)
        if not (place / LIST).is_file():
            write_tables({"notes": self._made(number)["notes"]}, place)

    def _made(self, number: int) -> "Mapping[str, pd.DataFrame]":
        step = self._pieces.steps[number]
        made = made_by(step, self.layers(number, bare=type(step).__module__.partition(".")[0] == "geoqa"))
        self._tidy()
        return made

    def _tidy(self) -> None:
        """Keep what is derived for the next step only where it is small, and give back memory that nobody holds.

        The C library keeps what lies between things that are still used: of a million shots 0.4 GB after forty steps.
        """
        known = self._known.get("shots")
        most = LIGHT * max(len(known.table) if known is not None else 0, SPOOLED)
        self._derived = {name: held for name, held in self._derived.items() if size_of(held[1]) <= most}
        give_back()

    def _owner(self, number: int, name: str, table: "pd.DataFrame") -> np.ndarray | None:
        """Part that each row of a table is of; None where every part takes all of it."""
        step = self._pieces.steps[number]
        if name in step.adds:
            return np.full(len(table), NOWHERE) if name in NOT_SHARED else self._of_shots(table)
        if name in step.gives:
            return self._of_shots(table) if "shot_key" in table.columns else None
        return self.table(name, number)[1]

    def _of_shots(self, table: "pd.DataFrame") -> np.ndarray:
        if self._keys is None:
            begin = self._pieces.begin("shots")
            self._keys = begin.table["shot_key"], begin.origin
        keys, origin = self._keys
        if not len(table):
            return np.zeros(0, np.int32)
        if len(table) == len(keys) and keys.equals(table["shot_key"].reset_index(drop=True)):
            return origin
        return owners(table["shot_key"], keys, origin)


def size_of(thing: Any) -> int:
    """Bytes of arrays and tables in something, wherever they lie in it.

    Examples
    --------
    >>> size_of((np.zeros(4), {"a": [np.zeros(2)]}, "text"))
    48
    """
    import pandas as pd

    if isinstance(thing, pd.DataFrame):
        return int(thing.memory_usage(index=False).sum())
    if isinstance(thing, np.ndarray | pd.Series | pd.Index):
        return int(thing.nbytes)
    if isinstance(thing, dict):
        return sum(map(size_of, thing.values()))
    if isinstance(thing, list | tuple):
        return sum(map(size_of, thing))
    return sum(map(size_of, vars(thing).values())) if is_dataclass(thing) else 0


def owners(asked: "pd.Series", keys: "pd.Series", origin: np.ndarray) -> np.ndarray:
    """Part of each shot that is asked for by its key; nowhere where there is none.

    A part at a time, the likeliest first: one table of all keys would take more memory than all else.

    Parameters
    ----------
    asked : (m,) Series of str
    keys : (n,) Series of str
        Of all shots.
    origin : (n,) int array
        Part of each, never falling.

    Examples
    --------
    >>> import pandas as pd
    >>> keys = pd.Series(["a/1", "a/2", "b/1"], dtype="str")
    >>> owners(pd.Series(["b/1", "c/1", "a/2", None], dtype="str"), keys, np.array([0, 0, 1])).tolist()
    [1, -1, 0, -1]
    """
    import pandas as pd
    import pyarrow as pa

    wanted, known = (_texts(each) for each in (asked, keys))
    parts = int(origin[-1]) + 1 if len(origin) else 0
    starts = np.searchsorted(origin, np.arange(parts + 1))
    slices = [known.slice(start, end - start) for start, end in pairwise(starts.tolist())]
    # a key begins with the name of its file, and a file is of one part
    of_file = {file: part for part, mine in enumerate(slices) for file in _files(mine).dictionary.to_pylist()}
    files = _files(wanted)
    likely = np.array([of_file.get(each, NOWHERE) for each in files.dictionary.to_pylist()], np.int32)
    guess = likely[files.indices.fill_null(0).to_numpy()] if len(likely) else np.full(len(asked), NOWHERE, np.int32)
    of = np.full(len(asked), NOWHERE, np.int32)

    def look(rows: np.ndarray, part: int) -> None:
        if len(rows):
            found = pa.compute.index_in(wanted.take(pa.array(rows)), value_set=slices[part], skip_nulls=True)
            of[rows[found.is_valid().to_numpy(zero_copy_only=False)]] = part

    for part, rows in enumerate(grouped(guess, parts)):
        look(rows, part)
    for part in range(parts):
        look(np.flatnonzero((of == NOWHERE) & pd.notna(asked).to_numpy()), part)
    return of


def twice(names: "pd.Series") -> str | None:
    """A name that is there more than once; where all are of one length, without a table of them.

    Examples
    --------
    >>> import pandas as pd
    >>> twice(pd.Series(["F1", "F2", "F1"], dtype="str")), twice(pd.Series(["F1", "F2"], dtype="str"))
    ('F1', None)
    """
    whole = _texts(names)
    _, ends, data = whole.buffers()
    ends = np.frombuffer(ends, np.int64)[whole.offset : whole.offset + len(whole) + 1] if len(whole) else np.zeros(1)
    width = int(ends[1] - ends[0]) if len(whole) else 0
    if not width or whole.null_count or not (np.diff(ends) == width).all():
        again = names[names.duplicated()]
        return str(again.iloc[0]) if len(again) else None
    ordered = np.sort(np.frombuffer(data, np.uint8)[ends[0] : ends[-1]].view(f"S{width}"))
    same = np.flatnonzero(ordered[1:] == ordered[:-1])
    return bytes(ordered[same[0]]).decode("utf-8") if len(same) else None


def _texts(column: "pd.Series") -> Any:
    """Text as one array."""
    import pyarrow as pa

    made = pa.array(column.array, pa.large_string())
    return made.combine_chunks() if isinstance(made, pa.ChunkedArray) else made


def _files(keys: Any) -> Any:
    """What stands before the last stroke of keys, each text once."""
    import pyarrow.compute as pc

    return pc.replace_substring_regex(keys, "/[^/]*$", "").dictionary_encode()


def grouped(of: np.ndarray, groups: int) -> list[np.ndarray]:
    """Rows of each group, in their order; rows of none are left out.

    Examples
    --------
    >>> [each.tolist() for each in grouped(np.array([1, 0, -1, 1]), 3)]
    [[1], [0, 3], []]
    """
    order = np.argsort(of, kind="stable")
    return np.split(order, np.searchsorted(of[order], np.arange(groups + 1)))[1:-1]


def _shared(name: str, table: "pd.DataFrame", rows: np.ndarray | None) -> "pd.DataFrame":
    """Rows of a table that a part is given."""
    if rows is None:
        return table
    if not len(rows) and name in NOT_SHARED:
        return empty(name)
    return table.take(rows).reset_index(drop=True)


def left_with_the_whole(pieces: Pieces) -> list[Path]:
    """Folders of what steps of the whole job made."""
    places = [folder_of(pieces.work / WHOLE, number, step) for number, step in enumerate(pieces.steps)]
    return [each for each in places if (each / LIST).is_file()]
