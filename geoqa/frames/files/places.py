"""Where a file's rows lie, and on which marks they were taken: what one file can tell of another."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoqa.frames.readings.doubt import Known
from geoqa.model.frame import Frame
from geoqa.model.tables.columns import COORDINATES
from geoqa.model.tables.marks import marks_shot

if TYPE_CHECKING:
    import pandas as pd


Array = NDArray[np.float64]

POSITIONED = ("shots", "control", "design_elements", "design_points")
"""Tables whose rows lie somewhere."""
NAMES = ("line_id", "shot", "note", "code")
"""Columns of shots that may name a mark."""

FEWEST = 2
"""Different marks from which a shift of all of them is told from a wrong name of one."""

SAMPLED = 500
"""Places of a file that are looked at where only its neighbourhood matters."""


def positions(tables: "Mapping[str, pd.DataFrame]") -> Array:
    """Eastings, northings and elevations of every table that has them, one after the other.

    Returns
    -------
    (n, 3) array
    """
    parts = [np.empty((0, 3))]
    for name in POSITIONED:
        table = tables.get(name)
        if table is not None:
            parts.append(table[list(COORDINATES[name][0])].to_numpy(float))
    return np.concatenate(parts)


def on_marks(
    shots: "pd.DataFrame", control: "pd.DataFrame | None", codes: "pd.DataFrame | None" = None
) -> NDArray[np.int64]:
    """Row of `control` of each row of `shots`; -1 where it is no check shot, or one of the two has no position.

    A list in which a mark stands twice tells nothing.
    """
    if control is None or not len(control) or not len(shots) or control["mark"].duplicated().any():
        return np.full(len(shots), -1, dtype=np.int64)
    found = marks_shot(_named(shots), control.assign(mark=control["mark"].astype("str")), codes)
    there = shots[["easting", "northing"]].notna().all(axis=1).to_numpy()
    placed = control[["easting", "northing"]].notna().all(axis=1).to_numpy()
    return np.where((found >= 0) & there & placed[found], found, -1)


def _named(shots: "pd.DataFrame") -> "pd.DataFrame":
    """The columns of shots that may name a mark, as text; empty where the reader gave none."""
    import pandas as pd

    empty = pd.Series(pd.NA, index=shots.index, dtype="str")
    return pd.DataFrame({name: shots[name].astype("str") if name in shots else empty for name in NAMES})


def enough(rows: NDArray[np.int64]) -> bool:
    """Whether different marks enough were shot."""
    return len(np.unique(rows[rows >= 0])) >= FEWEST


def control_known(control: "pd.DataFrame", rows: NDArray[np.int64], frame: Frame) -> Known:
    """Marks as known points of check shots, taken alone and in order: of those rows that have one."""
    marks = control.iloc[rows[rows >= 0]]
    east, north = (marks[axis].to_numpy(float) for axis in ("easting", "northing"))
    return Known(what="control", frame=frame, easting=east, northing=north, row=np.arange(len(marks)))


def sample(places: Array) -> Array:
    """At most `SAMPLED` of the places, evenly taken: where a file lies does not take more."""
    step = -(-len(places) // SAMPLED)
    return places[:: max(step, 1)]


def around(what: str, places: Array, frame: Frame) -> Known | None:
    """Places as a known neighbourhood; None where there are none."""
    there = places[np.isfinite(places[:, :2]).all(axis=1)]
    return Known(what=what, frame=frame, easting=there[:, 0], northing=there[:, 1]) if len(there) else None


def survey_epoch(tables: "Iterable[pd.DataFrame]") -> float | None:
    """Decimal year of the shots, from their times; None without."""
    import pandas as pd

    times = [table["time"].dropna() for table in tables if "time" in table]
    whole = pd.concat(times) if times else pd.Series(dtype="datetime64[us, UTC]")
    if not len(whole):
        return None
    middle = whole.sort_values().iloc[len(whole) // 2]
    return float(middle.year + (middle.day_of_year - 1) / 365.25)
