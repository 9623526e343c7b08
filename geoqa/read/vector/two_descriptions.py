"""The table `elements` and the lines drawn beside it: one line described twice, held against each other all along."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import SourceError

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.read.vector.linework import Line

APART = 0.01
"""How far elements may leave each other, or the drawn line, in the file's unit."""


@dataclass(frozen=True, kw_only=True)
class _Pieces:
    """Legs and arcs of many lines, line by line in order; arrays of shape (n,) or (n, 2)."""

    line: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    radius: np.ndarray
    sense: np.ndarray
    station: np.ndarray
    length: np.ndarray
    low: np.ndarray
    high: np.ndarray


def refuse_contradiction(table: pd.DataFrame, lines: list[Line], file: str) -> None:
    """Refuse a file whose elements and drawn lines do not describe the same lines.

    Parameters
    ----------
    table : DataFrame
        Elements in the order of `lines`, one block a line.
    lines : list of Line
    file : str

    Raises
    ------
    SourceError
        A vertex of a drawn line lies off its elements, the end of an element off the drawn line, or an elevation
        differs where both have one, by more than `APART`.
    """
    if not lines:
        return
    judged, seen = _judged(table, lines), _seen(lines)
    away, fraction, piece = _nearest(_vertices(seen), seen, judged)
    at, high = _vertices(seen), np.concatenate([seen.low, seen.high])
    whose = np.concatenate([seen.line, seen.line])
    back, _, _ = _nearest(_vertices(judged), judged, seen)
    places = np.concatenate([at, _vertices(judged)])
    owners = np.concatenate([whose, judged.line, judged.line])
    worst = np.concatenate([away, back])
    if (worst > APART).any():
        row, count = int(np.argmax(worst)), len(np.unique(owners[worst > APART]))
        _refuse(file, lines[owners[row]], f"lies {worst[row]:.3f} beside its elements", places[row], count)
    stated = judged.low[piece] + fraction * (judged.high[piece] - judged.low[piece])
    rise = np.abs(np.nan_to_num(high - stated))
    if (rise > APART).any():
        row, count = int(np.argmax(rise)), len(np.unique(whose[rise > APART]))
        what = f"has elevation {high[row]:.3f}, its elements {stated[row]:.3f},"
        _refuse(file, lines[whose[row]], what, at[row], count)


def _refuse(file: str, line: Line, what: str, place: np.ndarray, count: int) -> None:
    raise SourceError(
        f"'{file}' contradicts itself: as drawn, line '{line.name}' {what} at {place[0]:.3f}, {place[1]:.3f} "
        f"({count} such {'line' if count == 1 else 'lines'}). Export both from one design, or state beside the file "
        'which of them counts: judged = "elements" or judged = "lines".'
    )


def _vertices(pieces: _Pieces) -> np.ndarray:
    return np.concatenate([pieces.start, pieces.end])


def _judged(table: pd.DataFrame, lines: list[Line]) -> _Pieces:
    order = {each.name: at for at, each in enumerate(lines)}

    def column(name: str) -> np.ndarray:
        return np.asarray(table[name].to_numpy(np.float64, na_value=np.nan))

    def pair(name: str) -> np.ndarray:
        return np.column_stack([column(f"{name}_easting"), column(f"{name}_northing")])

    return _Pieces(
        line=table["line"].map(order).to_numpy(np.int64),
        start=pair("start"),
        end=pair("end"),
        centre=pair("centre"),
        radius=column("radius"),
        sense=column("sense"),
        station=column("start_station"),
        length=column("length"),
        low=column("start_elevation"),
        high=column("end_elevation"),
    )


def _seen(lines: list[Line]) -> _Pieces:
    counts = np.array([len(each.vertices) - 1 for each in lines])
    start = np.concatenate([each.vertices[:-1] for each in lines])
    end = np.concatenate([each.vertices[1:] for each in lines])
    length = np.hypot(*(end - start).T)
    before = np.cumsum(length) - length
    nothing = np.full(len(start), np.nan)
    return _Pieces(
        line=np.repeat(np.arange(len(lines)), counts),
        start=start,
        end=end,
        centre=np.column_stack([nothing, nothing]),
        radius=nothing,
        sense=np.zeros(len(start)),
        station=before - np.repeat(before[np.cumsum(counts) - counts], counts),
        length=length,
        low=np.concatenate([each.elevations[:-1] for each in lines]),
        high=np.concatenate([each.elevations[1:] for each in lines]),
    )


def _nearest(places: np.ndarray, of: _Pieces, among: _Pieces) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Distance from the ends of pieces to the nearest piece of the same line, how far along it, and which it is.

    The same station is looked at first, with a neighbour to either side; what is not there, all along the line.
    """
    line = np.concatenate([of.line, of.line])
    first = np.searchsorted(among.line, line)
    last = np.searchsorted(among.line, line, side="right") - 1
    share = np.concatenate([of.station, of.station + of.length]) - _origin(of)[line]
    station = share / _totals(of)[line] * _totals(among)[line] + _origin(among)[line]
    far = float(max(np.max(among.station + among.length), 1.0)) * 2.0 + float(np.max(np.abs(among.station)))
    middle = np.searchsorted(among.line * far + among.station, line * far + station, side="right") - 1
    best, along, piece = np.full(len(line), np.inf), np.zeros(len(line)), np.zeros(len(line), dtype=np.int64)
    for shift in (0, -1, 1):
        candidate = np.clip(middle + shift, first, last)
        _better(places, candidate, among, np.arange(len(line)), (best, along, piece))
    lost = np.flatnonzero(best > APART)
    for nth in range(int((last - first)[lost].max(initial=-1)) + 1):
        rows = lost[first[lost] + nth <= last[lost]]
        _better(places[rows], first[rows] + nth, among, rows, (best, along, piece))
    return best, along, piece


def _better(
    places: np.ndarray,
    candidate: np.ndarray,
    among: _Pieces,
    rows: np.ndarray,
    kept: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    away, fraction = _distance(places, candidate, among)
    nearer = away < kept[0][rows]
    for held, found in zip(kept, (away, fraction, candidate), strict=True):
        held[rows[nearer]] = found[nearer]


def _distance(places: np.ndarray, piece: np.ndarray, among: _Pieces) -> tuple[np.ndarray, np.ndarray]:
    """Distance of each place to a piece, and the share of its length there; shapes (n,)."""
    start, end = among.start[piece], among.end[piece]
    ahead = end - start
    square = np.maximum((ahead**2).sum(axis=1), 1e-300)
    fraction = np.clip(((places - start) * ahead).sum(axis=1) / square, 0.0, 1.0)
    away = np.hypot(*(places - start - fraction[:, None] * ahead).T)
    sense = among.sense[piece]
    curved = sense != 0.0
    if curved.any():
        arm, centre = start[curved] - among.centre[piece][curved], among.centre[piece][curved]
        out = places[curved] - centre
        turn = np.mod(-sense[curved] * (np.arctan2(*out.T[::-1]) - np.arctan2(*arm.T[::-1])), 2.0 * np.pi)
        whole = among.length[piece][curved] / among.radius[piece][curved]
        on = turn <= whole
        ends = np.minimum(np.hypot(*(places - start)[curved].T), np.hypot(*(places - end)[curved].T))
        nearer_end = np.hypot(*(places - end)[curved].T) < np.hypot(*(places - start)[curved].T)
        away[curved] = np.where(on, np.minimum(np.abs(np.hypot(*out.T) - among.radius[piece][curved]), ends), ends)
        fraction[curved] = np.where(on, turn / whole, nearer_end)
    return away, fraction


def _totals(pieces: _Pieces) -> np.ndarray:
    return np.maximum(np.bincount(pieces.line, weights=pieces.length), 1e-300)


def _origin(pieces: _Pieces) -> np.ndarray:
    """Station at which each line begins."""
    first = np.searchsorted(pieces.line, np.arange(pieces.line.max() + 1))
    return np.asarray(pieces.station[first])
