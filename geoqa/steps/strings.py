"""Strings: the shots a crew joined to one line, in order."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.steps.text import codes_of


@dataclass(frozen=True, eq=False)
class String:
    """One string.

    Attributes
    ----------
    code, line_id : str
    rows : (k,) int64
        Places in `shots`, in the order of the line: by sequence, else by time, else as written.
    """

    code: str
    line_id: str
    rows: np.ndarray

    @property
    def name(self) -> str:
        """Code and line ID, as the crew writes them."""
        return f"{self.code} {self.line_id}"


def strings_of(shots: pd.DataFrame, *, least: int = 2) -> list[String]:
    """Strings of at least `least` features with a code, a line ID and a position."""
    usable = shots[["code", "line_id", "easting", "northing"]].notna().all(axis=1)
    if "role" in shots:
        usable &= shots["role"] == "feature"
    rows = np.flatnonzero(usable)
    if not len(rows):
        return []
    mine = shots.iloc[rows]
    group, names = codes_of(mine["code"].str.strip(), mine["line_id"].str.strip())
    made = []
    for number, (code, line_id) in enumerate(names):
        members = rows[group == number]
        if len(members) >= least:
            made.append(String(code, line_id, members[_order(shots.iloc[members])]))
    return made


def _order(members: pd.DataFrame) -> np.ndarray:
    if members["sequence"].notna().all():
        key = members["sequence"].to_numpy(np.int64)
    elif members["time"].notna().all():
        key = members["time"].astype("int64").to_numpy()
    else:
        key = np.arange(len(members))
    return np.argsort(key, kind="stable")


def legs(shots: pd.DataFrame, rows: np.ndarray) -> np.ndarray:
    """Plan distance between each shot of a string and the next, shape (k - 1,)."""
    places = shots[["easting", "northing"]].to_numpy(float)[rows]
    return np.hypot(*np.diff(places, axis=0).T)
