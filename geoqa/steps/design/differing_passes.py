"""Passes of a design line that show different work: what was shot before a rework, and what after it."""

import numpy as np
import pandas as pd

from geoqa.kernels.arrays import Integers
from geoqa.kernels.linework.passes import DIFFERS, FEWEST
from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import has_flag
from geoqa.steps.shots.strings import strings_in

BETWEEN = Length.parse("50 ft")
"""Longest distance between neighbours of a line between which it is taken for shot."""


def differing_passes(layers: Layers, rows: pd.DataFrame, *, gap: float) -> Integers:
    """Number of the work that each row shows: 0, but for passes whose numbers differ from those of the first.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame, (n,)
        Of `along_lines`, those that can be judged.
    gap : float
        Longest distance between neighbours of a pass between which a shot of another one is held against it.

    Returns
    -------
    (n,) int array
        Passes that agree, or lie nowhere beside each other, have the same number.

    Notes
    -----
    As where passes of a string are compared: the mean of a pass is taken to be no better than one shot of it, and what
    one session shares cancels. Lines under different line IDs are passes of the design line that they lie on, too: a
    crew begins with new ones after a rework.
    """
    part = np.zeros(len(rows), dtype=np.int64)
    shots = layers["shots"]
    turn = _visits(layers)[rows["row"].to_numpy()]
    if not turn.any():
        return part
    session = shots["session"].where(shots["session"].notna(), shots["source"]).iloc[rows["row"]]
    known = pd.DataFrame(rows[["station", "deviation", "u_random", "u_common"]]).astype(float)
    known = known.assign(session=session.to_numpy(dtype=object)).reset_index(drop=True)
    stray = has_flag(shots, "spike")[rows["row"].to_numpy()]
    usable = known.drop(columns="session").notna().all(axis=1).to_numpy() & ~stray
    for mine in rows.reset_index(drop=True).groupby("subject", sort=False).indices.values():
        if (turn[mine] != turn[mine[0]]).any():
            part[mine] = _parts(known.iloc[mine], np.where(usable[mine], turn[mine], -1), turn[mine], gap)
    return part


def _visits(layers: Layers) -> np.ndarray:
    """Number of the string that each shot of a job is of, shape (n,), the earlier ones first; 0 for what is in none."""

    def made() -> np.ndarray:
        shots = layers["shots"]
        number = np.zeros(len(shots), dtype=np.int64)
        strings = strings_in(layers)
        first = [shots["time"].iloc[each.rows].min() if "time" in shots else pd.NaT for each in strings]
        begun = pd.DataFrame({"time": pd.to_datetime(pd.Series(first, dtype=object), utc=True),
                              "turn": [each.turn for each in strings],
                              "row": [each.rows.min() for each in strings]})  # fmt: skip
        for place, nth in enumerate(begun.sort_values(["time", "turn", "row"], kind="stable").index.tolist(), start=1):
            number[strings[nth].rows] = place
        return number

    numbers: np.ndarray = layers.derived("strings of shots in their order", ("shots",), made)
    return numbers


def _parts(known: pd.DataFrame, usable: Integers, turn: Integers, gap: float) -> Integers:
    """Number of the work that each shot of one design line shows."""
    part = np.zeros(len(turn), dtype=np.int64)
    for number in np.unique(turn)[1:].tolist():
        own = known[usable == number]
        before = np.where((turn < number) & (usable >= 0), part, -1)
        differs = [_differ(own, known[before == each], gap) for each in range(int(part.max()) + 1)]
        if False in differs:
            part[turn == number] = differs.index(False)
        elif True in differs:
            part[turn == number] = len(differs)
    return part


def _differ(own: pd.DataFrame, other: pd.DataFrame, gap: float) -> bool | None:
    """Whether two passes differ by more than both allow; None where too little of them lies beside each other."""
    if len(own) < FEWEST or len(other) < 2:
        return None
    other = other.sort_values(["station", "deviation"])
    line, station = other["station"].to_numpy(), own["station"].to_numpy()
    after = np.searchsorted(line, station, side="right")
    inside = (after > 0) & (after < len(line))
    under = np.clip(after, 1, len(line) - 1)
    at = np.flatnonzero(inside & (line[under] - line[under - 1] <= gap))
    if len(at) < FEWEST:
        return None
    held = other.iloc[under[at] - 1]
    one = own.iloc[at]
    apart = np.mean(one["deviation"].to_numpy() - np.interp(station[at], line, other["deviation"].to_numpy()))
    parts = ["u_random"] + ["u_common"] * (pd.concat([one["session"], held["session"]]).nunique() > 1)
    u = np.sqrt(sum(float((each[name] ** 2).mean()) for name in parts for each in (one, held)))
    return bool(abs(apart) > DIFFERS * u)
