"""Whether places lie on design once all of it is moved by one shift.

The shift is looked for round a few guesses, over a grid of starts, and then made better by least squares on the
nearest piece of design of each place, as often as that changes anything.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

SAMPLE = 60
"""Places that are held against a start; all of them are against the shifts that follow."""
STARTS, ROUNDS, WIDE = 6, 16, 8


@dataclass(frozen=True, kw_only=True, eq=False)
class Pieces:
    """Straight pieces of design: chords of lines, and points as pieces without length.

    Attributes
    ----------
    ends : (m, 2, 2) float64
        Start and end in plan.
    elevation : (m, 2) float64
        There; NaN where there is none.
    group, owner : (m,) int64
        A place may lie on pieces of its own group alone; which line or point a piece is of.
    """

    ends: Floats
    elevation: Floats
    group: Integers
    owner: Integers


@dataclass(frozen=True, kw_only=True, eq=False)
class MovedTogether:
    """A shift by which places lie on the design.

    Attributes
    ----------
    shift : (2,) float64
        Easting and northing of the places less those of the design.
    fits : (n,) bool
        Places that lie within reach of the moved design.
    distance, rise : (n,) float64
        From the moved design: in plan, and in elevation.
    owner : (n,) int64
        Line or point that is nearest then.
    """

    shift: Floats
    fits: Booleans
    distance: Floats
    rise: Floats
    owner: Integers


def moved_together(
    at: ArrayLike,
    elevation: ArrayLike,
    group: ArrayLike,
    pieces: Pieces,
    guesses: ArrayLike,
    *,
    within: float,
    around: float = 0.0,
    share: float = 0.5,
) -> MovedTogether:
    """The shift after which most places lie on the design.

    Parameters
    ----------
    at : (n, 2) array
    elevation, group : (n,) array
    pieces : Pieces
    guesses : (g, 2) array
        Shifts to begin with.
    within : float
        A place lies on the design within so much of it.
    around : float
        Starts are also tried so far to all sides of each guess.
    share : float
        Of the places, that lie on this design at the least; the others may lie on another.

    Returns
    -------
    MovedTogether
        Of the shift that most places fit; of several of them the one whose places lie nearest.

    Examples
    --------
    >>> angle = Pieces(ends=np.array([[[0.0, 0.0], [0.0, 90.0]], [[0.0, 90.0], [60.0, 90.0]]]),
    ...                elevation=np.zeros((2, 2)), group=np.array([0, 0]), owner=np.array([0, 1]))
    >>> along = np.arange(10.0, 60.0, 10.0)
    >>> at = np.concatenate([np.column_stack([0 * along, along]), np.column_stack([along, 0 * along + 90])]) + [7, -30]
    >>> found = moved_together(at, np.zeros(10), np.zeros(10, int), angle, [[0.0, 0.0]], within=0.1, around=40.0)
    >>> found.shift.round(3).tolist(), int(found.fits.sum())
    ([7.0, -30.0], 10)
    """
    at, elevation = np.asarray(at, np.float64), np.asarray(elevation, np.float64)
    group, guesses = np.asarray(group, np.int64), np.asarray(guesses, np.float64).reshape(-1, 2)
    if not len(at) or not len(guesses) or not np.isin(group, pieces.group).all():
        raise GeometryInputError("A shift needs places, guesses, and pieces of design of the group of each place.")
    nearest = _Nearest(pieces)
    some = np.unique(np.linspace(0, len(at) - 1, min(SAMPLE, len(at))).astype(int))
    starts = _starts(guesses, around, 4 * within)
    # what lies far off counts no more than what lies less far off: a few stray places decide nothing
    cost = [np.minimum(nearest(at[some] - start, group[some])[1], 20 * within).sum() for start in starts]
    best: MovedTogether | None = None
    for place in np.unique([*range(len(guesses)), *np.argsort(cost, kind="stable")[:STARTS].tolist()]):
        made = _settled(nearest, at, elevation, group, starts[place], within, share)
        if best is None or _better(made, best):
            best = made
    assert best is not None
    return best


def _better(one: MovedTogether, other: MovedTogether) -> bool:
    more = int(one.fits.sum()) - int(other.fits.sum())
    return more > 0 or (more == 0 and bool(np.median(one.distance) < np.median(other.distance) - 1e-6))


def _starts(guesses: Floats, around: float, step: float) -> Floats:
    """The guesses, then a grid round each of them, shape (k, 2)."""
    count = int(min(np.floor(around / step), 12)) if around > 0 else 0
    side = np.linspace(-around, around, 2 * count + 1) if count else np.zeros(1)
    grid = np.stack(np.meshgrid(side, side, indexing="ij"), axis=-1).reshape(-1, 2)
    return np.concatenate([guesses, (guesses[:, None] + grid[None]).reshape(-1, 2)])


class _Nearest:
    """The nearest piece of a group."""

    def __init__(self, pieces: Pieces) -> None:
        self.pieces = pieces
        self.trees = {}
        for each in np.unique(pieces.group).tolist():
            mine = np.flatnonzero(pieces.group == each)
            self.trees[each] = (mine, shapely.STRtree(shapely.linestrings(pieces.ends[mine])))

    def __call__(self, at: Floats, group: Integers) -> tuple[Integers, Floats]:
        """Its place, and how far it is."""
        piece, distance = np.zeros(len(at), np.int64), np.full(len(at), np.inf)
        for each, (mine, tree) in self.trees.items():
            rows = np.flatnonzero(group == each)
            if len(rows):
                (one, found), far = tree.query_nearest(
                    shapely.points(at[rows]), return_distance=True, all_matches=False
                )
                piece[rows[one]], distance[rows[one]] = mine[found], far
        return piece, distance


def _settled(
    nearest: _Nearest, at: Floats, elevation: Floats, group: Integers, start: Floats, within: float, share: float
) -> MovedTogether:
    """The shift that a start leads to."""
    shift = start.copy()
    for nth in range(ROUNDS):
        piece, distance = nearest(at - shift, group)
        # at first what lies a few times too far counts too: a few points may tell how far along all lines it is
        wide = max(WIDE - nth, 1) * within
        counts = distance <= max(wide, 2.5 * float(np.quantile(distance, share)))
        step = _step(nearest.pieces, at[counts] - shift, piece[counts])
        shift = shift + step
        if wide <= within and np.hypot(*step) < 1e-4 * within:
            break
    piece, distance = nearest(at - shift, group)
    ahead = _along(nearest.pieces, at - shift, piece)[1]
    ends = nearest.pieces.elevation[piece]
    level = ends[:, 0] + ahead * (ends[:, 1] - ends[:, 0])
    return MovedTogether(
        shift=shift,
        fits=distance <= within,
        distance=distance,
        rise=elevation - level,
        owner=nearest.pieces.owner[piece],
    )


def _along(pieces: Pieces, at: Floats, piece: Integers) -> tuple[Floats, Floats, Floats]:
    """From the foot on its piece to each place, shape (n, 2); how much of the piece lies before it; its direction."""
    start, end = pieces.ends[piece, 0], pieces.ends[piece, 1]
    way = end - start
    length = np.hypot(*way.T)
    ahead = np.divide(way, length[:, None], out=np.zeros_like(way), where=length[:, None] > 0)
    along = ((at - start) * ahead).sum(axis=1)
    share = np.clip(np.divide(along, length, out=np.zeros_like(along), where=length > 0), 0.0, 1.0)
    return at - start - share[:, None] * way, share, ahead


def _step(pieces: Pieces, at: Floats, piece: Integers) -> Floats:
    """The shift that takes places onto their pieces: across a piece, and both ways from an end or a point of design."""
    off, share, ahead = _along(pieces, at, piece)
    across = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    at_end = (share <= 0.0) | (share >= 1.0)
    both = np.tile(np.eye(2), (int(at_end.sum()), 1))
    rows = np.concatenate([across[~at_end], both])
    sides = np.concatenate([(off * across).sum(axis=1)[~at_end], off[at_end].reshape(-1)])
    made: Floats = np.linalg.lstsq(rows, sides, rcond=1e-3)[0]
    return made
