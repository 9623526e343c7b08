"""What would decide an undecided number, and how often: only what a crew can do, with the share of cases it decides."""

from math import hypot
from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.judging.verdict import best_deciding_u, deciding_u
from geoqa.kernels.precision.promise import WORTH_IT, Again, Promise, promise
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.model.quantity import FOOT, UNITS
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import best_mark
from geoqa.steps.judging.text_columns import taken

SHOT = "independent shot"
"""What is repeated, where nothing else is said."""

OF_SESSION = "check shot of this session"
"""What tells more of a check of a session: no other session can."""

NOTHING_AGAIN = ""
"""Where a further pass would not be a number of its own: only the better method is named."""

_APART = {
    True: ("4 h or more later", "4 h or more apart"),
    False: ("in another checked session 4 h or more later", "in checked sessions of their own 4 h or more apart"),
}
"""When one or several are to be repeated; within one session, or in others, of which checks tell how high they lie."""


def deciding(
    check: Check,
    why: str,
    *,
    deviation: np.ndarray,
    lower: np.ndarray,
    upper: np.ndarray,
    u: np.ndarray,
    u_more: np.ndarray,
    stays: np.ndarray,
    rule: str,
    quantity: str,
    unit: str,
    again: str = SHOT,
    read: Again | None = None,
    else_read: np.ndarray | None = None,
    u_tied: float = 0.0,
) -> pd.Series:
    """Say for undecided numbers which measurement would decide them, and in how many of ten such cases.

    Parameters
    ----------
    check : Check
    why : str
        ``near-limit`` or ``u-too-large``.
    deviation, lower, upper, u : (n,) arrays
    u_more : (n,) array
        Standard uncertainty of one more independent measurement like this one.
    stays : (n,) array
        Part of u that no further measurement makes smaller.
    rule, quantity, unit : str
    again : str
        What would have to be repeated, in the singular; `NOTHING_AGAIN` where that would tell nothing more.
    read : Again, optional
        What else the numbers may be read as.
    else_read : (n,) array of str, optional
        What settles that, empty for nothing; it stands first where measuring alone would decide too seldom.
    u_tied : float
        Standard uncertainty of what the better method starts from: a level run feels its mark.

    Returns
    -------
    Series of str
        One for each number.
    """
    given: dict[str, Any] = {"lower": lower, "upper": upper, "rule": rule, "radial": check.radial}
    finer = hypot(better_u(check, quantity, unit), u_tied)
    asked: dict[str, Any] = {"u": u, "u_more": u_more, "stays": stays, "u_better": finer, **given}
    found = promised(deviation, **asked, again=read)
    settle = np.full(len(u), -1)
    settles: list[str] = []
    if read is not None and else_read is not None:
        free = promised(deviation, **asked)
        waits = (_best(found) < WORTH_IT) & (_best(free) > _best(found)) & (else_read != "")
        settle[waits], named = pd.factorize(else_read[waits])
        settles = [f"{each}; then " for each in named]
        found = Promise(**{name: np.where(waits, getattr(free, name), getattr(found, name)) for name in _OF_PROMISE})
    if why == "u-too-large":
        needed = np.broadcast_to(best_deciding_u(**given), u.shape)
    elif quantity == "length":
        needed = np.zeros(u.shape)
    else:
        needed = deciding_u(deviation, **given)
    # a printed number has few values: each text is written once
    printed = np.column_stack([found.shots, _tenths(found.share), _tenths(found.better), needed, settle])
    table = pd.DataFrame(np.round(printed, words.decimals(quantity, unit)))
    which = table.groupby([0, 1, 2, 3, 4], sort=False, dropna=False).ngroup().to_numpy()
    once = table.drop_duplicates().to_numpy()  # in the order of their numbers: both go by what comes first
    first = {"u-too-large": "needs u of {} or better to prove it at all: "}.get(why, "")
    texts = []
    for shots, share, better, need, before in once.tolist():
        u_needed = words.quantity(need, quantity, unit)
        text = first.format(u_needed) + _text(check, int(shots), share, better, u_needed, quantity, unit, again, finer)
        texts.append([*settles, ""][int(before)] + text)
    return taken(texts, which)


def promised(
    deviation: np.ndarray,
    *,
    lower: np.ndarray,
    upper: np.ndarray,
    u: np.ndarray,
    u_more: np.ndarray,
    stays: np.ndarray,
    u_better: float,
    rule: str,
    radial: bool,
    again: Again | None = None,
) -> Promise:
    """What `deciding` promises, in numbers."""
    found = promise(
        deviation, lower=lower, upper=upper, u=u, u_more=u_more, u_better=u_better, stays=stays, rule=rule,
        radial=radial, again=again,
    )  # fmt: skip
    finer = u_better < u
    return Promise(shots=found.shots, share=found.share, better=np.where(finer, found.better, np.nan))


def better_u(check: Check, quantity: str, unit: str) -> float:
    """1 sigma of the better method in the job's unit, or as rise over run; NaN where none is known of this check.

    Examples
    --------
    >>> from geoqa.contract.walks import CROSS_SLOPE
    >>> from geoqa.contract.work import ELEVATION
    >>> round(better_u(ELEVATION, "length", "ft"), 3), better_u(CROSS_SLOPE, "slope", "ft")
    (0.01, 0.001)
    """
    if quantity == "slope" == check.quantity and check.better_slope is not None:
        return check.better_slope
    if quantity != "length" or check.subject != "work" or unit not in UNITS:
        return float("nan")
    return check.better_u / UNITS[unit].metres_float


def level_ties(layers: Layers) -> float:
    """1 sigma of the best mark of a job, in its unit: what any level reading in it feels; 0 without marks."""
    if "control" not in layers:
        return 0.0
    return best_mark(layers["control"], FOOT.metres_float / layers.frame.unit.metres_float)


_OF_PROMISE = ("shots", "share", "better")


def _best(found: Promise) -> np.ndarray:
    """Share of cases that the better of two ways decides."""
    return np.fmax(found.share, found.better)


def _tenths(share: np.ndarray) -> np.ndarray:
    return np.round(10.0 * share)


def _text(
    check: Check, shots: int, share: float, better: float, needed: str, quantity: str, unit: str, again: str,
    u_better: float,
) -> str:  # fmt: skip
    """One remedy; shares in tenths."""
    more = f"{shots} more {_plural(again, shots)}"
    apart = _APART[again == OF_SESSION][shots > 1]
    decide = "decides" if shots == 1 else "decide"
    if better == better:
        other = f"{check.better} with u of {words.quantity(u_better, quantity, unit)}"
    else:
        other = f"{check.better} with u of {needed} or better" if quantity != "length" else ""
    if again == NOTHING_AGAIN:
        return _by_other(check, other, better)
    worth = 10 * WORTH_IT
    if share >= worth:
        rest = "" if not other else f", or {other}" if better != better else f"; {other}: {_of_ten(better)}"
        return f"{more}, {apart}, {decide} {_of_ten(share)} such numbers{rest}"
    if better >= worth:
        return f"{other} decides {_of_ten(better)} such numbers; {more}, {apart}: {_of_ten(share)}"
    only = f"{more}, {apart}, {decide} {_of_ten(share)} such numbers"
    if better == better:
        only += f" and {other} {_of_ten(better)}"
    if quantity != "length":
        return f"so near the limit that {other} is needed: {only}"
    return f"so near the limit that {only}: {_LAST.get(check.subject, _ANYBODY)}"


def _by_other(check: Check, other: str, better: float) -> str:
    if better == better:
        return f"{other} decides {_of_ten(better)} such numbers"
    if other:
        return f"{other} is needed"
    return f"so near the limit that no measurement known here tells: {_LAST.get(check.subject, _ANYBODY)}"


_ANYBODY = "whoever set the limit has to say how it is taken"
_LAST = {"survey": "check the session on two other marks"}
"""What is left where nothing feasible decides half of such numbers."""


def _of_ten(tenths: float) -> str:
    if tenths < 1:
        return "hardly any"
    return "nearly all" if tenths > 9 else f"{tenths:.0f} of 10"


def _plural(thing: str, count: int) -> str:
    first, _, rest = thing.partition(" of ")
    if count == 1:
        return thing
    return f"{first}{'es' if first.endswith('s') else 's'}{' of ' * bool(rest)}{rest}"
