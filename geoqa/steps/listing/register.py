"""Numbers of items: kept from an earlier run, new ones behind all that were ever given."""

import math
from collections import Counter

import numpy as np
import pandas as pd
from scipy.spatial import cKDTree

from geoqa.model.tables.finding import earlier_id

OPEN, GONE = "open", "gone"
"""States of an item: it is listed now; it was, and its number is not given again."""
SAME_QUESTION = ["chapter", "verdict", "check", "kind", "why"]
"""Columns by which an item that is not out is known again: it is a question about a kind, not a place."""


def numbered(items: pd.DataFrame, earlier: pd.DataFrame | None = None, *, near: float = 0.0) -> pd.DataFrame:
    """Number items in their order; one that shares findings with an earlier item keeps its number.

    So does one that is out by the same check at the same place, where all of it was shot anew or its file got another
    name: whoever cited the number means that place.

    Parameters
    ----------
    items : DataFrame
        In the order of the list: `chapter`, `verdict`, `finding`, `check`, `kind`, `subject`, `why`, `findings`,
        `easting`, `northing`, `members`: ids joined by ``;``, of what is out.
    earlier : DataFrame or None
        The register of the run before, as this function gives it.
    near : float
        How near the places of two such items must be, in the job's unit.

    Returns
    -------
    DataFrame
        `items` with `item` and `state`, followed by earlier ones that are gone.

    Examples
    --------
    >>> row = {"chapter": "work", "verdict": "OUT", "finding": "F2", "check": "offset", "kind": "curb", "subject": "L",
    ...     "why": "proven", "findings": 1, "easting": 0.0, "northing": 0.0, "members": "F2"}
    >>> first = numbered(pd.DataFrame([row, row | {"finding": "F3", "members": "F3"}]))
    >>> first["item"].tolist()
    ['1', '2']
    >>> again = numbered(pd.DataFrame([row | {"members": "F9"}, row | {"members": "F3;F4"}]), first)
    >>> again[["item", "state"]].to_records(index=False).tolist()
    [('3', 'open'), ('2', 'open'), ('1', 'gone')]
    """
    if earlier is None or not len(earlier):
        return items.assign(item=[str(nth + 1) for nth in range(len(items))], state=OPEN)
    kept = _kept(items, earlier, near)
    last = max(int(name) for name in earlier["item"])
    given = iter(range(last + 1, last + 1 + len(items)))
    names = [kept.get(row) or str(next(given)) for row in range(len(items))]
    gone = earlier[~earlier["item"].isin(names)].assign(state=GONE)
    return pd.concat([items.assign(item=names, state=OPEN), gone], ignore_index=True)[[*items, "item", "state"]]


def _kept(items: pd.DataFrame, earlier: pd.DataFrame, near: float) -> dict[int, str]:
    """Row of an item -> its number in the register: most findings in common, then the place, then the lower number."""
    owner = {name: item for item, members in zip(earlier["item"], earlier["members"], strict=True)
             if isinstance(members, str) for name in members.split(";") if name}  # fmt: skip
    wanted: list[tuple[float, int, int, str]] = []
    for row, members in enumerate(items["members"]):
        named = (name if name in owner else earlier_id(name) for name in str(members).split(";"))
        shared = Counter(owner[name] for name in named if name in owner)
        wanted += [(-count, int(item), row, item) for item, count in shared.items()]
    asked, asks = (table[SAME_QUESTION].fillna("").to_numpy().tolist() for table in (earlier, items))
    questions = {tuple(key): item for key, item in zip(asked, earlier["item"], strict=True)}
    for row, key in enumerate(asks):
        if items["verdict"].iloc[row] != "OUT" and tuple(key) in questions:
            wanted.append((0, int(questions[tuple(key)]), row, questions[tuple(key)]))
    wanted += _at_one_place(items, earlier, near)
    kept: dict[int, str] = {}
    taken: set[str] = set()
    for _, _, row, item in sorted(wanted):
        if row not in kept and item not in taken:
            kept[row] = item
            taken.add(item)
    return kept


def _at_one_place(items: pd.DataFrame, earlier: pd.DataFrame, near: float) -> list[tuple[float, int, int, str]]:
    """Items that are out by one check at one place, nearest first, behind all that share a finding."""
    if not near or not {"easting", "northing"} <= set(earlier):
        return []
    columns = ["chapter", "check", "kind"]
    old, new = (table[columns].fillna("").agg(" ".join, axis=1).to_numpy(str) for table in (earlier, items))
    parts = [_out_and_placed(table) for table in (earlier, items)]
    there, here = (
        table[["easting", "northing"]].to_numpy(float)[rows]
        for table, rows in zip((earlier, items), parts, strict=True)
    )
    if not len(there) or not len(here):
        return []
    places = earlier[["easting", "northing"]].to_numpy(float)
    found = []
    for nth, close in enumerate(cKDTree(there).query_ball_point(here, near)):
        row = int(parts[1][nth])
        for at in (int(parts[0][each]) for each in close if old[parts[0][each]] == new[row]):
            away = math.dist(here[nth], places[at])
            found.append((1.0 + away, int(earlier["item"].iloc[at]), row, str(earlier["item"].iloc[at])))
    return found


def _out_and_placed(table: pd.DataFrame) -> np.ndarray:
    placed = np.isfinite(table[["easting", "northing"]].to_numpy(float)).all(axis=1)
    return np.flatnonzero((table["verdict"] == "OUT").to_numpy(bool) & placed)
