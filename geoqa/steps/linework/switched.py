"""Numbers of several shots of which some may or may not be moved: one moment of the switch, and nobody knows which.

Between the last good and the first bad check shot a rod was changed once. What was shot before that moment is as it
was, what was shot after it is moved, so a number of several such shots has as many readings as there are moments.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import AXES
from geoqa.steps.judging.text_columns import rows_of

_SAME = 1e-9
"""Of the size of what moves: two readings that differ by less are one."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Readings:
    """What the switch leaves open of numbers.

    Attributes
    ----------
    open : (m,) bool array
        The moment of the switch changes the number.
    farthest : (m,) float64
        What is taken off the number at the moment at which that is most, with its sign.
    between : (m,) bool array
        There are other readings than the number as read and that with `farthest` taken off.
    """

    open: np.ndarray
    farthest: np.ndarray
    between: np.ndarray


def switches(layers: Layers, made: pd.DataFrame) -> list[np.ndarray]:
    """What each cause does to the shots of which it is not known whether it acts on them: (n, 3) each, 0 for others.

    Parameters
    ----------
    layers : Layers
    made : DataFrame
        Of `observed`.
    """
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return []
    table = layers["cause_shots"]
    table = table[table["holds"] & ~table["sure"]]
    found = []
    for _, mine in table.groupby(["cause", "subject"], sort=True, dropna=False):
        row = rows_of(mine["shot_key"], made["shot"])
        moved = np.zeros((len(made), 3))
        moved[row[row >= 0]] = np.nan_to_num(mine[[f"shift_{axis}" for axis in AXES]].to_numpy(float)[row >= 0])
        found.append(moved)
    return found


def time_order(layers: Layers, made: pd.DataFrame) -> np.ndarray:
    """Rank of each observed shot in time, (n,); where a time is missing, that of the row before it in the file."""
    shots = layers["shots"]
    time = shots["time"].astype("int64").where(shots["time"].notna()).groupby(shots["source"]).ffill()
    order = pd.DataFrame({"time": time, "source": shots["source"], "line": shots["line"]}).reset_index(drop=True)
    ranked = order.sort_values(["time", "source", "line"], kind="stable", na_position="first").index
    rank = np.empty(len(shots), dtype=np.int64)
    rank[ranked] = np.arange(len(shots))
    return np.asarray(rank[made["row"].to_numpy()])


def readings(net: np.ndarray, parts: Sequence[np.ndarray], order: np.ndarray) -> Readings:
    """What numbers may be without a cause, over all moments at which it may have begun to act.

    Parameters
    ----------
    net : (m,) array
        What is taken off each number if all shots that may be moved are.
    parts : sequence of (m, k) array
        For each cause, the part of `net` that comes of each member of which it is not known; 0 for the others.
    order : (m, k) int array
        Rank of the members in time.

    Examples
    --------
    A difference of two shots that may both be moved by 0.3: by both it is not changed, by the later one it is.

    >>> found = readings(np.array([0.0]), [np.array([[-0.3, 0.3]])], np.array([[0, 1]]))
    >>> bool(found.open[0]), round(float(found.farthest[0]), 3), bool(found.between[0])
    (True, 0.3, False)
    """
    least, most = net.copy(), net.copy()
    size, causes, between = np.abs(net), np.zeros(len(net), dtype=int), np.zeros(len(net), dtype=bool)
    every = []
    for part in parts:
        later = np.take_along_axis(part, np.argsort(order, axis=1, kind="stable"), axis=1)
        kept = np.cumsum(later, axis=1)  # not moved before the switch: not taken off
        every.append(kept)
        at_least, at_most = (np.minimum(0.0, kept.min(axis=1, initial=0.0)), kept.max(axis=1, initial=0.0))
        least, most = least - at_most, most - at_least
        size = np.maximum(size, np.abs(part).sum(axis=1))
        causes += (part != 0).any(axis=1)
    near = _SAME * np.maximum(size, 1e-300)
    farthest = np.where(np.abs(most) >= np.abs(least), most, least)
    for kept in every:
        left = net[:, None] - np.column_stack([np.zeros(len(net)), kept])
        bare = (np.abs(left) <= near[:, None]) | (np.abs(left - farthest[:, None]) <= near[:, None])
        between |= ~bare.all(axis=1)
    opened = (most - least) > near
    return Readings(open=opened, farthest=farthest, between=opened & (between | (causes > 1)))
