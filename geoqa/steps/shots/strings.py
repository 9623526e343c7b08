"""Strings: the shots a crew joined to one line, in order."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.steps.judging.text_columns import codes_of


@dataclass(frozen=True, eq=False)
class String:
    """One string.

    Attributes
    ----------
    code, line_id : str
    rows : (k,) int64
        Places in `shots`, in the order of the line: by sequence, else by time, else as written. Shots of one sequence
        number, or of one moment, stand as they are written in their files, whatever the order of the rows.
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
    narrow = pd.DataFrame(shots[["code", "line_id", "sequence", "time", "source", "line"]]).iloc[rows]
    group, names = codes_of(narrow["code"].str.strip(), narrow["line_id"].str.strip())
    sequence = narrow["sequence"].to_numpy(float, na_value=np.nan)
    time = np.where(narrow["time"].notna(), narrow["time"].astype("int64"), np.nan)
    written = np.empty(len(rows), dtype=np.int64)
    written[np.lexsort((narrow["line"], pd.factorize(narrow["source"], sort=True)[0]))] = np.arange(len(rows))
    made = []
    for number, members in enumerate(np.split(np.argsort(group, kind="stable"), np.cumsum(np.bincount(group))[:-1])):
        if len(members) >= least:
            code, line_id = names[number]
            made.append(
                String(code, line_id, rows[members[_order(sequence[members], time[members], written[members])]])
            )
    return made


def _order(sequence: np.ndarray, time: np.ndarray, written: np.ndarray) -> np.ndarray:
    known = next((key for key in (sequence, time) if not np.isnan(key).any()), written)
    return np.lexsort((written, np.nan_to_num(time), known))


def places_of(shots: pd.DataFrame) -> np.ndarray:
    """Easting and northing of all shots, shape (n, 2)."""
    return np.column_stack([shots["easting"].to_numpy(float), shots["northing"].to_numpy(float)])


def legs(places: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Plan distance between each shot of a string and the next, shape (k - 1,)."""
    return np.hypot(*np.diff(places[rows], axis=0).T)
