"""What would decide an undecided number, and what would let a missing one be judged."""

from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.judging.verdict import best_deciding_u, deciding_u, independent_shots
from geoqa.model import words
from geoqa.steps.judging.text_columns import taken

MOST_SHOTS = 20
"""Above this many further shots, another method is the honest answer."""

BETTER = {"elevation": "a level reading", "control-elevation": "a level reading"}
"""The better method, by check; for plan positions a total station."""

MISSING = {
    "no-elevation": "shoot it again with an elevation",
    "zero-elevation": "if 0 means none, say so in the job: zero_is_null = true; else shoot it again",
    "no-position": "shoot it again",
    "no-limit": "state a tolerance for this kind and check, with its source",
    "no-design": "show the design, or remove the work",
    "no-design-elevation": "give the design an elevation here",
    "no-uncertainty": "declare an uncertainty for this kind",
    "no-mark": "write the name of the mark in the line ID of the check shot",
    "past-end": "shoot it beside the line, or show the design that goes on here",
    "ambiguous-match": "write the name of the design in the line ID",
    "screened": "shoot it again within the screening rules",
    "identical-to-design": "supply the raw log",
    "code-question": "settle the codes of the shots that lie in it: see their flags",
    "open-blunder": "clear the blunder first: see the diagnosis",
}
"""What helps where something is missing, by reason."""


def deciding(
    check: str,
    why: str,
    *,
    deviation: np.ndarray,
    lower: np.ndarray,
    upper: np.ndarray,
    u: np.ndarray,
    rule: str,
    radial: bool,
    quantity: str,
    unit: str,
    again: str = "independent shot",
) -> pd.Series:
    """Say for undecided numbers which measurement would decide them.

    Parameters
    ----------
    check : str
    why : str
        ``near-limit`` or ``u-too-large``.
    deviation, lower, upper, u : (n,) arrays
    rule, quantity, unit : str
    radial : bool
    again : str
        What would have to be repeated, in the singular.

    Returns
    -------
    Series of str
        One for each number.
    """
    better = BETTER.get(check, "a total station")
    if why == "u-too-large":
        needed = np.broadcast_to(best_deciding_u(lower=lower, upper=upper, rule=rule, radial=radial), u.shape)
    else:
        needed = deciding_u(deviation, lower=lower, upper=upper, rule=rule, radial=radial)
    shots = independent_shots(u, needed)

    def say(need: float, count: float, value: float) -> str:
        printed = words.quantity(need, quantity, unit)
        if why == "u-too-large":
            mean = f", or the mean of {count:.0f} {_plural(again, 2)}" if count <= MOST_SHOTS else ""
            return f"needs u of {printed} or better to prove it at all: {better}{mean}"
        if count > MOST_SHOTS:
            return f"so near the limit that {better} with u of {printed} or better is needed"
        more = max(int(count) - 1, 1)
        return (
            f"{more} more {_plural(again, more)} if their mean stays at "
            f"{words.quantity(value, quantity, unit, signed=not radial)}, or {better} with u of {printed} or better"
        )

    # a printed number has few values: each text is written once
    printed = np.column_stack([needed, np.minimum(shots, MOST_SHOTS + 1), deviation])
    if why == "u-too-large":
        printed[:, 2] = 0.0
    table = pd.DataFrame(np.round(printed, words.decimals(quantity, unit)))
    which = table.groupby([0, 1, 2], sort=False, dropna=False).ngroup().to_numpy()
    once = table.drop_duplicates().to_numpy()  # in the order of their numbers: both go by what comes first
    return taken([say(*each) for each in once.tolist()], which)


def _plural(thing: str, count: int) -> str:
    first, _, rest = thing.partition(" of ")
    if count == 1:
        return thing
    return f"{first}{'es' if first.endswith('s') else 's'}{' of ' * bool(rest)}{rest}"


def for_missing(why: Any) -> Any:
    """What helps, by reason; null for a reason that nothing helps."""
    code, reasons = pd.factorize(why)
    return taken([MISSING.get(each) for each in reasons], code)
