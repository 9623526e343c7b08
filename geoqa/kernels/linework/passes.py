"""Whether a line of shots was shot again: its passes, and single places that were taken again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

FEWEST = 4
"""Shots of a pass: fewer that lie on ground already shot are single places taken again."""
TIMES = 3.0
"""A leg longer than this many usual ones is a jump: nobody shot what lies under it."""
SHARP = np.radians(60.0)
"""Where a line turns by more from leg to leg it has a corner, and no curve that bulges from its legs."""
TURNS = 1 / 3
"""Share of the steps of a pass at which it may turn round along the line; shots in no order do at two of three."""
GAP = 1.5
"""A leg longer than this many times the median one leaves a gap, which shots out of order fill."""
ALONE = 1.1
"""The same for one shot alone: two neighbours in the wrong order look so, where shots stand unevenly."""
BENT = 1.6
"""Way along a line from one shot to another over the distance between them, that bends no more than half a circle."""
HOLE = 2
"""Shots in a row beside a line that a pass on it may have: one stray shot, and its neighbour."""
MOST = 9
"""Passes that are told apart; what is left is one more."""
DIFFERS = 2.0
"""Standard uncertainties by which the mean of a pass must miss an earlier one to be of other work."""
LONGEST = 10_000
"""Shots of one string beyond which it is left as it is: such a name is shared by many lines."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Passes:
    """Which pass each shot of a string is of; arrays of shape (n,), in the order that was given.

    Attributes
    ----------
    turn : int64
        From 0, for the first pass and all that carries it on.
    again : bool
        A single place that was taken again later: no part of any line.
    fresh : bool
        On ground that no shot before covers: all of a first pass, and what of a later one is more than a stray shot
        and its neighbour, or the shots with which it overhangs the line.
    """

    turn: Integers
    again: Booleans
    fresh: Booleans


def going_on(places: ArrayLike, begin: ArrayLike, *, one_place: float) -> Booleans:
    """Strings that never turn back, and therefore hold no second pass: to be asked of all strings at once.

    Parameters
    ----------
    places : (n, 2) array
        Of one string after the other.
    begin : (s,) int array
        Where each string begins.
    one_place : float
        Shorter steps back are no turn.

    Returns
    -------
    (s,) bool array

    Examples
    --------
    >>> going_on([[0, 0], [9, 0], [20, 1], [0, 5], [9, 5], [1, 5]], [0, 3], one_place=0.5).tolist()
    [True, False]
    """
    places, begin = _plan(places), np.asarray(begin, dtype=np.int64)
    size = np.diff(np.append(begin, len(places)))
    last = begin + size - 1
    chord = places[last] - places[begin]
    reach = np.hypot(*chord.T)
    owner = np.repeat(np.arange(len(begin)), size)
    leg = np.diff(places, axis=0)
    own = owner[1:] == owner[:-1]
    leg, owner = leg[own], owner[1:][own]
    ahead = (leg * chord[owner]).sum(axis=1)
    back = ahead < -one_place * reach[owner]
    length = np.bincount(owner, np.hypot(*leg.T), len(begin))
    return np.asarray((np.bincount(owner, back, len(begin)) == 0) & (reach > 0.6 * length))


def passes(places: ArrayLike, later: ArrayLike, *, beside: float, one_place: float) -> Passes:
    """Take the shots of one string apart where it goes over ground that it covers already.

    Parameters
    ----------
    places : (n, 2) array
        In the order in which they were shot.
    later : (n,) bool array
        A visit begins: another session or file, a pause, a sequence that starts again.
    beside : float
        A shot no farther from a leg already shot lies on it; where the line curves, the leg is taken for an arc.
    one_place : float
        Shots no farther apart are of one place.

    Returns
    -------
    Passes

    Notes
    -----
    What lies on new ground carries the string on, whichever visit it is of. `FEWEST` or more shots in a row on two or
    more legs that were shot before are a pass, with what they overhang the line by; new ground behind them carries the
    string on where its end lies as near. Fewer are places taken again where they are of a later visit. In the same
    visit they are so where a crew stepped back along its line and then walked over the same ground to the end of it and
    on; otherwise they are left in the string: two shots in the wrong order look so, which fill a gap, a spur, and an
    outline that comes back to its beginning. What is left of a string is looked at in the same way, for a third pass.
    Shots in no order at all are left as they are.

    Examples
    --------
    Out and back, and then on from the far end:

    >>> line = [[at, 0.0] for at in (0, 20, 40, 60, 80, 70, 50, 30, 10)]
    >>> passes(line, [False] * 9, beside=0.3, one_place=0.5).turn.tolist()
    [0, 0, 0, 0, 0, 1, 1, 1, 1]
    >>> day = passes(line[:5] + [[40, 0.1], [80, 0.0], [100, 0.0]], [False] * 5 + [True, False, False],
    ...              beside=0.3, one_place=0.5)
    >>> day.turn.tolist(), day.again.tolist()
    ([0, 0, 0, 0, 0, 0, 0, 0], [False, False, False, False, False, True, True, False])

    Two places back, and on:

    >>> back = [[at, 0.0] for at in (0, 20, 40, 60, 80, 42, 61, 82, 100, 120)]
    >>> np.flatnonzero(passes(back, [False] * 10, beside=0.3, one_place=0.5).again).tolist()
    [5, 6]
    """
    places, later = _plan(places), np.asarray(later, dtype=bool)
    count = len(places)
    turn, again = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=bool)
    beyond = np.ones(count, dtype=bool)
    left, number = np.arange(count), 0
    while FEWEST < len(left) <= LONGEST and number < MOST:
        kept, single, covered = _first_of(places[left], later, beside, one_place)
        beyond[left] &= ~covered
        again[left[single]] = True
        rest = ~kept & ~single
        number += 1
        turn[left[rest]] = number
        visit = np.cumsum(later)[rest]
        left, later = left[rest], np.append(False, np.diff(visit) > 0)[: rest.sum()]
    return Passes(turn=turn, again=again, fresh=_longer(turn, beyond & ~again))


def _longer(turn: Integers, beyond: Booleans) -> Booleans:
    """Shots on new ground, of later passes only where more than `HOLE` follow each other."""
    fresh = beyond | (turn == 0)
    for number in range(1, int(turn.max(initial=0)) + 1):
        rows = np.flatnonzero(turn == number)
        for part in np.split(rows, np.flatnonzero(np.diff(beyond[rows])) + 1):
            fresh[part] &= len(part) > HOLE
    return fresh


def end_to_end(places: ArrayLike, later: ArrayLike, *, one_place: float) -> Integers:
    """Order of the shots of a line in which what a later visit shot stands at the end that it goes on from.

    Parameters
    ----------
    places : (n, 2) array
        In the order in which they were shot.
    later : (n,) bool array
        A visit begins.
    one_place : float
        As in `passes`.

    Returns
    -------
    (n,) int array
        As it was where a visit goes on from the last shot, and where it goes on from neither end.

    Examples
    --------
    The second edge of a walk, shot on the way back on either day:

    >>> walked = [[40, 0], [20, 0], [0, 0], [100, 0], [80, 0], [60, 0]]
    >>> end_to_end(walked, [False, False, False, True, False, False], one_place=0.5).tolist()
    [3, 4, 5, 0, 1, 2]
    """
    places, later = _plan(places), np.asarray(later, dtype=bool)
    length = np.hypot(*np.diff(places, axis=0).T)
    far = TIMES * _usual_of_visits(length, later, one_place)
    cuts = np.flatnonzero(later[1:] & (length > far)) + 1
    line, *more = np.split(np.arange(len(places)), cuts)
    for part in more:
        ways = [  # on from the last shot before on from the first, as shot before the other way round
            np.append(line, part), np.append(line, part[::-1]), np.append(part, line), np.append(part[::-1], line)
        ]  # fmt: skip
        joint = [len(line)] * 2 + [len(part)] * 2
        leg = [_apart(places, int(way[at - 1]), int(way[at])) for way, at in zip(ways, joint, strict=True)]
        line = ways[int(np.argmin(leg))] if min(leg) <= far else ways[0]
    return line


def _first_of(places: Floats, later: Booleans, beside: float, one: float) -> tuple[Booleans, Booleans, Booleans]:
    """Shots that carry the string on, single places taken again, and what lies on covered ground; the rest is later."""
    count = len(places)
    length = np.hypot(*np.diff(places, axis=0).T)
    far = TIMES * _usual_of_visits(length, later, one)
    ground = _Ground.of(places, length <= far, beside)
    doubled = np.flatnonzero(np.append(False, length <= one) & ~later)
    covered, leg, station = _covered(places, ground, one)
    for row in doubled.tolist():
        covered[row], leg[row], station[row] = covered[row - 1], leg[row - 1], station[row - 1]
    kept, single = ~covered, np.zeros(count, dtype=bool)
    if not covered.any():
        return kept, single, covered
    visit = np.cumsum(later, dtype=np.int64)
    starts = np.unique(np.append(0, np.flatnonzero(later | np.append(False, length > far))))
    tail = 0
    for start, stop in zip(starts.tolist(), [*starts[1:].tolist(), count], strict=True):
        for begin, end in _runs(covered[start:stop], whole=start > 0):
            begin, end = begin + start, end + start
            mine = begin + np.flatnonzero(covered[begin:end])
            if len(mine) >= FEWEST and len(np.unique(leg[mine])) > 1 and _in_order(station[mine], one):
                begin, end = _with_ends(
                    places, (start, begin, end, stop), tail if tail < begin else begin - 1, far, one
                )
                kept[begin:end] = False
            elif not _closes(places, begin, end, far, one):
                earlier = visit[np.maximum(leg[mine], 0) + 1] < visit[mine]
                earlier |= _steps_back(places, visit, mine, (leg[mine], station[mine]), beside, one)
                single[mine[earlier]] = True
                kept[mine[~earlier]] = True
            else:
                kept[mine] = True
        if kept[start:stop].any():
            tail = start + int(np.flatnonzero(kept[start:stop])[-1])
    return kept & ~single, single, covered


def _with_ends(places: Floats, at: tuple[int, int, int, int], tail: int, far: float, one: float) -> tuple[int, int]:
    """A pass with the new ground before and behind it that does not carry the string on."""
    start, begin, end, stop = at
    ahead, behind = begin - start, stop - end
    if start and ahead and (ahead == 1 or _apart(places, start, tail) > far):
        begin = start
    while begin - 1 > start and _apart(places, begin - 1, begin - 2) <= one:  # taken twice where it turns back
        begin -= 1
    ends = [tail, begin - 1] if begin > start else [tail]
    if behind and (behind == 1 or min(_apart(places, end, of) for of in ends) > 1.5 * _apart(places, end, end - 1)):
        end = stop
    return begin, end


def _apart(places: Floats, one: int, other: int) -> float:
    return float(np.hypot(*(places[one] - places[other])))


def _closes(places: Floats, begin: int, end: int, far: float, one: float) -> bool:
    """Whether these shots are the last of a string and bring it back to its first one by a leg like the others."""
    last = end == len(places) and end - begin <= HOLE
    return last and _apart(places, 0, begin) <= one and _apart(places, begin, begin - 1) <= far


def _steps_back(
    places: Floats, visit: Integers, mine: Integers, at: tuple[Integers, Floats], beside: float, one: float
) -> bool:
    """Whether shots on covered ground follow each other up to the end of the line, and the next goes on from there.

    Without a next one in the same visit there must be two that go towards the end.
    """
    leg, station = at
    end, after = int(mine[0]) - 1, int(mine[-1]) + 1
    if end < 1 or after - end - 1 != len(mine) or visit[end] != visit[mine[-1]]:
        return False
    length = np.hypot(*np.diff(places, axis=0).T)
    gap = (GAP if len(mine) > 1 else ALONE) * float(np.median(length[length > one]))
    if (np.diff(station) <= 0).any() or leg.max() >= end or (length[leg] > gap).any() or _turns_round(places):
        return False
    way = float(length[:end].sum()) - station[0]
    if way > BENT * _apart(places, end, int(mine[0])) + beside:
        return False
    if after == len(places) or visit[after] != visit[end]:
        return len(mine) > 1
    return _passed(places[end], places[after - 1], places[after], beside)


def _turns_round(places: Floats) -> bool:
    """Whether a string turns round at so many shots that it has no order."""
    run = np.diff(places, axis=0)
    return bool(((run[1:] * run[:-1]).sum(axis=1) < 0).sum() > TURNS * len(places))


def _passed(place: Floats, start: Floats, end: Floats, beside: float) -> bool:
    """Whether a leg goes past a place: on it, or along the curve that it lies on."""
    run, to, on = end - start, place - start, end - place
    share = np.clip(to @ run / max(float(run @ run), np.finfo(float).tiny), 0.0, 1.0)
    turn = np.arctan2(abs(to[0] * on[1] - to[1] * on[0]), to @ on)
    return bool(np.hypot(*(to - share * run)) <= beside or turn <= SHARP / 2)


def _usual_of_visits(length: Floats, later: Booleans, one: float) -> float:
    """The usual leg within visits; of all legs where no visit has one."""
    return _usual(length[~later[1:]], one) or _usual(length, one)


def _usual(length: Floats, one: float) -> float:
    """The leg in which half of the length of a line lies."""
    sorted_legs = np.sort(length[length > one])
    if not len(sorted_legs):
        return 0.0
    reached = np.cumsum(sorted_legs)
    return float(sorted_legs[int(np.searchsorted(reached, reached[-1] / 2))])


@dataclass(frozen=True, kw_only=True, eq=False)
class _Ground:
    """Legs that count as ground that was shot: number, how far beside it is still on it, station of its start."""

    leg: Integers
    wide: Floats
    station: Floats

    @classmethod
    def of(cls, places: Floats, short: Booleans, beside: float) -> _Ground:
        run = np.diff(places, axis=0)
        length = np.hypot(*run.T)
        heading = np.arctan2(run[:, 1], run[:, 0])
        turn = (np.diff(heading) + np.pi) % (2 * np.pi) - np.pi
        before, after = np.append(turn[:1], turn), np.append(turn, turn[-1:])
        about = np.pi - SHARP / 2  # where a crew turns about, the other end says how the leg curves
        before, after = (
            np.where(np.abs(mine) > about, other, mine) for mine, other in ((before, after), (after, before))
        )
        curved = (before * after > 0) & (np.maximum(np.abs(before), np.abs(after)) <= SHARP)
        # an arc that turns by t from leg to leg bulges from its legs by an eighth of t times their length
        bulge = np.where(curved, length * np.minimum(np.abs(before), np.abs(after)) / 8, 0.0)
        kept = np.flatnonzero(short)
        return cls(leg=kept, wide=beside + 1.25 * bulge[kept], station=np.append(0.0, np.cumsum(length))[kept])


def _covered(places: Floats, ground: _Ground, one: float) -> tuple[Booleans, Integers, Floats]:
    """Which shots lie on a leg shot before them, the first such leg (-1 for none), and the station there."""
    import shapely

    count = len(places)
    covered, leg, station = np.zeros(count, dtype=bool), np.full(count, -1), np.full(count, np.nan)
    near = places - places.mean(axis=0)
    lines = shapely.linestrings(np.stack([near[ground.leg], near[ground.leg + 1]], axis=1))
    at, shot = shapely.STRtree(shapely.points(near)).query(lines, predicate="dwithin", distance=ground.wide)
    earlier = ground.leg[at] + 1 < shot
    at, shot = at[earlier], shot[earlier]
    foot = shapely.line_locate_point(lines[at], shapely.points(near[shot]))
    # the end of the leg just walked is no ground that one comes back to
    back = shapely.distance(shapely.line_interpolate_point(lines[at], foot), shapely.points(near[shot - 1])) > one
    at, shot, foot = (each[back | (ground.leg[at] + 2 < shot)] for each in (at, shot, foot))
    order = np.lexsort((at, shot))
    at, shot, foot = at[order], shot[order], foot[order]
    first = np.append(True, np.diff(shot) > 0)[: len(shot)]
    at, shot, foot = at[first], shot[first], foot[first]
    covered[shot], leg[shot], station[shot] = True, ground.leg[at], ground.station[at] + foot
    return covered, leg, station


def _runs(covered: Booleans, *, whole: bool) -> list[tuple[int, int]]:
    """Stretches on covered ground; holes in them filled, all of them where most of a visit lies on it."""
    rows = np.flatnonzero(covered)
    if not len(rows):
        return []
    hole = np.diff(rows) - 1
    most = whole and len(rows) >= FEWEST and 2 * len(rows) >= len(covered)
    cut = np.flatnonzero((hole > HOLE) & (not most))
    return list(
        zip(rows[np.append(0, cut + 1)].tolist(), (rows[np.append(cut, len(rows) - 1)] + 1).tolist(), strict=True)
    )


def _in_order(station: Floats, one: float) -> bool:
    """Whether shots go along the line rather than anywhere on it."""
    step = np.diff(station)
    step = step[np.abs(step) > one]
    return bool((step[1:] * step[:-1] < 0).sum() <= max(1.0, TURNS * len(step)))


def _plan(places: ArrayLike) -> Floats:
    places = np.asarray(places, dtype=np.float64)
    if places.ndim != 2 or places.shape[1] != 2 or not np.isfinite(places).all():
        raise GeometryInputError(f"Places of shape {places.shape}; give (k, 2) eastings and northings, none missing.")
    return places
