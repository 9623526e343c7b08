"""What many jobs say together that none says alone: a mark that has moved, a receiver that measures high.

Every question is put as a column beside what is estimated anyway; the column that chance explains least is proven if
even so it is explained in less than 5 % of batches in which there is nothing, all questions counted; then the rest
are asked again beside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import qr
from scipy.special import stdtr, stdtrit

from geoqa.errors import GeometryInputError
from geoqa.kernels.arrays import Floats

FEWEST_FREE = 3
"""Degrees of freedom below which a spread is not known."""
_RANK = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class Answers:
    """What each of k columns is worth, and which are proven.

    Attributes
    ----------
    size, u : (k,) float64
        Size of each, beside those that are proven, and 1 sigma of it; NaN where it cannot be told from the rest.
    t, p : (k,) float64
        Size over u; chance of so large a one among all that were asked, where there is nothing. Of a proven one as it
        was when it was proven.
    order : tuple of int
        Those that are proven, in the order in which they were.
    spread : float
        1 sigma of one value; NaN where too few are there.
    free : int
        Degrees of freedom behind it.
    left : (n,) float64
        Values less all that was estimated.
    """

    size: Floats
    u: Floats
    t: Floats
    p: Floats
    order: tuple[int, ...]
    spread: float
    free: int
    left: Floats

    def half_width(self, level: float = 0.95) -> Floats:
        """What a size may be off by, at that level, taken by itself."""
        return np.asarray(self.u * stdtrit(max(self.free, 1), 0.5 + level / 2))


def asked_in_turn(
    values: ArrayLike,
    blocks: ArrayLike,
    beside: ArrayLike,
    columns: ArrayLike,
    *,
    rows: Sequence[ArrayLike],
    level: float = 0.05,
    asked: int | None = None,
) -> Answers:
    """Ask which of several columns the values need.

    Parameters
    ----------
    values : (n,) array
        No NaN.
    blocks : (n,) int array
        Values of one block share an unknown amount, such as those of one session.
    beside : (n, m) array
        What is estimated anyway, such as a column for each mark; m may be 0.
    columns : (n, k) array
        What is asked for.
    rows : sequence of k int arrays
        Values that a column is about: where they spread more than all do, their own spread counts.
    level : float
        Chance that anything is proven where there is nothing.
    asked : int, optional
        How many questions share that chance, where others are put elsewhere.

    Returns
    -------
    Answers

    Raises
    ------
    GeometryInputError
        Shapes do not fit each other, or a value is missing.

    Examples
    --------
    >>> day = np.repeat(np.arange(8), 3)
    >>> mark = np.tile(np.arange(3), 8)
    >>> noise = np.random.default_rng(1).normal(size=24) * 0.004
    >>> moved = (mark == 1) & (day >= 4)
    >>> found = asked_in_turn(noise + 0.05 * moved + 0.1 * day, day, np.eye(3)[mark], moved[:, None],
    ...     rows=[np.flatnonzero(mark == 1)])
    >>> found.order, found.size.round(2).tolist()
    ((0,), [0.05])
    """
    y, block = np.asarray(values, float), np.asarray(blocks, int)
    nuisance, x = np.asarray(beside, float), np.asarray(columns, float)
    if not (len(y) == len(block) == len(nuisance) == len(x)) or x.ndim != 2 or len(rows) != x.shape[1]:
        raise GeometryInputError("values, blocks, what is beside and columns must have one row a value")
    if not np.isfinite(y).all():
        raise GeometryInputError("a value is missing; leave its row out")
    about = [np.asarray(each, int) for each in rows]
    many = x.shape[1]
    basis = _basis(_within(nuisance, block))
    left, wide = _without(_within(y[:, None], block), basis)[:, 0], _without(_within(x, block), basis)
    length = (x**2).sum(axis=0)
    free = len(y) - len(np.unique(block)) - basis.shape[1]
    made = {name: np.full(many, np.nan) for name in ("size", "u", "t", "p")}
    order: list[int] = []
    while True:
        told = _asked(left, wide, length, about, free)
        p = np.minimum(told["p"] * max(asked or many, 1), 1.0)
        for name in ("size", "u", "t"):
            made[name] = np.where(np.isin(np.arange(many), order), made[name], told[name])
        made["p"] = np.where(np.isin(np.arange(many), order), made["p"], p)
        open_p = np.where(np.isin(np.arange(many), order) | ~np.isfinite(p), np.inf, p)
        if not many or not open_p.min() < level:
            break
        best = int(open_p.argmin())
        order.append(best)
        unit = wide[:, best] / np.sqrt((wide[:, best] ** 2).sum())
        left = left - unit * (unit @ left)
        wide = wide - np.outer(unit, unit @ wide)
        free -= 1
    spread = float(np.sqrt((left**2).sum() / free)) if free >= FEWEST_FREE else np.nan
    if len(order) > 1:  # sizes that were proven early are told beside those proven after them
        made["size"][order] = _together(y, block, nuisance, x[:, order])
    return Answers(**made, order=tuple(order), spread=spread, free=free, left=left)


def _asked(left: Floats, wide: Floats, length: Floats, rows: list[np.ndarray], free: int) -> dict[str, Floats]:
    """Size, 1 sigma, t and p of each column by itself."""
    many = wide.shape[1]
    told = {name: np.full(many, np.nan) for name in ("size", "u", "t", "p")}
    if free - 1 < FEWEST_FREE:
        return told
    weight = (wide**2).sum(axis=0)
    for nth in np.flatnonzero(weight > _RANK * np.maximum(length, 1.0)):
        size = float(wide[:, nth] @ left / weight[nth])
        rest = left - wide[:, nth] * size
        own, mine = rest[rows[nth]], len(rows[nth])
        variance = float((rest**2).sum() / (free - 1))
        if mine > FEWEST_FREE + 1:
            variance = max(variance, float((own**2).sum() / (mine - 2)))
        u = np.sqrt(variance / weight[nth])
        t = size / u if u > 0 else np.copysign(np.inf, size) if size else 0.0
        told["size"][nth], told["u"][nth], told["t"][nth] = size, u, t
        told["p"][nth] = 2.0 * stdtr(free - 1, -abs(t))
    return told


def _within(columns: Floats, block: np.ndarray) -> Floats:
    """Columns less their mean in each block."""
    _, nth = np.unique(block, return_inverse=True)
    count = np.bincount(nth).astype(float)
    sums = np.zeros((len(count), columns.shape[1]))
    np.add.at(sums, nth, columns)
    made: Floats = columns - (sums / count[:, None])[nth]
    return made


def _basis(columns: Floats) -> Floats:
    """An orthonormal basis of columns, of which some may follow from others."""
    if not columns.size:
        return np.zeros((len(columns), 0))
    q, r, _ = qr(columns, mode="economic", pivoting=True)
    size = np.abs(np.diag(r))
    made: Floats = q[:, : int((size > _RANK * max(float(size.max()), 1.0)).sum())]
    return made


def _without(columns: Floats, basis: Floats) -> Floats:
    """What of columns a basis does not explain."""
    made: Floats = columns - basis @ (basis.T @ columns)
    return made


def _together(y: Floats, block: np.ndarray, nuisance: Floats, x: Floats) -> Floats:
    whole = _within(np.column_stack([x, nuisance]), block)
    found, *_ = np.linalg.lstsq(whole, _within(y[:, None], block)[:, 0], rcond=None)
    return np.asarray(found[: x.shape[1]], float)
