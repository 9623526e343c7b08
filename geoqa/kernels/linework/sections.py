"""Sections across two edges: the foot of every shot of either edge on the other one."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Booleans, Floats, Integers

FOUND, BEYOND, GAP, TOO_FAR, CROSSED = 0, 1, 2, 3, 4
"""Why a shot has a section or none: found; no edge opposite, past its end; opposite a gap; too wide; on the other
side than the rest."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Sections:
    """Sections at every shot of two edges, first edge first, in the order of each line; arrays of shape (n,).

    Attributes
    ----------
    edge : int8
        0: at a shot of the first edge, its foot on the second; 1: the other way round.
    shot : int64
        Place of that shot on its own edge.
    before, after : int64
        Places on the other edge of the two shots that the foot lies between; -1 without a section.
    share : float64
        Weight of `after` in the foot; `before` bears ``1 - share``. Below 0 or above 1 a little past an end.
    leg : float64
        Plan distance between these two.
    width : float64
        From shot to foot in plan, square to the other edge.
    side : int8
        Where the second edge lies, along the first: 1 right, -1 left, 0 on it.
    station : float64
        Along the first edge from its first shot, of the shot or its foot there; NaN without a section on edge 1.
    why : int8
        `FOUND`, or the reason there is no section.
    crossing : bool
        A leg at the shot, or the one under its foot, crosses the other edge: its width runs down to none there.
    """

    edge: np.ndarray
    shot: Integers
    before: Integers
    after: Integers
    share: Floats
    leg: Floats
    width: Floats
    side: np.ndarray
    station: Floats
    why: np.ndarray
    crossing: Booleans

    @property
    def found(self) -> Booleans:
        """Whether there is a section, shape (n,)."""
        return np.asarray(self.why == FOUND)

    def only(self, mine: Booleans) -> Sections:
        """Some of the sections, shape (m,)."""
        return Sections(**{each.name: getattr(self, each.name)[mine] for each in fields(self)})


def sections(first: ArrayLike, second: ArrayLike, *, reach: float, gap: float, slack: float = 0.0) -> Sections:
    """Lay a section at every shot of two edges.

    Parameters
    ----------
    first, second : (k, 2) and (m, 2) arrays
        Easting and northing of the shots of either edge, in the order of its line; the directions need not agree.
    reach : float
        Widest section, in the unit of the coordinates.
    gap : float
        Longest leg between two shots that a foot may lie on; nearer than `slack` to one of them it may still.
    slack : float
        How far past an end of the other edge a foot may lie; the last leg is then carried on straight.

    Returns
    -------
    Sections

    Raises
    ------
    GeometryInputError
        Arrays that are no edges, positions that are not finite, or a negative length.

    Notes
    -----
    The foot is the nearest place of the other edge: square to its leg, or one of its corners. Edges cross where the
    second one changes its side: sections on the side of the shorter part are none, and where both parts are as long, no
    section is one.

    Examples
    --------
    Two edges 5 ft apart; the second was shot half a station farther on.

    >>> front, back = [[0, 0], [0, 20], [0, 40]], [[5, 30], [5, 10]]
    >>> found = sections(front, back, reach=10.0, gap=30.0)
    >>> found.why.tolist(), found.width.tolist()
    ([1, 0, 1, 0, 0], [nan, 5.0, nan, 5.0, 5.0])
    >>> found.share.tolist(), found.station.tolist(), found.side[found.found].tolist()
    ([nan, 0.5, nan, 0.5, 0.5], [0.0, 20.0, 40.0, 30.0, 10.0], [1, 1, 1])
    """
    one, two = _edge(first), _edge(second)
    if not (reach >= 0 and gap >= 0 and slack >= 0):
        raise GeometryInputError(f"reach {reach}, gap {gap} and slack {slack} of sections must not be negative.")
    origin = one[0]
    one, two = one - origin, two - origin
    limits = (float(reach), float(gap), float(slack))
    here, there = _Feet.of(one, two, *limits), _Feet.of(two, one, *limits)
    along = np.append(0.0, np.cumsum(np.hypot(*np.diff(one, axis=0).T)))
    foot_station = along[there.before] + there.share * there.leg
    sides = [_right(_directions(one), here.place - one), _right(np.diff(one, axis=0)[there.before], two - there.place)]
    legs = [_crossing(*each) for each in zip(sides, (here.why, there.why), strict=True)]
    made: dict[str, np.ndarray] = {
        "edge": np.repeat(np.array([0, 1], dtype=np.int8), [len(one), len(two)]),
        "shot": np.append(np.arange(len(one)), np.arange(len(two))),
        "before": np.append(here.before, there.before),
        "after": np.append(here.before + 1, there.before + 1),
        "share": np.append(here.share, there.share),
        "leg": np.append(here.leg, there.leg),
        "width": np.append(here.width, there.width),
        "side": np.concatenate(sides).astype(np.int8),
        "station": np.append(along, foot_station),
        "why": np.append(here.why, there.why),
        "crossing": np.append(_at_shots(legs[0]) | legs[1][here.before], _at_shots(legs[1]) | legs[0][there.before]),
    }
    return _uncrossed(made, np.append(along, foot_station))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Feet:
    """Feet of shots on the legs of another edge."""

    before: Integers
    share: Floats
    leg: Floats
    width: Floats
    place: Floats
    why: np.ndarray

    @classmethod
    def of(cls, shots: Floats, edge: Floats, reach: float, gap: float, slack: float) -> _Feet:
        start, run = edge[:-1], np.diff(edge, axis=0)
        length = np.hypot(*run.T)
        leg, raw = _nearest(shots, start, run, length)
        past = np.maximum(np.where(leg == 0, -raw, 0.0), np.where(leg == len(length) - 1, raw - 1.0, 0.0))
        past = np.maximum(past, 0.0)
        carried = past * length[leg] <= slack
        kept = np.where((past > 0) & carried, raw, np.clip(raw, 0.0, 1.0))
        place = start[leg] + kept[:, None] * run[leg]
        width = np.hypot(*(shots - place).T)
        near = np.minimum(np.abs(kept), np.abs(1.0 - kept)) * length[leg] <= slack
        missed = [~carried, width > reach, (length[leg] > gap) & ~near]
        why = np.select(missed, [BEYOND, TOO_FAR, GAP], FOUND).astype(np.int8)
        return cls(before=leg, share=kept, leg=length[leg], width=width, place=place, why=why)


def _nearest(shots: Floats, start: Floats, run: Floats, length: Floats) -> tuple[Integers, Floats]:
    """Nearest leg of each shot, and where on it, as a share that may lie past its ends.

    Shots that follow each other are near each other: a block of them is held against those legs only that can be the
    nearest to any of them, so that time and memory grow with the shots, not with their square.
    """
    square = np.where(length > 0, length**2, 1.0)
    middle = start + run / 2
    leg, raw = np.zeros(len(shots), dtype=np.int64), np.zeros(len(shots))
    for first in range(0, len(shots), _BLOCK):
        block = shots[first : first + _BLOCK]
        centre = block.mean(axis=0)
        radius = np.hypot(*(block - centre).T).max()
        off = np.hypot(*(middle - centre).T)
        near = np.flatnonzero(off - length / 2 <= (off.min() + 2 * radius) * (1 + 1e-9) + 1e-9)
        share = ((block[:, None] - start[near]) * run[near]).sum(axis=2) / square[near]
        away = block[:, None] - (start[near] + np.clip(share, 0.0, 1.0)[:, :, None] * run[near])
        best = np.hypot(away[:, :, 0], away[:, :, 1]).argmin(axis=1)
        leg[first : first + _BLOCK], raw[first : first + _BLOCK] = near[best], share[np.arange(len(block)), best]
    return leg, raw


_BLOCK = 32
"""Shots that are held against the same legs."""


def _edge(places: ArrayLike) -> Floats:
    edge = np.asarray(places, dtype=np.float64)
    if edge.ndim != 2 or edge.shape[1] != 2 or len(edge) < 2 or not np.isfinite(edge).all():
        raise GeometryInputError(f"an edge needs two or more finite places (k, 2); got shape {edge.shape}.")
    return edge


def _directions(edge: Floats) -> Floats:
    """Direction of an edge at its shots: from the shot before to the one after."""
    return np.vstack([edge[1] - edge[0], edge[2:] - edge[:-2], edge[-1] - edge[-2]])


def _right(direction: Floats, across: Floats) -> np.ndarray:
    """1 where `across` points right of a direction, -1 left."""
    return np.sign(direction[:, 1] * across[:, 0] - direction[:, 0] * across[:, 1])


def _crossing(side: np.ndarray, why: np.ndarray) -> Booleans:
    """Legs of an edge whose two shots lie on different sides of the other edge, where it runs beside both."""
    beside = why != BEYOND
    return np.asarray((side[1:] != side[:-1]) & beside[1:] & beside[:-1])


def _at_shots(leg: Booleans) -> Booleans:
    """Shots that one of these legs starts or ends at."""
    return np.asarray(np.append(leg, False) | np.append(False, leg))


def _uncrossed(made: dict[str, np.ndarray], station: Floats) -> Sections:
    """Take the sections of the shorter side out, and the numbers of all that are none."""
    why, side = made["why"].copy(), made["side"]
    found = why == FOUND
    right, left = (int((found & (side == each)).sum()) for each in (1, -1))
    if right and left:
        wrong = side != 0 if right == left else side == (-1 if right > left else 1)
        why[found & wrong] = CROSSED
    none = why != FOUND
    for name in ("before", "after"):
        made[name] = np.where(none, -1, made[name])
    for name in ("share", "leg", "width"):
        made[name] = np.where(none, np.nan, made[name])
    made["station"] = np.where(none & (made["edge"] == 1), np.nan, station)
    return Sections(**(made | {"why": why}))
