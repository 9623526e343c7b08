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

LONGEST = 3.0
"""Times the reach of a ramp beyond which no corner is of the same run."""


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
    shared: str = ""
    """The name it bears in the shots, where another ramp bears it too."""

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
        shots too. Shots without a name and a ramp make ramps of their own. Corners of one name that lie farther apart
        are of several ramps, numbered in the order of their shots.
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
    shared: dict[str, str] = {}
    minutes = shots["minutes"].to_numpy(float)
    for whole in sorted(named):
        parts = _parted(places, line, np.array(named[whole]), minutes, reach)
        if len(parts) > 1:
            several = {_free(f"{whole} ({number})", named): part for number, part in enumerate(parts, 1)}
            shared |= dict.fromkeys(several, whole)
            named = {each: rows_of_it for each, rows_of_it in named.items() if each != whole} | several
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
        alike = {each: middle[each] for each, bears in shared.items() if bears == own}
        name = _owner(own, places[row], alike or middle, np.inf if alike else reach)
        if name is None:
            if what.iloc[row] == GUTTER:  # of a curb, not of a ramp
                continue
            name = own or f"ramp at shot {shots['name'].iloc[row]}"
            middle[name] = places[row]
        held.setdefault(name, {}).setdefault(str(what.iloc[row]), []).append(row)
    return [
        Ramp(name, {sort: np.array(sorted(each), dtype=np.int64) for sort, each in held[name].items()},
             shared.get(name, ""))
        for name in sorted(held)
    ]  # fmt: skip


def _parted(
    places: np.ndarray, line: np.ndarray, rows: np.ndarray, minutes: np.ndarray, reach: float
) -> list[list[int]]:
    """Corners of one name as those of as many ramps as bear it, the one shot first first.

    Parts lie farther apart than `reach`. A long run has its foot as far from its head, with other corners there: two
    parts are two ramps where they have corners of one number, or lie farther apart than any run goes.
    """
    apart = np.hypot(*np.moveaxis(places[rows, None] - places[rows], 2, 0))
    part = np.arange(len(rows))
    for limit, alike in ((reach, False), (LONGEST * reach, True)):
        for one, two in zip(*np.nonzero(np.triu(apart <= limit, 1)), strict=True):
            first, second = part == part[one], part == part[two]
            if part[one] != part[two] and not (
                alike and set(_tails(line, rows[first])) & set(_tails(line, rows[second]))
            ):
                part[second] = part[one]
    made = [rows[part == number] for number in np.unique(part)]
    made.sort(key=lambda each: (np.nan_to_num(minutes[each], nan=np.inf).min(), each.min()))
    return [each.tolist() for each in made]


def _tails(line: np.ndarray, rows: np.ndarray) -> list[str]:
    """Numbers of corners, without those that have none."""
    whole = [str(each).strip() for each in line[rows]]
    return [each.rpartition(" ")[2] for each in whole if each != ramp_name(each)]


def _free(name: str, named: dict[str, list[int]]) -> str:
    """That name, or one that no ramp bears in the shots."""
    return name if name not in named else _free(f"{name}'", named)


def _owner(name: str, place: np.ndarray, middle: dict[str, np.ndarray], reach: float) -> str | None:
    """The ramp of that name, else the nearest one within reach."""
    if name in middle:
        return name
    near = sorted((float(np.hypot(*(place - each))), other) for other, each in middle.items())
    return near[0][1] if near and near[0][0] <= reach else None
