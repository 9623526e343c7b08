"""Which shots are of which ramp."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

RAMP, WARNING, GUTTER, FLARE = "ramp", "detectable-warning", "gutter", "flare"
KINDS = {
    "ramp": RAMP, "ramp-outline": RAMP, "ramp-corner": RAMP, "detectable-warning": WARNING,
    "ramp-gutter": GUTTER, "gutter": GUTTER, "ramp-flare": FLARE, "flare": FLARE,
}  # fmt: skip
"""Kinds of shots that are of ramps, and what they are of them."""
_TAIL = 3
"""Longest number of a corner behind the name of its ramp, such as W2."""


@dataclass(frozen=True, eq=False)
class Ramp:
    """Shots of one ramp.

    Attributes
    ----------
    name : str
    of : dict of str to (k,) int64 array
        Places in the table of shots, by what they are of.
    """

    name: str
    of: dict[str, np.ndarray]

    def rows(self, what: str) -> np.ndarray:
        """Places of its shots of one sort."""
        return self.of.get(what, np.zeros(0, dtype=np.int64))


def ramp_name(line_id: str) -> str:
    """Name of the ramp that a shot's line ID names, without the number of its corner.

    Examples
    --------
    >>> ramp_name("CR-1 7"), ramp_name("CR-1 W2"), ramp_name("CR-3"), ramp_name("north east")
    ('CR-1', 'CR-1', 'CR-3', 'north east')
    """
    head, _, tail = line_id.strip().rpartition(" ")
    return head.strip() if head and len(tail) <= _TAIL and tail[-1].isdigit() else line_id.strip()


def ramps_of(shots: pd.DataFrame, *, reach: float) -> list[Ramp]:
    """Sort the shots of ramps by ramp.

    Parameters
    ----------
    shots : DataFrame
        Of `observed`.
    reach : float
        Shots of another name, or of none, are of the ramp whose middle is nearest, if it is nearer than this; gutter
        shots too. Shots without a name and a ramp make ramps of their own.
    """
    what = shots["kind"].map(KINDS)
    mine = what.notna() & (shots["why_plan"] == 0) & shots[["easting", "northing"]].notna().all(axis=1)
    rows = np.flatnonzero(mine.to_numpy(bool))
    if not len(rows):
        return []
    places = shots[["easting", "northing"]].to_numpy(float)
    line = shots["line_id"].fillna("").to_numpy(dtype=object)
    named: dict[str, list[int]] = {}
    corners = shots["kind"].isin(["ramp", "ramp-corner"]).to_numpy(bool)
    for row in rows[corners[rows]].tolist():
        if line[row].strip():
            named.setdefault(ramp_name(line[row]), []).append(row)
    middle = {name: places[each].mean(axis=0) for name, each in named.items()}
    held: dict[str, dict[str, list[int]]] = {}
    later = [row for row in rows.tolist() if not (corners[row] and line[row].strip())]
    for each_name, each in named.items():
        held[each_name] = {RAMP: each}
    if later:
        outer = (what.iloc[later] != RAMP).to_numpy(bool)  # corners first: they make ramps that others belong to
        later = [later[at] for at in np.lexsort((places[later, 1], places[later, 0], outer))]
    for row in later:
        own = ramp_name(line[row])
        name = _owner(own, places[row], middle, reach)
        if name is None:
            if what.iloc[row] == GUTTER:  # of a curb, not of a ramp
                continue
            name = own or f"ramp at shot {shots['name'].iloc[row]}"
            middle[name] = places[row]
        held.setdefault(name, {}).setdefault(str(what.iloc[row]), []).append(row)
    return [
        Ramp(name, {sort: np.array(sorted(each), dtype=np.int64) for sort, each in held[name].items()})
        for name in sorted(held)
    ]


def _owner(name: str, place: np.ndarray, middle: dict[str, np.ndarray], reach: float) -> str | None:
    """The ramp of that name, else the nearest one within reach."""
    if name in middle:
        return name
    near = sorted((float(np.hypot(*(place - each))), other) for other, each in middle.items())
    return near[0][1] if near and near[0][0] <= reach else None
