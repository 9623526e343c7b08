"""By which shift a whole design lies off what was surveyed: from places known in both, or from shots on its lines."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Trees = dict[int, tuple[Any, Floats]]

ROUND = 1_000.0
"""Coordinates are shortened by whole multiples of this, in any unit. Common practice, no source."""
LEAST_SHARE = 0.6
"""Share of the shots that must come to lie on the design: some are defects, and some of other things."""
RIVAL, RIVAL_SHOTS = 0.85, 5
"""Another shift is a rival from this share of the best one's shots, or where it lies fewer shots behind."""
STARTS = 24
"""Rivals from which the best place is sought, evenly taken of all."""
LOOSE = 1e4
"""Condition number from which lines run too much alike to hold a shift along them."""
BY_CHANCE = 0.01
"""Chance from which a whole multiple among rivals tells nothing."""
NEIGHBOURHOOD = 20_000.0
"""Units of length from the middle beyond which a drawn thing, or a shot, is not of the site."""
MOST_BINS, MOST_CELLS = 8_000_000, 150_000


@dataclass(frozen=True, kw_only=True)
class MovedOrigin:
    """A shift, and how sure it is.

    Attributes
    ----------
    answer : str
        ``found``; ``round``, the same with whole thousands in both axes; ``several``, other shifts bring nearly as
        many shots onto the design; ``none``, no shift does.
    shift : (easting, northing)
        Design minus survey; NaN unless found.
    u : float
        1 sigma of the worse axis, without what the work as a whole is off by; 0 for whole thousands.
    on, of : int
        Shots that lie on the design once it is shifted back, and shots that were asked.
    """

    answer: str
    shift: tuple[float, float] = (np.nan, np.nan)
    u: float = np.nan
    on: int = 0
    of: int = 0


def moved_origin(
    shots: ArrayLike, shot_kind: ArrayLike, pieces: ArrayLike, piece_kind: ArrayLike, *, cell: float, near: float
) -> MovedOrigin:
    """Find the one shift that brings shots onto design of their kind.

    Parameters
    ----------
    shots : (n, 2) array
        Easting and northing.
    shot_kind : (n,) int array
    pieces : (m, 4) array
        Easting and northing of both ends of straight pieces of the design; a point has equal ends.
    piece_kind : (m,) int array
    cell : float
        Side of the cells in which shifts are counted, in the unit of the coordinates.
    near : float
        Distance up to which a shot lies on its design.

    Returns
    -------
    MovedOrigin

    Notes
    -----
    Every shot votes for all shifts that bring it within a cell or two of design of its kind; the best is settled by
    least squares of the distances across the lines. Along parallel lines alone no shift is better than its
    neighbours, and of a layout that repeats itself there are several: then none is chosen, unless exactly one of
    them is a whole multiple of a thousand in both axes, and that is no matter of chance.

    Examples
    --------
    >>> ell = np.array([[0.0, 0, 300, 0], [300, 0, 300, 200], [300, 200, 170, 260]])
    >>> at = np.concatenate([start + np.linspace(0.1, 0.9, 12)[:, None] * (end - start)
    ...                      for start, end in zip(ell[:, :2], ell[:, 2:])])
    >>> found = moved_origin(at + [812.5, -40.0], np.zeros(36, int), ell, np.zeros(3, int), cell=4.0, near=1.0)
    >>> found.answer, [round(each, 3) for each in found.shift], found.on
    ('found', [-812.5, 40.0], 36)
    >>> along = moved_origin(at[:12] + [812.5, -40.0], np.zeros(12, int), ell[:1], np.zeros(1, int), cell=4.0, near=1.0)
    >>> along.answer
    'several'
    """
    at, of = np.asarray(shots, float), np.asarray(shot_kind, int)
    drawn, kind = np.asarray(pieces, float), np.asarray(piece_kind, int)
    kept = (np.abs(drawn[:, :2] - np.median(drawn[:, :2], axis=0)) <= NEIGHBOURHOOD).all(axis=1)
    drawn, kind = drawn[kept], kind[kept]
    asked = (np.abs(at - np.median(at, axis=0)) <= NEIGHBOURHOOD).all(axis=1) & np.isin(of, kind)
    at, of = at[asked], of[asked]
    if len(at) < RIVAL_SHOTS:
        return MovedOrigin(answer="none", of=len(at))
    votes, low, cell = _votes(at, of, drawn, kind, cell)
    best = int(votes.max())
    if best < LEAST_SHARE * len(at):
        return MovedOrigin(answer="none", of=len(at))
    rivals = np.argwhere(votes >= min(RIVAL * best, best - RIVAL_SHOTS))
    shifts = (rivals + low) * cell
    trees = _trees(drawn, kind)
    start = shifts[votes[tuple(rivals.T)] == best].mean(axis=0)
    others = shifts[:: -(-len(shifts) // STARTS)]
    found = _best([_settled(at, of, trees, each, cell, near) for each in (start, *others)], near)
    if found.answer != "several":
        return found
    whole = np.round(shifts / ROUND) * ROUND
    there = (np.abs(shifts - whole) <= 1.5 * cell).all(axis=1)
    numbers = np.unique(whole[there], axis=0)
    if len(numbers) == 1 and numbers.any() and len(rivals) * cell**2 <= BY_CHANCE * ROUND**2:
        on = _on(at + numbers[0], of, trees, near)
        if on >= LEAST_SHARE * len(at):
            return MovedOrigin(answer="round", shift=_pair(numbers[0]), u=0.0, on=on, of=len(at))
    return MovedOrigin(answer="several", of=len(at))


def _votes(at: Floats, of: Ints, drawn: Floats, kind: Ints, cell: float) -> tuple[NDArray[np.int32], Ints, float]:
    """Shots per shift, the shift of the first cell in cells, and the side of the cells."""
    while True:
        cells = {each: _cells(drawn[kind == each], cell) for each in np.unique(of).tolist()}
        whole = np.concatenate(list(cells.values()))
        mine = np.round(at / cell).astype(np.int64)
        low = whole.min(axis=0) - mine.max(axis=0)
        size = whole.max(axis=0) - mine.min(axis=0) - low + 1
        if np.prod(size.astype(float)) <= MOST_BINS and len(whole) <= MOST_CELLS:
            break
        cell *= 2.0
    votes = np.zeros(tuple(size.tolist()), dtype=np.int32)
    for each, place in zip(of.tolist(), mine, strict=True):
        east, north = (cells[each] - place - low).T
        votes[east, north] += 1  # cells of one kind are all different
    return votes, low, cell


def _cells(pieces: Floats, cell: float) -> Ints:
    """Different cells that pieces run through, and those around them."""
    length = np.hypot(*(pieces[:, 2:] - pieces[:, :2]).T)
    count = np.ceil(2.0 * length / cell).astype(np.int64) + 1
    piece = np.repeat(np.arange(len(pieces)), count)
    nth = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
    share = nth / np.maximum(count[piece] - 1, 1)
    places = pieces[piece, :2] + share[:, None] * (pieces[piece, 2:] - pieces[piece, :2])
    found = _different(np.round(places / cell).astype(np.int64))
    around = np.array([[east, north] for east in (-1, 0, 1) for north in (-1, 0, 1)])
    return _different((found[:, None] + around).reshape(-1, 2))


def _different(cells: Ints) -> Ints:
    """Each cell once; by one number for both axes, as rows are slow to sort."""
    low = cells.min(axis=0)
    high = int(np.ptp(cells[:, 1])) + 1
    number = np.unique((cells[:, 0] - low[0]) * high + cells[:, 1] - low[1])
    return np.column_stack(np.divmod(number, high)) + low


def _best(settled: list[MovedOrigin], near: float) -> MovedOrigin:
    """The one that all good ones agree with."""
    best = max(settled, key=lambda each: (each.on, each.answer == "found"))
    if best.on < LEAST_SHARE * best.of:
        return MovedOrigin(answer="none", of=best.of)
    rivals = [each for each in settled if each.on >= min(RIVAL * best.on, best.on - RIVAL_SHOTS)]
    apart = [np.hypot(*np.subtract(each.shift, best.shift)) > near for each in rivals]
    if any(apart) or any(each.answer != "found" for each in rivals):
        return MovedOrigin(answer="several", of=best.of)
    whole = np.round(np.array(best.shift) / ROUND) * ROUND
    if whole.any() and (np.abs(best.shift - whole) <= near).all():
        return replace(best, answer="round", shift=_pair(whole), u=0.0)
    return best


def _settled(at: Floats, of: Ints, trees: Trees, start: Floats, cell: float, near: float) -> MovedOrigin:
    """The shift near a first one, by least squares of what is left across the lines; loose where lines run alike."""
    shift, u, answer = start, np.nan, "found"
    for reach in (3 * cell, 2 * cell, cell, cell, near, near, near):
        left, along = _to_design(at + shift, of, trees)
        used = np.hypot(*left.T) <= reach
        held = np.eye(2) - along[used, :, None] * along[used, None, :]
        normal = held.sum(axis=0)
        if used.sum() < RIVAL_SHOTS or np.linalg.cond(normal) > LOOSE:
            answer = "loose"
            break
        across = np.einsum("nij,nj->ni", held, left[used])
        shift = shift + np.linalg.solve(normal, across.sum(axis=0))
        spread = np.sqrt((across**2).sum() / max(int(used.sum()) - 2, 1))
        u = float(spread * np.sqrt(np.linalg.inv(normal).diagonal().max()))
    on = _on(at + shift, of, trees, near)
    return MovedOrigin(answer=answer, shift=_pair(shift), u=u, on=on, of=len(at))


def _to_design(at: Floats, of: Ints, trees: Trees) -> tuple[Floats, Floats]:
    """From each place to the nearest piece of its kind, and that piece's direction; 0, 0 at an end or a point."""
    import shapely

    left, along = np.full(at.shape, np.inf), np.zeros(at.shape)
    for each in np.unique(of).tolist():
        mine, (tree, theirs) = np.flatnonzero(of == each), trees[each]
        piece = theirs[tree.nearest(shapely.points(at[mine]))]
        run = piece[:, 2:] - piece[:, :2]
        square = (run**2).sum(axis=1)
        share = ((at[mine] - piece[:, :2]) * run).sum(axis=1) / np.where(square > 0, square, 1.0)
        inside = (share > 0) & (share < 1) & (square > 0)
        left[mine] = piece[:, :2] + np.clip(share, 0.0, 1.0)[:, None] * run - at[mine]
        along[mine] = np.where(inside[:, None], run / np.sqrt(np.where(square > 0, square, 1.0))[:, None], 0.0)
    return left, along


def on_design(
    shots: ArrayLike, shot_kind: ArrayLike, pieces: ArrayLike, piece_kind: ArrayLike, *, near: float
) -> NDArray[np.bool_]:
    """Which shots lie on design of their kind; arguments as in `moved_origin`, and kinds without design lie on none.

    Returns
    -------
    (n,) bool array

    Examples
    --------
    >>> on_design([[5.0, 0.2], [5.0, 9.0]], [0, 0], [[0.0, 0, 10, 0]], [0], near=1.0).tolist()
    [True, False]
    """
    at, of = np.asarray(shots, float).reshape(-1, 2), np.asarray(shot_kind, int)
    drawn, kind = np.asarray(pieces, float).reshape(-1, 4), np.asarray(piece_kind, int)
    there = np.isin(of, kind)
    found = np.zeros(len(at), dtype=bool)
    found[there] = np.hypot(*_to_design(at[there], of[there], _trees(drawn, kind))[0].T) <= near
    return found


def _on(at: Floats, of: Ints, trees: Trees, near: float) -> int:
    return int((np.hypot(*_to_design(at, of, trees)[0].T) <= near).sum())


def _trees(drawn: Floats, kind: Ints) -> Trees:
    """Pieces of every kind, and a tree to find the nearest of them."""
    import shapely

    pieces = {each: drawn[kind == each] for each in np.unique(kind).tolist()}
    return {each: (shapely.STRtree(shapely.linestrings(own.reshape(-1, 2, 2))), own) for each, own in pieces.items()}


def _pair(values: Floats) -> tuple[float, float]:
    return float(values[0]) + 0.0, float(values[1]) + 0.0
