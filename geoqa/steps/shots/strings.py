"""Strings: the shots a crew joined to one line, in order; a line that was shot again is a string of its own."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.linework.passes import FEWEST, end_to_end, going_on, passes
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import codes_of

BESIDE = Length.parse("0.3 ft")
"""A shot no farther from a leg of its string lies on ground that the string covers already. A rod is set on an edge
twice within 0.1 ft, and u of a shot in plan is seldom 0.1 ft; the thinnest thing whose two sides bear one line ID, a
curb, is 0.5 ft. Common practice, no source."""
ONE_PLACE = Length.parse("0.5 ft")
"""Neighbours of a string no farther apart are taken for one place. Common practice, no source."""
PAUSE = 30.0
"""Minutes without a shot of a line after which a crew comes back to it. Common practice, no source."""
USUAL = 5.0
"""Times the usual time between two shots of a line that such a pause lasts at the least: some crews are slow."""

_TURNS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@dataclass(frozen=True, eq=False)
class String:
    """One string.

    Attributes
    ----------
    code, line_id : str
    rows : (k,) int64
        Places in `shots`, in the order of the line: by sequence, else by time, else as written. Shots of one sequence
        number, or of one moment, stand as they are written in their files, whatever the order of the rows; where a
        sequence starts again, what bears it stands behind the shots of before.
    turn : int
        0, but for what was shot of a line after it had been shot: then 1 for its second pass, and so on.
    again : bool
        No line, but the single places of a line that were taken again.
    fresh : (k,) bool
        Shots that lie on ground which no earlier shot of the line covers; all of them in a first pass.
    """

    code: str
    line_id: str
    rows: np.ndarray
    turn: int = 0
    again: bool = False
    fresh: np.ndarray | None = None

    @property
    def name(self) -> str:
        """Code and line ID, as the crew writes them; of a later pass also which one it is."""
        if self.again:
            return f"{self.code} {self.line_id}, places shot again"
        return f"{self.code} {self.line_id}{pass_words(self.turn)}"


def pass_words(turn: int) -> str:
    """What is put behind the name of a line for one of its passes.

    Examples
    --------
    >>> pass_words(0), pass_words(1)
    ('', ', second pass')
    """
    return f", {_TURNS[turn]} pass" if turn else ""


_PASS = re.compile(rf", (?:{'|'.join(_TURNS[1:])}) pass")


def without_pass(name: str) -> str:
    """Name of what several passes are of: of a string, or of the pair of two.

    Examples
    --------
    >>> without_pass("WLF 2, second pass / WLB 2, second pass")
    'WLF 2 / WLB 2'
    """
    return _PASS.sub("", name)


def strings_of(shots: pd.DataFrame, unit: LengthUnit, *, least: int = 2, again: bool = False) -> list[String]:
    """Strings of at least `least` features with a code, a line ID and a position.

    Parameters
    ----------
    shots : DataFrame
    unit : LengthUnit
        Of their coordinates.
    least : int
    again : bool
        Also single places that were taken again: they lie beside a line, and make none.
    """
    usable = shots[["code", "line_id", "easting", "northing"]].notna().all(axis=1)
    if "role" in shots:
        usable &= shots["role"] == "feature"
    rows = np.flatnonzero(usable)
    if not len(rows):
        return []
    narrow = pd.DataFrame(shots[["code", "line_id", "sequence", "time", "source", "line"]]).iloc[rows]
    group, names = codes_of(narrow["code"].str.strip(), narrow["line_id"].str.strip())
    sequence = narrow["sequence"].to_numpy(float, na_value=np.nan)
    time = np.where(narrow["time"].notna(), narrow["time"].to_numpy("datetime64[us]").astype("int64"), np.nan)
    written = np.empty(len(rows), dtype=np.int64)
    written[np.lexsort((narrow["line"], pd.factorize(narrow["source"], sort=True)[0]))] = np.arange(len(rows))
    visit = _visits(shots, rows)
    ordered = []
    for members in np.split(np.argsort(group, kind="stable"), np.cumsum(np.bincount(group))[:-1]):
        order = _order(sequence[members], time[members], written[members], visit[members])
        ordered.append(members[order])
    made: list[String] = []
    for number, parts in enumerate(_taken_apart(shots, rows, ordered, (sequence, time, visit), unit)):
        made += [
            String(names[number][0], names[number][1], rows[members], turn=turn, again=turn < 0, fresh=fresh)
            for turn, members, fresh in parts
        ]
    return chosen(made, least=least, again=again)


def chosen(strings: Iterable[String], *, least: int = 2, again: bool = False) -> list[String]:
    """Of all strings those that are asked for, as `strings_of` has it."""
    return [each for each in strings if (again if each.again else len(each.rows) >= least)]


def strings_in(layers: Layers, *, least: int = 2, again: bool = False) -> list[String]:
    """`strings_of` all shots of a job, worked out once; the strings are shared and must not be changed."""
    made: list[String] = layers.derived(
        "strings of shots", ("shots",), lambda: strings_of(layers["shots"], layers.frame.unit, least=1, again=True)
    )
    return chosen(made, least=least, again=again)


def _visits(shots: pd.DataFrame, rows: np.ndarray) -> np.ndarray:
    """Number of the file and session of each row."""
    of = pd.DataFrame({"source": shots["source"].iloc[rows]})
    of["session"] = shots["session"].iloc[rows] if "session" in shots else None
    return of.groupby(["source", "session"], sort=True, dropna=False).ngroup().to_numpy()


def _order(sequence: np.ndarray, time: np.ndarray, written: np.ndarray, visit: np.ndarray) -> np.ndarray:
    known = next((key for key in (sequence, time) if not np.isnan(key).any()), written)
    if known is sequence and len(np.unique(sequence)) < len(sequence):
        rank = written if np.isnan(time).any() else time
        return _by_starts(sequence, rank, written, visit)
    return np.lexsort((written, np.nan_to_num(time), known))


def _by_starts(sequence: np.ndarray, time: np.ndarray, written: np.ndarray, visit: np.ndarray) -> np.ndarray:
    """Order of shots whose sequence starts again: start by start, where most numbers of one stand in those before it.

    A start begins with a visit, or within one where the sequence goes back in time to a number that was given.
    """
    by_time = np.lexsort((written, time))
    first = {int(each): place for place, each in reversed(list(enumerate(visit[by_time].tolist())))}
    starts: list[list[int]] = []
    for each in sorted(first, key=first.__getitem__):
        mine = by_time[visit[by_time] == each]
        if len(np.unique(sequence[mine])) == len(mine):
            starts.append(mine[np.argsort(sequence[mine], kind="stable")].tolist())
            continue
        back = np.flatnonzero(np.diff(sequence[mine]) <= 0) + 1
        starts += [part.tolist() for part in np.split(mine, back)]
    given: set[float] = set(sequence[starts[0]].tolist())
    for start in starts[1:]:
        numbers = set(sequence[start].tolist())
        if 2 * len(numbers & given) < min(len(numbers), len(given)):
            return np.lexsort((written, time, sequence))
        given |= numbers
    return np.array([row for start in starts for row in start], dtype=np.int64)


def _taken_apart(
    shots: pd.DataFrame,
    rows: np.ndarray,
    ordered: list[np.ndarray],
    known: tuple[np.ndarray, np.ndarray, np.ndarray],
    unit: LengthUnit,
) -> Iterator[list[tuple[int, np.ndarray, np.ndarray | None]]]:
    """Passes of each string, as turn (-1: single places again), members and whether each lies on new ground."""
    places, one = places_of(shots)[rows], ONE_PLACE.to(unit)
    begin = np.cumsum([0, *(len(each) for each in ordered[:-1])])
    plain = going_on(places[np.concatenate(ordered)], begin, one_place=one)
    for members, simple in zip(ordered, plain.tolist(), strict=True):
        visit = np.zeros(0) if simple else np.cumsum(_later(*(each[members] for each in known)))
        if simple or len(members) < FEWEST + (3 if visit[-1] == visit[0] else 0):
            yield [(0, members, None)]
            continue
        found = passes(places[members], _begins(visit), beside=BESIDE.to(unit), one_place=one)
        turn = np.where(found.again, -1, found.turn)
        parts = []
        for each in np.unique(turn).tolist():
            mine = np.flatnonzero(turn == each)
            mine = mine[end_to_end(places[members[mine]], _begins(visit[mine]), one_place=one)]
            parts.append((each, members[mine], found.fresh[mine] if each else None))
        yield parts


def _begins(visit: np.ndarray) -> np.ndarray:
    return np.append(False, np.diff(visit) != 0)


def _later(sequence: np.ndarray, time: np.ndarray, visit: np.ndarray) -> np.ndarray:
    """Where a crew came to a line another time, in the order of the line."""
    with np.errstate(invalid="ignore"):
        apart = np.abs(np.diff(time))
        usual = np.median(apart) if len(apart) and not np.isnan(apart).any() else 0.0
        pause = apart > max(PAUSE * 60e6, USUAL * usual)
        restart = np.diff(sequence) <= 0
    return np.append(False, pause | restart | (np.diff(visit) != 0))


def counted_once(string: String) -> list[np.ndarray]:
    """Shots of a string that lie on ground of their own, stretch by stretch: what adds up takes these alone.

    All of a first pass in one; of a later one what no earlier pass covers.
    """
    if string.fresh is None:
        return [string.rows]
    cuts = np.flatnonzero(np.diff(string.fresh)) + 1
    parts = zip(np.split(string.rows, cuts), np.split(string.fresh, cuts), strict=True)
    return [rows for rows, fresh in parts if fresh[0]]


def turns_of(layers: Layers) -> np.ndarray:
    """Pass of its line that each shot of a job is of, shape (n,); 0 also for what is in no line."""

    def made() -> np.ndarray:
        turn = np.zeros(len(layers["shots"]), dtype=np.int64)
        for string in strings_in(layers):
            turn[string.rows] = string.turn
        return turn

    turns: np.ndarray = layers.derived("passes of shots", ("shots",), made)
    return turns


def places_of(shots: pd.DataFrame) -> np.ndarray:
    """Easting and northing of all shots, shape (n, 2)."""
    return np.column_stack([shots["easting"].to_numpy(float), shots["northing"].to_numpy(float)])


def legs(places: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Plan distance between each shot of a string and the next, shape (k - 1,)."""
    return np.hypot(*np.diff(places[rows], axis=0).T)
