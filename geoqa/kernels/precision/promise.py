"""How often one more measurement would decide a number that is undecided."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from geoqa.kernels.arrays import Booleans, Floats, Integers
from geoqa.kernels.judging.verdict import within_circle
from geoqa.kernels.precision.budget import capability

MOST_SHOTS = 3
"""Above this many further shots of one place, each in a session of its own, another method is the honest answer."""

WORTH_IT = 0.5
"""Share of cases from which on a measurement is worth being asked for."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Promise:
    """What would decide undecided numbers, and how often; arrays of shape (n,).

    Attributes
    ----------
    shots : int64
        Fewest further independent shots that decide in at least `WORTH_IT` of cases; `MOST_SHOTS` where none do.
    share : float64
        Share of cases in which they decide.
    better : float64
        The same for one reading of the better method; NaN where none is known.
    """

    shots: Integers
    share: Floats
    better: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class Again:
    """What else n numbers may be read as.

    Attributes
    ----------
    more : (n,) float64
        What a number is more by in its second reading against the design, however often it is measured; 0 for none.
    for_in : (n,) bool
        That reading is asked before a number is IN too; else it is asked before OUT alone.
    shared : (n,) float64
        What its session may be off by: the part of the number that further measurements, of other sessions, do not
        bear; 0 for none.
    """

    more: Floats
    for_in: Booleans
    shared: Floats


def after(u: ArrayLike, u_more: ArrayLike, *, shots: int = 1, stays: ArrayLike = 0.0) -> Floats:
    """Standard uncertainty of a number after further independent measurements, weighed by their uncertainty.

    Parameters
    ----------
    u : (n,) array
        Of the number as it stands.
    u_more : float or (n,) array
        Of one further measurement.
    shots : int
        How many of them.
    stays : float or (n,) array
        The part of both that no further measurement makes smaller, such as that of the published mark.

    Examples
    --------
    >>> after([0.02, 0.02], [0.02, 0.01], shots=3).round(4).tolist()
    [0.01, 0.0055]
    """
    u, u_more, stays = (np.asarray(each, dtype=np.float64) for each in (u, u_more, stays))
    with np.errstate(divide="ignore", invalid="ignore"):
        own, more = np.maximum(u**2 - stays**2, 0.0), np.maximum(u_more**2 - stays**2, 0.0)
        return np.asarray(np.sqrt(own * more / (own * shots + more) + stays**2))


def share_decided(
    deviation: ArrayLike,
    *,
    lower: ArrayLike,
    upper: ArrayLike,
    u: ArrayLike,
    u_after: ArrayLike,
    rule: str = "guarded",
    radial: bool = False,
    again: Again | None = None,
) -> Floats:
    """Share of cases in which a number, measured further until its uncertainty is `u_after`, is IN or OUT.

    Parameters
    ----------
    deviation, lower, upper, u, rule, radial
        As in `geoqa.kernels.judging.verdict.judge`; of the number as it stands.
    u_after : (n,) array
        Standard uncertainty of the number with the further measurements in it; at most u.
    again : Again, optional
        What else the number may be read as; a verdict must hold for all of it.

    Returns
    -------
    (n,) float64 array
        NaN where something is missing.

    Notes
    -----
    As for verdicts, nothing is supposed of the true value but what was measured: it is normal about the number with
    u. The mean of old and new measurements is then normal about the number as it stands, with variance
    u² - u_after², whatever the new measurements are.

    Examples
    --------
    What lies at the limit is seldom decided by one more shot like the first.

    >>> share_decided([0.08, 0.10], lower=-0.10, upper=0.10, u=0.02, u_after=[0.0141, 0.0141]).round(2).tolist()
    [0.41, 0.1]
    """
    deviation, lower, upper, u, u_after = np.broadcast_arrays(
        *(np.asarray(each, dtype=np.float64) for each in (deviation, lower, upper, u, u_after))
    )
    able = _able(lower, upper, u_after, rule=rule, radial=radial)
    spread = np.sqrt(np.maximum(u**2 - u_after**2, 0.0))
    below = within_circle if radial else _below
    for_in, for_out = _read_at(again, np.where(u > 0, u_after, 0.0) / np.where(u > 0, u, 1.0))
    inside = below(able["in_to"] - for_in[1], deviation, spread)
    if not radial:
        inside = np.maximum(inside - below(able["in_from"] - for_in[0], deviation, spread), 0.0)
    low = 0.0 if radial else np.nan_to_num(below(able["out_below"] - for_out[1], deviation, spread))
    high = np.where(np.isnan(able["out_above"]), 0.0, 1.0 - below(able["out_above"] - for_out[0], deviation, spread))
    share = np.where(np.isnan(inside), 0.0, inside) + low + high
    known = np.isfinite(deviation + u + u_after) & ~(np.isnan(lower) | np.isnan(upper))
    return np.where(known, np.clip(share, 0.0, 1.0), np.nan)


def promise(
    deviation: ArrayLike,
    *,
    lower: ArrayLike,
    upper: ArrayLike,
    u: ArrayLike,
    u_more: ArrayLike,
    u_better: float = np.nan,
    stays: ArrayLike = 0.0,
    rule: str = "guarded",
    radial: bool = False,
    again: Again | None = None,
) -> Promise:
    """Fewest further shots that mostly decide each number, and what the better method would.

    Parameters
    ----------
    deviation, lower, upper, u, rule, radial, again
        As in `share_decided`.
    u_more, stays
        As in `after`; of one further independent shot.
    u_better : float
        Standard uncertainty of one reading of the better method; NaN where none is known.

    Examples
    --------
    >>> found = promise([0.08, 0.10], lower=-0.10, upper=0.10, u=0.02, u_more=0.02, u_better=0.005)
    >>> found.shots.tolist(), found.share.round(2).tolist(), found.better.round(2).tolist()
    ([2, 3], [0.53, 0.34], [0.81, 0.68])
    """
    asked = {"lower": lower, "upper": upper, "u": u, "rule": rule, "radial": radial, "again": again}
    deviation, u = np.broadcast_arrays(np.asarray(deviation, dtype=np.float64), np.asarray(u, dtype=np.float64))
    u_after = [after(u, u_more, shots=shots, stays=stays) for shots in range(1, MOST_SHOTS + 1)]
    known = bool(np.isfinite(u_better))
    if known:
        u_after.append(after(u, np.hypot(u_better, stays), stays=stays))
    # all at once: the ends of what is IN and OUT are looked for in one go
    every = share_decided(deviation, u_after=np.stack(np.broadcast_arrays(*u_after)), **asked)  # type: ignore[arg-type]
    each = every[:MOST_SHOTS]
    enough = np.where((each >= WORTH_IT).any(axis=0), (each >= WORTH_IT).argmax(axis=0), MOST_SHOTS - 1)
    better = every[MOST_SHOTS] if known else np.full(deviation.shape, np.nan)
    return Promise(shots=enough + 1, share=np.take_along_axis(each, enough[None], axis=0)[0], better=np.asarray(better))


def _read_at(again: Again | None, left: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Least and most that other readings are more by, before IN and before OUT; `left` is u afterwards over u."""
    if again is None:
        nothing = np.zeros(())
        return (nothing, nothing), (nothing, nothing)
    less = -again.shared * left**2  # the weight of what there was before
    made = []
    for more in (np.where(again.for_in, again.more, 0.0), again.more):
        every = np.stack(np.broadcast_arrays(0.0 * less, more, less, more + less))
        made.append((every.min(axis=0), every.max(axis=0)))
    return made[0], made[1]


def _able(lower: Floats, upper: Floats, u: Floats, *, rule: str, radial: bool) -> dict[str, Floats]:
    """Ends of what is IN and OUT for each row; what many rows share, u to a part in 500, is worked out once."""
    with np.errstate(divide="ignore"):
        coarse = np.exp(np.round(np.log(u) * _FINE) / _FINE)
    once, which = _distinct(lower, upper, coarse)
    ends = _ends(once.tobytes(), rule, radial)
    return {name: values[which].reshape(u.shape) for name, values in ends.items()}


def _distinct(*columns: Floats) -> tuple[Floats, Integers]:
    """Different rows of columns of numbers, and which of them each is; numbers are sorted alone, never whole rows."""
    values, code = [], np.zeros(columns[0].size, dtype=np.int64)
    for column in columns:
        value, number = np.unique(np.ravel(column), return_inverse=True)
        values.append(value)
        code = code * len(value) + number
    there, which = np.unique(code, return_inverse=True)
    place = np.unravel_index(there, [len(value) for value in values])
    return np.column_stack([value[at] for value, at in zip(values, place, strict=True)]), which


@lru_cache(maxsize=256)
def _ends(table: bytes, rule: str, radial: bool) -> dict[str, Floats]:
    """Ends of what is IN and OUT for rows of lower, upper, u. Kinds and checks of a job ask for the same few."""
    once = np.frombuffer(table).reshape(-1, 3)
    found = capability(lower=once[:, 0], upper=once[:, 1], u=once[:, 2], rule=rule, radial=radial, halvings=_HALVINGS)
    ends = {name: np.array(getattr(found, name)) for name in _ENDS}
    if not radial:  # a single limit is as far from what is IN as from what is OUT, however close to the design it lies
        low, high = (np.isinf(once[:, each]) for each in (0, 1))
        ends["in_to"] = np.where(low, 2 * once[:, 1] - ends["out_above"], np.where(high, np.inf, ends["in_to"]))
        ends["in_from"] = np.where(high, 2 * once[:, 0] - ends["out_below"], np.where(low, -np.inf, ends["in_from"]))
    return ends


_FINE = 500.0
_HALVINGS = 22  # of the tolerance and 100 u: what is left is no matter beside u to a part in 500
_ENDS = ("in_from", "in_to", "out_below", "out_above")


def _below(end: Floats, middle: Floats, spread: Floats) -> Floats:
    """Probability that a normal number lies below an end; a step where nothing is spread."""
    with np.errstate(divide="ignore", invalid="ignore"):
        p = ndtr((end - middle) / spread)
    return np.where(spread > 0, p, np.where(np.isnan(end), np.nan, (middle <= end).astype(float)))
