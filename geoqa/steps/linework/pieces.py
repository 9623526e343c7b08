"""Lines of a crew taken apart: at its words, at gaps, at jumps from one design line to another."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.kernels.linework.order import long_legs
from geoqa.model.quantity import LengthUnit
from geoqa.steps.linework.line_words import LineWords
from geoqa.steps.shots.strings import String, legs, strings_of

OUTLINE = 4
"""Fewest shots of a line that closes by coming back to its first shot."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Piece:
    """One line.

    Attributes
    ----------
    name : str
        Code and line ID; from the second piece on with its number.
    code, line_id : str
    turn : int
        0, but for a line that was shot again: then 1 for its second pass, and so on.
    part : int
        Number of the piece within one pass of what bears one code and line ID, from 1.
    rows : (k,) int64
        Places in `shots`, in order; no two in a row at one place in plan.
    again : dict of int to int
        Shots at the place of the one before them, or that come back to the first: to the place in `rows` of that one.
    curving : (k,) bool
    closed : bool
    ended : {"", "word", "gap", "jump"}
        Why it ends there, where its shots go on.
    gap : float
        Length of the leg that is not drawn behind it; NaN for none.
    """

    name: str
    code: str
    line_id: str
    turn: int
    part: int
    rows: np.ndarray
    again: dict[int, int]
    curving: np.ndarray
    closed: bool
    ended: str
    gap: float


def pieces_of(
    shots: pd.DataFrame,
    words: LineWords,
    unit: LengthUnit,
    *,
    leaves: Callable[[int, int], bool],
    greatest: float | None,
    least: float,
    times: float,
    closes: float,
) -> Iterator[Piece]:
    """Lines of shots that count.

    Parameters
    ----------
    shots : DataFrame
        Only those that count, and whose code is that of a line.
    words : LineWords
        Of the same shots.
    unit : LengthUnit
        Of the coordinates.
    leaves : callable
        Whether the leg between two shots, by their places, goes from one design line to another that lies apart.
    greatest : float or None
        Longest leg that is drawn, where the job states it; else three usual ones.
    least, times : float
        As in `geoqa.kernels.linework.order.long_legs`.
    closes : float
        A line whose last shot comes back to its first by no more than this is closed.

    Yields
    ------
    Piece
        Also those of a single shot, which make no line.
    """
    places = np.column_stack([shots["easting"].to_numpy(float), shots["northing"].to_numpy(float)])
    for string in strings_of(shots, unit, least=1):
        part = 0
        for own in _by_file(shots, string):
            ended = _ends(places, own, words, leaves, greatest=greatest, least=least, times=times)
            cuts = np.flatnonzero(ended != "") + 1
            length = legs(places, own)
            for rows, last in zip(np.split(own, cuts), [*(cuts - 1).tolist(), len(own) - 1], strict=True):
                part += 1
                stops = last < len(own) - 1
                yield _piece(
                    places, rows, words, string, part, closes=closes,
                    ended=str(ended[last]) if stops else "", gap=float(length[last]) if stops else np.nan,
                )  # fmt: skip


def _by_file(shots: pd.DataFrame, string: String) -> list[np.ndarray]:
    """Rows of a string; file by file where two files number their shots alike: two lines that bear one name."""
    sequence, source = shots["sequence"].iloc[string.rows], shots["source"].iloc[string.rows]
    if source.nunique() < 2 or sequence.isna().any() or not sequence.duplicated().any():
        return [string.rows]
    return [string.rows[(source == name).to_numpy()] for name in sorted(source.unique())]


def _ends(
    places: np.ndarray,
    rows: np.ndarray,
    words: LineWords,
    leaves: Callable[[int, int], bool],
    *,
    greatest: float | None,
    least: float,
    times: float,
) -> np.ndarray:
    """Why the line ends behind each shot but the last; empty text where it goes on."""
    length = legs(places, rows)
    ended = np.full(len(length), "", dtype=object)
    ended[long_legs(length, greatest=greatest, least=least, times=times)] = "gap"
    for leg in np.flatnonzero(length > least).tolist():
        if leaves(int(rows[leg]), int(rows[leg + 1])):
            ended[leg] = "jump"
    ended[(words.end[rows] | words.close[rows])[:-1] | words.start[rows][1:]] = "word"
    return ended


def _piece(
    places: np.ndarray,
    rows: np.ndarray,
    words: LineWords,
    string: String,
    part: int,
    *,
    closes: float,
    ended: str,
    gap: float,
) -> Piece:
    fresh = np.append(True, legs(places, rows) > 0) if len(rows) else np.zeros(0, dtype=bool)
    kept = rows[fresh]
    place = np.cumsum(fresh) - 1
    again = {int(row): int(at) for row, at, new in zip(rows, place, fresh, strict=True) if not new}
    curving = np.bincount(place, words.arc[rows], len(kept)) > 0
    closed = bool(words.close[rows].any()) and len(kept) > 2
    if len(kept) > OUTLINE and float(legs(places, kept[[0, -1]])[0]) <= closes:
        closed = True
        again |= {int(kept[-1]): 0}
        kept, curving = kept[:-1], curving[:-1]
    return Piece(
        name=string.name if part == 1 else f"{string.name} ({part})",
        code=string.code, line_id=string.line_id, turn=string.turn, part=part, rows=kept, again=again, curving=curving,
        closed=closed, ended=ended, gap=gap,
    )  # fmt: skip
