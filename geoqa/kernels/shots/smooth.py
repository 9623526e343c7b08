"""Shots that stray from the smooth run of their neighbours, corners and steps left in peace."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

_SIDE = 4  # neighbours behind a straight view from one side
_BEND = 5  # neighbours behind a bent view from one side
_CENTRE = 3  # neighbours on either side of the view from both
_CURVED = 4.0  # a one-sided view bends only if its curvature exceeds so many of its own u
_USUAL = 0.37  # median size of the smallest of four misfits over u of a shot: own simulation, normal errors
_USUAL_NOISE = 1.5  # u of a straight one-sided misfit over u of a shot
_APART = 1e-12  # sum of squares below which places within -1..1 do not carry a parabola
_AT_ONCE = 8192  # shots whose views are looked at together
_ROUNDS = 4  # rounds of taking stray shots out of everybody's view


@dataclass(frozen=True, kw_only=True, eq=False)
class Smoothed:
    """A profile compared with itself; arrays of shape (n,).

    Attributes
    ----------
    expected : float64
        What the neighbours lead to expect, the shot itself left out; NaN at both ends, where a
        stray shot and a corner look alike, and where a value is missing.
    residual : float64
        Measured minus expected.
    score : float64
        Residual over `u`.
    stray : bool
        Score beyond the limit, and no neighbour's is: two side by side are more likely something built.
    u : float64
        Standard uncertainty of one shot of its line, learned robustly from all residuals there; NaN for fewer than
        five shots.
    """

    expected: Floats
    residual: Floats
    score: Floats
    stray: Booleans
    u: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class SmoothedLine:
    """A line in plan compared with itself; arrays of shape (n,).

    Attributes
    ----------
    offset : float64
        Measured minus expected place, square to the line, positive right of its direction.
    score : float64
        Offset over `u`.
    stray : bool
        As in `Smoothed`.
    u : float64
        As in `Smoothed`, square to the line.
    """

    offset: Floats
    score: Floats
    stray: Booleans
    u: Floats


def smooth_profile(
    along: ArrayLike,
    value: ArrayLike,
    *,
    line: ArrayLike | None = None,
    u_least: ArrayLike = 0.0,
    limit: float = 4.0,
) -> Smoothed:
    """Compare every shot of a profile with what its neighbours lead to expect.

    Parameters
    ----------
    along : (n,) array
        Station or distance, in any order.
    value : (n,) array
        Elevation, offset or deviation there; NaN is missing.
    line : (n,) int array, optional
        Number of the line of each shot, in any order; all are of one line if left out. Lines know nothing of
        each other; many at once are many times as fast as one by one.
    u_least : float or (n,) array
        Smallest standard uncertainty to believe in, same unit: half the recorded resolution at least. Where it
        differs between shots of a line, the largest counts.
    limit : float
        Score beyond which a shot is stray.

    Returns
    -------
    Smoothed
        In the order given.

    Raises
    ------
    GeometryInputError
        Arrays of different length.

    Notes
    -----
    Own method. Four views of every shot: a line through the four before it, one through the four after it (medians
    of slopes, so that one stray neighbour does not turn them; parabolas through five where they bend
    beyond doubt), the chord of its two neighbours, a parabola through three on either side. The view that comes
    closest counts: beside a corner or step one side still sees it rightly, a stray shot none does. Legs of three
    shots and more between corners are followed; the only shot between two corners looks stray.
    By own simulation with normal errors, a sound line of 40 shots has one called stray in about 1 of 20 cases, and a
    single shot off by ten times u is found in about 9 of 10. Fewer than eight shots tell next to nothing.

    Examples
    --------
    >>> elevation = [10.0, 10.1, 10.2, 10.3, 10.4, 11.5, 10.6, 10.7, 10.8, 10.9, 11.0, 11.1]
    >>> found = smooth_profile(range(12), elevation, u_least=0.005)
    >>> found.residual.round(3).tolist()[4:7], found.stray.nonzero()[0].tolist()
    ([0.0, 1.0, 0.0], [5])
    """
    along, value = np.asarray(along, dtype=np.float64), np.asarray(value, dtype=np.float64)
    if along.shape != value.shape or along.ndim != 1:
        raise GeometryInputError(f"along {along.shape} and value {value.shape} differ in length.")
    number, least = _of_lines(along.shape, line, u_least)
    rows = np.flatnonzero(np.isfinite(along) & np.isfinite(value))
    rows = rows[np.lexsort((along[rows], number[rows]))]
    expected, residual, score, u = np.full((4, along.size), np.nan)
    stray = np.zeros(along.shape, dtype=bool)
    shots = _Shots(along[rows], value[None, rows], np.ones((1, rows.size)), number[rows], least[rows])
    found = _compare(shots, limit=limit)
    expected[rows], residual[rows] = value[rows] - found.misfit, found.misfit
    score[rows], stray[rows], u[rows] = found.score, found.stray, found.u
    return Smoothed(expected=expected, residual=residual, score=score, stray=stray, u=u)


def smooth_line(
    easting: ArrayLike,
    northing: ArrayLike,
    *,
    line: ArrayLike | None = None,
    u_least: ArrayLike = 0.0,
    limit: float = 4.0,
) -> SmoothedLine:
    """Compare every shot of a line in plan with what its neighbours lead to expect.

    Parameters
    ----------
    easting, northing : (n,) array
        In the order of the line; NaN is missing. Coordinates of any size.
    line, u_least, limit
        As in `smooth_profile`.

    Returns
    -------
    SmoothedLine
        Straight reaches, corners, and arcs with three shots and more are followed.

    Raises
    ------
    GeometryInputError
        Arrays of different length.

    Notes
    -----
    As `smooth_profile`, both coordinates over the distance along the shots; only what is square to the
    chord of the two neighbours counts.

    Examples
    --------
    >>> found = smooth_line([0, 25, 50, 75, 100, 125, 150, 175, 200], [0, 0, 0, 0, 0.3, 0, 0, 0, 0], u_least=0.005)
    >>> found.offset.round(3).tolist()[3:6], found.stray.nonzero()[0].tolist()
    ([0.0, -0.3, 0.0], [4])
    """
    easting, northing = np.asarray(easting, dtype=np.float64), np.asarray(northing, dtype=np.float64)
    if easting.shape != northing.shape or easting.ndim != 1:
        raise GeometryInputError(f"easting {easting.shape} and northing {northing.shape} differ in length.")
    number, least = _of_lines(easting.shape, line, u_least)
    rows = np.flatnonzero(np.isfinite(easting) & np.isfinite(northing))
    rows = rows[np.argsort(number[rows], kind="stable")]
    offset, score, u = np.full((3, easting.size), np.nan)
    stray = np.zeros(easting.shape, dtype=bool)
    if not rows.size:
        return SmoothedLine(offset=offset, score=score, stray=stray, u=u)
    places = np.stack([easting[rows] - easting[rows[0]], northing[rows] - northing[rows[0]]])
    same = np.diff(number[rows]) == 0
    leg = np.where(same, np.hypot(*np.diff(places)), 0.0)
    run = np.append(0.0, np.cumsum(leg))
    along = run - run[np.searchsorted(number[rows], number[rows])]
    chord = np.full(places.shape, np.nan)
    inner = np.flatnonzero(same[1:] & same[:-1]) + 1
    chord[:, inner] = places[:, inner + 1] - places[:, inner - 1]
    length = np.hypot(*chord)
    right = np.stack([chord[1], -chord[0]]) / np.where(length > 0, length, np.nan)
    found = _compare(_Shots(along, places, right, number[rows], least[rows]), limit=limit)
    offset[rows], score[rows], stray[rows], u[rows] = found.misfit, found.score, found.stray, found.u
    return SmoothedLine(offset=offset, score=score, stray=stray, u=u)


def _of_lines(shape: tuple[int, ...], line: ArrayLike | None, u_least: ArrayLike) -> tuple[Integers, Floats]:
    """Numbers of the lines from 0, and the smallest u of the line of each shot."""
    given = np.zeros(shape, dtype=np.int64) if line is None else np.asarray(line)
    if given.shape != shape:
        raise GeometryInputError(f"line {given.shape} and the shots {shape} differ in length.")
    lines, number = np.unique(given, return_inverse=True)
    largest = np.zeros(lines.size)
    np.maximum.at(largest, number, np.broadcast_to(np.asarray(u_least, dtype=np.float64), shape))
    return number, largest[number]


class _Shots(NamedTuple):
    """Shots in the order of their lines: distance along, values (k, n), what of these counts (k, n), line, least u."""

    along: np.ndarray
    values: np.ndarray
    counts: np.ndarray
    line: np.ndarray
    u_least: np.ndarray

    def take(self, rows: np.ndarray | slice) -> _Shots:
        return _Shots(*(each[..., rows] for each in self))

    def size(self, seen: Floats) -> Floats:
        """Signed size (..., n) of misfits (..., k, n)."""
        return np.sum(seen * self.counts, axis=-2)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Compared:
    misfit: Floats
    score: Floats
    stray: Booleans
    u: Floats


def _compare(shots: _Shots, *, limit: float) -> _Compared:
    """Compare shots with their neighbours, so many whole lines at a time that their views stay near at hand."""
    misfit, score, u = np.full((3, shots.line.size), np.nan)
    begins = np.flatnonzero(np.diff(shots.line, prepend=-1) != 0)
    begins = begins[np.diff(begins // _AT_ONCE, prepend=-1) > 0]
    for begin, end in pairwise([*begins.tolist(), shots.line.size]):
        here = slice(begin, end)
        misfit[here], score[here], u[here] = _compare_block(shots.take(here), limit=limit)
    with np.errstate(invalid="ignore"):
        beyond = np.abs(score) > limit
    stray = beyond.copy()
    # two side by side are no spike
    beside = beyond[1:] & beyond[:-1] & (np.diff(shots.line) == 0)
    stray[1:] &= ~beside
    stray[:-1] &= ~beside
    return _Compared(misfit=misfit, score=score, stray=stray, u=u)


def _compare_block(shots: _Shots, *, limit: float) -> tuple[Floats, Floats, Floats]:
    """Misfit, score and u, stray shots no longer being anybody's neighbour."""
    misfit, score, u = np.full((3, shots.line.size), np.nan)
    kept = np.ones(shots.line.size, dtype=bool)
    first = shots.line[0]
    # a line without a new stray shot is done, and the others go on
    on = np.flatnonzero(np.bincount(shots.line - first)[shots.line - first] >= 3)
    for left in reversed(range(_ROUNDS + 1)):
        if not on.size:
            break
        now = shots.take(on)
        misfit[on], score[on], u[on] = _closest(now, kept[on])
        size = np.abs(np.nan_to_num(score[on]))
        worst = (size > limit) & kept[on] & (size >= _largest_near(size, now.line)) & (left > 0)
        kept[on[worst]] = False
        on = on[np.isin(now.line, now.line[worst])]
    return misfit, score, u


def _closest(shots: _Shots, kept: Booleans) -> tuple[Floats, Floats, Floats]:
    """Misfit of the view that comes closest, what it is in units of u, and u."""
    views, size = _Views(shots, kept), shots.size
    straight = size(np.stack([views.line(0), views.line(1), views.chord(), views.parabola(None)[0]]))
    misfit = _smallest(straight)
    interior = np.isfinite(misfit) & kept
    u = _learned(misfit, interior, shots)
    seen, noises = [*straight], [np.ones(misfit.shape)] * len(straight)
    for side in (0, 1):
        bent, curvature, u_curvature, u_bent = views.parabola(side)
        with np.errstate(invalid="ignore"):
            beyond_doubt = np.abs(size(curvature)) > _CURVED * u * u_curvature
        seen.append(np.where(beyond_doubt, size(bent), np.nan))
        noises.append(np.maximum(u_bent / _USUAL_NOISE, 1.0))
    every, noise = np.stack(seen), np.stack(noises)
    scaled = _smallest(every / noise)
    told = np.isfinite(u)
    misfit = np.where(told, np.where(scaled == 0, 0.0, scaled * _of_smallest(every / noise, noise)), misfit)
    u = _learned(scaled, interior, shots)
    with np.errstate(divide="ignore", invalid="ignore"):
        return misfit, np.where(told & (scaled == 0), 0.0, scaled / u), u


def _learned(misfit: Floats, interior: Booleans, shots: _Shots) -> Floats:
    """Standard uncertainty of one shot (n,), from the misfits of its line; NaN where fewer than three tell."""
    rows = np.flatnonzero(interior)
    rows = rows[np.lexsort((np.abs(misfit[rows]), shots.line[rows]))]
    first, past = (np.searchsorted(shots.line[rows], shots.line, side) for side in ("left", "right"))
    count = past - first
    told = count >= 3
    low, high = (np.where(told, first + middle, 0) for middle in ((count - 1) // 2, count // 2))
    if not told.any():
        return np.full(misfit.shape, np.nan)
    size = np.abs(misfit[rows])
    return np.where(told, np.maximum((size[low] + size[high]) / 2 / _USUAL, shots.u_least), np.nan)


def _largest_near(size: Floats, line: Integers) -> Floats:
    """Largest size among so many neighbours on the same line."""
    largest = size.copy()
    for away in range(1, _SIDE + 1):
        same = line[away:] == line[:-away]
        largest[:-away] = np.maximum(largest[:-away], np.where(same, size[away:], 0.0))
        largest[away:] = np.maximum(largest[away:], np.where(same, size[:-away], 0.0))
    return largest


class _Views:
    """What the neighbours of every shot lead to expect, the shot itself left out; `values` is (k, n).

    Misfits are measured minus seen, NaN where neighbours are too few, and at both ends of the line. Neighbours are the
    first axis everywhere, so that sums run over few long rows and not over many short ones.
    """

    def __init__(self, shots: _Shots, kept: Booleans) -> None:
        rows = np.flatnonzero(kept)
        before: Integers = np.cumsum(kept) - kept  # kept shots before each shot
        after = before + kept
        # kept shots of the same line, from and up to
        first, last = (np.searchsorted(shots.line[rows], shots.line, side) for side in ("left", "right"))
        away = np.arange(_BEND)[:, None]
        place = np.stack([before - 1 - away, after + away])  # of kept neighbours, the nearest first
        past = (place < first) | (place >= last)
        index = rows[np.clip(place, 0, max(rows.size - 1, 0))] if rows.size else place
        # distances (2, m, n) and misfits (2, m, k, n) of neighbours on either side; NaN past the ends
        self.away = np.where(past, np.nan, shots.along[index] - shots.along)
        near = np.moveaxis(shots.values[:, index], 0, 2)
        self.values = np.where(past[:, :, None], np.nan, near - shots.values)
        self.ends = (before == first) | (after == last)

    def line(self, side: int) -> Floats:
        """Through neighbours on one side, by medians."""
        away, values = self.away[side, :_SIDE], self.values[side, :_SIDE]
        first, second = np.triu_indices(_SIDE, 1)
        run = away[second] - away[first]
        slope = _median((values[second] - values[first]) / np.where(run == 0, np.nan, run)[:, None])
        level = _median(values - slope * away[:, None])
        enough = np.isfinite(away[2])  # three of them: what is missing is missing from one on
        return self._inside(-np.where(enough, level, np.nan))

    def chord(self) -> Floats:
        """Between the next neighbours."""
        (before, after), (low, high) = self.away[:, 0], self.values[:, 0]
        run = after - before
        share = np.where(run > 0, -before / np.where(run > 0, run, 1.0), 0.5)
        return self._inside(-(low + share * (high - low)))

    def parabola(self, side: int | None) -> tuple[Floats, Floats, Floats, Floats]:
        """On one side, or on both: misfit, curvature, and the u of both for a u of 1."""
        if side is None:
            away, values = (np.concatenate(each[:, :_CENTRE]) for each in (self.away, self.values))
        else:
            away, values = self.away[side], self.values[side]
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = np.max(np.abs(away), axis=0)
            level, bend, u_level, u_bend = _fit_parabola(away / reach, values)
            return self._inside(-level), bend / reach**2, u_bend / reach**2, np.sqrt(1 + u_level**2)

    def _inside(self, misfit: Floats) -> Floats:
        return np.where(self.ends, np.nan, misfit)


def _fit_parabola(at: Floats, values: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Level at 0 and curvature (k, n) of the parabola through values (m, k, n), and the u of both for a u of 1.

    By polynomials orthogonal over each shot's own places, which is many times as fast as a pseudo-inverse a shot; that
    is left for shots with fewer than three places apart. NaN where a place is missing.
    """
    centre = at.mean(axis=0)
    line = at - centre
    squares = line * line
    square = squares.sum(axis=0)
    mean_square = square / len(at)
    with np.errstate(divide="ignore", invalid="ignore"):
        lean = np.sum(squares * line, axis=0) / square
        bow = squares - lean * line - mean_square
        bows = np.sum(bow * bow, axis=0)
        bow_at_0 = centre**2 + lean * centre - mean_square
        slope = np.sum(line[:, None] * values, axis=0) / square
        bend = np.sum(bow[:, None] * values, axis=0) / bows
        level = values.mean(axis=0) - slope * centre + bend * bow_at_0
        u_level = np.sqrt(1 / len(at) + centre**2 / square + bow_at_0**2 / bows)
        u_bend = 1 / np.sqrt(bows)
    few = np.flatnonzero(np.isfinite(square) & ~(bows > _APART))
    if few.size:
        places = at[:, few].T
        turned = np.linalg.pinv(np.stack([np.ones_like(places), places, places**2], axis=-1))
        fitted, squares = turned @ np.moveaxis(values[..., few], 2, 0), np.sum(turned**2, axis=2)
        level[:, few], bend[:, few] = fitted[:, 0].T, fitted[:, 2].T
        u_level[few], u_bend[few] = np.sqrt(squares[:, 0]), np.sqrt(squares[:, 2])
    return level, bend, u_level, u_bend


def _median(values: Floats) -> Floats:
    """Median over the first axis, NaN left out; NaN where nothing is left.

    A few long rows are put in order by swapping them against each other, which is many times as fast as sorting every
    short column.
    """
    missing = np.isnan(values)
    rows = list(np.where(missing, np.inf, values))
    for last in range(len(rows) - 1, 0, -1):
        for place in range(last):
            rows[place], rows[place + 1] = (
                np.minimum(rows[place], rows[place + 1]),
                np.maximum(rows[place], rows[place + 1]),
            )
    ordered, count = np.stack(rows), len(rows) - missing.sum(axis=0)
    low, high = np.maximum((count - 1) // 2, 0), np.minimum(count // 2, len(rows) - 1)
    middle = (np.take_along_axis(ordered, each[None], axis=0)[0] for each in (low, high))
    return np.where(count > 0, sum(middle) / 2, np.nan)


def _smallest(misfits: Floats) -> Floats:
    return _of_smallest(misfits, misfits)


def _of_smallest(misfits: Floats, values: Floats) -> Floats:
    size = np.where(np.isnan(misfits), np.inf, np.abs(misfits))
    return np.take_along_axis(values, size.argmin(axis=0)[None], axis=0)[0]
