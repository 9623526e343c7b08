"""Where a job may be cut: between files that share no session, no string, no design line, and lie apart."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

_SIDES = [(east, north) for east in (-1, 0, 1) for north in (-1, 0, 1)]


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """What of one file of shots may hold it together with another.

    Attributes
    ----------
    source : str
        Name of the file in the job.
    shots : int
    cells : (k,) int64 array
        Squares of the plane in which its shots lie, each once; of `cells_of`.
    names : frozenset of str
        Its sessions and strings.
    """

    source: str
    shots: int
    cells: np.ndarray
    names: frozenset[str]


def cells_of(places: np.ndarray, side: float) -> np.ndarray:
    """Numbers of the squares in which places lie, each once and in order; places that are not known lie nowhere.

    Parameters
    ----------
    places : (n, 2) float64 array
    side : float

    Examples
    --------
    >>> import numpy as np
    >>> cells = cells_of(np.array([[1.0, 1.0], [2.0, 3.0], [70.0, 1.0], [np.nan, 0.0]]), 60.0)
    >>> len(cells), int(cells[1] - cells[0]) == 2**32
    (2, True)
    """
    return np.unique(squares(places[np.isfinite(places).all(axis=1)], side))


def squares(places: np.ndarray, side: float) -> np.ndarray:
    """Number of the square in which each place lies."""
    square = np.floor(places / side).astype(np.int64)
    return np.asarray((square[:, 0] << 32) + square[:, 1])


def around(cells: np.ndarray) -> np.ndarray:
    """Squares and the eight about each: what lies in none of them is farther off than a side."""
    return np.unique(np.concatenate([cells + (east << 32) + north for east, north in _SIDES]))


def cut(files: Sequence[Seen], lines: tuple[np.ndarray, np.ndarray], *, most: int) -> tuple[list[int], np.ndarray]:
    """Parts of a job: files that follow each other, as many as hold no more than `most` shots.

    Parameters
    ----------
    files : sequence of Seen
        In the order of the job.
    lines : two (m,) int64 arrays
        Numbers of design lines or points, and of squares in which they lie.
    most : int
        Shots of a part; one that cannot be cut may have more.

    Returns
    -------
    list of int
        Part of each file.
    numpy.ndarray
        Part of each design line; 0 where no shot is near.
    """
    number, square = lines
    count = int(number.max()) + 1 if len(number) else 0
    near = [around(each.cells) for each in files]
    pairs = _meeting([each.cells for each in files], near)
    order = np.argsort(square, kind="stable")
    ordered = square[order]  # once: each file asks of all lines of the job
    beside = [number[order[_inside(ordered, each)]] for each in near]
    at, of = np.concatenate([np.zeros(0, np.int64), *beside]), np.repeat(np.arange(len(files)), list(map(len, beside)))
    first, last = _spans(at, of, count)
    pairs += list(zip(first[last >= 0].tolist(), last[last >= 0].tolist(), strict=True)) + _named(files)
    part = _grouped([each.shots for each in files], _held(pairs, len(files)), most)
    of_line = np.zeros(count, np.int64)
    of_line[last >= 0] = np.asarray(part, np.int64)[first[last >= 0]]
    return part, of_line


def _inside(ordered: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Places of ordered numbers at which one of the wanted stands, each of which is wanted once.

    Examples
    --------
    >>> _inside(np.array([2, 2, 5, 7]), np.array([7, 2, 3])).tolist()
    [3, 0, 1]
    """
    low, high = np.searchsorted(ordered, wanted), np.searchsorted(ordered, wanted, side="right")
    size = high - low
    begins = np.cumsum(size) - size
    return np.repeat(low - begins, size) + np.arange(size.sum())


def _meeting(cells: list[np.ndarray], near: list[np.ndarray]) -> list[tuple[int, int]]:
    """Files of which one has shots in the squares about those of another."""
    own, owner = np.concatenate(cells), np.repeat(np.arange(len(cells)), [len(each) for each in cells])
    order = np.argsort(own, kind="stable")
    own, owner = own[order], owner[order]
    met = []
    for number, squares in enumerate(near):
        others = np.unique(owner[_inside(own, squares)])
        met += [(min(number, other), max(number, other)) for other in others.tolist() if other != number]
    return met


def _spans(at: np.ndarray, of: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    """First and last file beside each line; -1 as the last where there is none."""
    first, last = np.full(count, np.iinfo(np.int64).max), np.full(count, -1, np.int64)
    np.minimum.at(first, at, of)
    np.maximum.at(last, at, of)
    return first, last


def _named(files: Sequence[Seen]) -> list[tuple[int, int]]:
    """Files that share a session or a string."""
    first: dict[str, int] = {}
    pairs: dict[tuple[int, int], Any] = {}
    for number, each in enumerate(files):
        for name in each.names:
            before = first.setdefault(name, number)
            if before != number:
                pairs[before, number] = None
    return list(pairs)


def _held(pairs: list[tuple[int, int]], count: int) -> np.ndarray:
    """Whether each file is held together with the one before it, be it by two others to either side."""
    open_ends = np.zeros(count + 1, np.int64)
    for one, two in pairs:
        open_ends[one + 1] += 1
        open_ends[two + 1] -= 1
    return np.asarray(np.cumsum(open_ends)[:count] > 0)


def _grouped(shots: list[int], held: np.ndarray, most: int) -> list[int]:
    """Part of each file: a new one begins where nothing is held together and the next piece would make too many."""
    starts = [place for place in range(len(shots)) if not held[place]]
    part, number, inside = [0] * len(shots), -1, 0
    for start, end in zip(starts, [*starts[1:], len(shots)], strict=True):
        size = sum(shots[start:end])
        if number < 0 or inside + size > most:
            number, inside = number + 1, 0
        inside += size
        part[start:end] = [number] * (end - start)
    return part
