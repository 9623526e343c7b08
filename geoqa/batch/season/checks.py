"""Check shots of all jobs in one table: one unit, and marks that are the same in several jobs known as such."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.model.quantity import FOOT, length_unit
from geoqa.model.season import AXES

if TYPE_CHECKING:
    import pandas as pd

SAME = 1.0
"""Feet: marks of one name in one frame whose published places lie no farther apart are one mark. Common practice, no
source: marks lie farther apart, and a new adjustment moves them less."""
_TEXTS = ("job", "session", "mark", "source", "receiver", "crew", "clock", "frame", "key", "visit", "shot_key")
_NUMBERS = (*AXES, *(f"published_{axis}" for axis in AXES), *(f"value_{axis}" for axis in AXES), "hour")


def season_unit(units: Sequence[str]) -> str:
    """The unit of most jobs; of two that are as frequent, the one that comes first.

    Examples
    --------
    >>> season_unit(["ft", "ftUS", "ftUS"])
    'ftUS'
    """
    return max(dict.fromkeys(units), key=units.count) if units else "ft"


def season_checks(jobs: Sequence[tuple[str, Mapping[str, Any], "pd.DataFrame"]], unit: str) -> "pd.DataFrame":
    """Put the check shots of jobs together that count.

    Parameters
    ----------
    jobs : sequence of (label, facts, checks)
        As a part keeps them; `checks` may have a column `crew`.
    unit : str
        Of the lengths that come back.

    Returns
    -------
    DataFrame
        Columns of the checks, with `job`; `key`, the mark over all jobs; `visit`, a session of a job; and
        `value_easting` …, measured minus the place that was published when the mark was first seen.
    """
    import pandas as pd

    tables = [_in_unit(label, facts, checks, unit) for label, facts, checks in jobs if len(checks)]
    if not tables:
        numbers = {name: pd.Series(dtype="float64") for name in _NUMBERS}
        texts = {name: pd.Series(dtype="str") for name in _TEXTS}
        return pd.DataFrame({**texts, **numbers, "time": pd.Series(dtype="datetime64[us, UTC]")})
    table = pd.concat(tables, ignore_index=True)
    session = table["session"].fillna(table["source"]).astype("str")
    table["session"], table["visit"] = session, table["job"] + " · " + session
    return _with_marks(table.sort_values(["time", "job", "shot_key"], ignore_index=True), unit)


def _in_unit(label: str, facts: Mapping[str, Any], checks: "pd.DataFrame", unit: str) -> "pd.DataFrame":
    import pandas as pd

    factor = length_unit(facts["unit"]).metres_float / length_unit(unit).metres_float
    kept = checks[checks["counts"]].reset_index(drop=True)
    if "crew" not in kept:
        kept["crew"] = ""
    for name in (*AXES, *(f"published_{axis}" for axis in AXES)):
        kept[name] = kept[name].astype("float64") * factor
    time = pd.to_datetime(kept["time"], utc=True)
    if facts["date"]:
        time = time.fillna(pd.Timestamp(str(facts["date"]), tz="UTC"))
    return kept.assign(job=label, frame=facts["frame"], time=time.astype("datetime64[us, UTC]"))


def _with_marks(table: "pd.DataFrame", unit: str) -> "pd.DataFrame":
    """Name the same mark alike in all jobs; a name that stands for several marks gets the job that has it first."""
    near = SAME * FOOT.metres_float / length_unit(unit).metres_float
    key, first = np.empty(len(table), dtype=object), np.full((len(table), 3), np.nan)
    place = table[[f"published_{axis}" for axis in AXES]].to_numpy(float)
    frame_and_mark = table["frame"] + "\n" + table["mark"]
    for rows in frame_and_mark.groupby(frame_and_mark, sort=False).indices.values():
        mark = table["mark"].iloc[rows[0]]
        known: list[tuple[str, np.ndarray]] = []
        for row in rows:
            at = next((each for each in known if np.hypot(*(place[row] - each[1])[:2]) <= near), None)
            if at is None:
                at = (f"{mark} ({table['job'].iloc[row]})", place[row].copy())
                known.append(at)
            at[1][:] = np.where(np.isfinite(at[1]), at[1], place[row])
            key[row], first[row] = at
    names = dict(zip(key, table["mark"], strict=True))
    shared = {mark for mark in names.values() if sum(mark == other for other in names.values()) > 1}
    table["key"] = [each if names[each] in shared else names[each] for each in key]
    for nth, axis in enumerate(AXES):
        table[f"value_{axis}"] = table[axis] + place[:, nth] - first[:, nth]
    return table
