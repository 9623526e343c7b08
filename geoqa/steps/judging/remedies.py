"""What would decide an undecided number."""

import numpy as np
import pandas as pd

from geoqa.kernels.judging.verdict import best_deciding_u, deciding_u, independent_shots
from geoqa.model import words
from geoqa.model.check import Check
from geoqa.steps.judging.text_columns import taken

MOST_SHOTS = 20
"""Above this many further shots, another method is the honest answer."""


def deciding(
    check: Check,
    why: str,
    *,
    deviation: np.ndarray,
    lower: np.ndarray,
    upper: np.ndarray,
    u: np.ndarray,
    rule: str,
    quantity: str,
    unit: str,
    again: str = "independent shot",
) -> pd.Series:
    """Say for undecided numbers which measurement would decide them.

    Parameters
    ----------
    check : Check
    why : str
        ``near-limit`` or ``u-too-large``.
    deviation, lower, upper, u : (n,) arrays
    rule, quantity, unit : str
    again : str
        What would have to be repeated, in the singular.

    Returns
    -------
    Series of str
        One for each number.
    """
    radial, better = check.radial, check.better
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
