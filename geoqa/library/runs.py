"""Runs of neighbours along a line whose deviations agree, and the verdict on their mean."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.errors import LayerError, QuantityError
from geoqa.kernels.arrays import Integers
from geoqa.kernels.design.run_means import bounded_means
from geoqa.kernels.design.runs import AGREEMENT, SHORTEST, THRESHOLD, find_runs
from geoqa.library.accepted import Labels, Lengths, Numbers
from geoqa.library.judging import judge
from geoqa.library.lengths import distance_in
from geoqa.library.numbers import beside, column_of, sizes
from geoqa.model.quantity import Length, length_unit


@dataclass(frozen=True, kw_only=True, eq=False)
class FoundRuns:
    """Runs and their members.

    Attributes
    ----------
    runs : DataFrame
        One row a run, numbered from 0: ``line``, ``station`` and ``station_end``, ``shots``, ``side`` (+1 above or
        right, -1 below or left), ``mean``, ``u_random``, ``u_common``, ``u_choice`` (the part of u_random that comes of
        the run having been chosen), ``extreme`` (the value that lies farthest off), and ``verdict``, ``p_conform``,
        ``excess`` of the mean.
    members : DataFrame
        One row a value, on its index: ``run`` (Int64, missing where a value is in none) and ``weight`` (its share of
        the mean).
    """

    runs: pd.DataFrame
    members: pd.DataFrame


def runs(
    values: Numbers,
    *,
    line: Labels,
    station: Numbers,
    lower: Lengths | None,
    upper: Lengths | None,
    u_random: Lengths,
    unit: str,
    u_common: Lengths = 0.0,
    session: Labels | None = None,
    time: Labels | None = None,
    max_gap: str | Length = "50 ft",
    shortest: int = SHORTEST,
    rule: str = "guarded",
) -> FoundRuns:
    """Find runs of neighbours that all lie to the same side by more than half the limit, and judge their means.

    Parameters
    ----------
    values : Series or (n,) array
        Deviations, measured minus design; offsets or elevations of `deviations`.
    line : Series or (n,) array
        Line each value belongs to; a missing one belongs to none.
    station : Series or (n,) array
        Along its line, in `unit`.
    lower, upper : float, str, Length, (n,) array, Series or None
        Limits on the deviation; None is no limit on that side, and no run is sought there.
    u_random : float, str, Length, (n,) array or Series
        Part of the standard uncertainty (1 sigma) that is each value's own: it falls with their number.
    unit : {"m", "ft", "ftUS", "in", "cm", "mm"}
        Of values, stations, and limits and uncertainties that are numbers.
    u_common : float, str, Length, (n,) array or Series
        Part that all values of a session share: it does not.
    session : Series or (n,) array, optional
        Which values share it; all of them if not given.
    time : Series or (n,) array, optional
        When each was measured, of a datetime dtype. Then a part of `u_random`, learned from what neighbours differ by,
        is taken to last from shot to shot. Without it the values count as independent.
    max_gap : str or Length
        A longer distance between neighbours ends a run.
    shortest : int
        Fewest members of a run.
    rule : str
        Of `judge`, for the means.

    Returns
    -------
    FoundRuns

    Raises
    ------
    GeometryInputError
        `shortest` is below 1.
    JobError
        An unknown rule, a negative uncertainty, or limits the wrong way round.
    LayerError
        Text in place of numbers, another index, or another number of rows.
    QuantityError
        `max_gap` is no positive length with its unit.

    Notes
    -----
    The kernels `geoqa.kernels.design.runs` and `run_means` of the step ``runs``. Runs are maximal scoring segments,
    found by their shape before anything is judged, so that one is not put together from values that are already OUT.
    A run is the one that was found among all stretches of the values; where luck among them is a fair explanation of
    it, its bounds reach back to sound work (`geoqa.kernels.design.run_means.chosen_u`).

    Examples
    --------
    A settled stretch of curb that no shot proves by itself.

    >>> import geoqa, pandas as pd
    >>> low = pd.Series([0.0, 0.01, -0.12, -0.10, -0.13, -0.11, 0.0])
    >>> found = geoqa.runs(low, line=["curb"] * 7, station=range(0, 175, 25), lower=-0.08, upper=0.08,
    ...              u_random=0.03, unit="ft")
    >>> found.runs[["line", "station", "station_end", "shots", "mean", "verdict"]].round(3)
       line  station  station_end  shots   mean verdict
    0  curb     50.0        125.0      4 -0.115     OUT
    >>> found.members["run"].tolist()
    [<NA>, <NA>, 0, 0, 0, 0, <NA>]
    """
    numbers, index = column_of(values, name="values")
    own = length_unit(unit)
    given = {"lower": (lower, -np.inf), "upper": (upper, np.inf), "u_random": (u_random, np.nan)}
    given |= {"u_common": (u_common, np.nan), "station": (station, np.nan)}
    numeric = {name: beside(value, index, name=name, unit=unit, none=none) for name, (value, none) in given.items()}
    for name in ("u_random", "u_common"):
        sizes(numeric[name], name=name)
    judge(
        numbers, lower=numeric["lower"], upper=numeric["upper"], u=numeric["u_random"], rule=rule
    )  # or it says why not
    number, lines = _groups(line, index, "line")
    gap = distance_in(max_gap, own, name="max_gap")
    if gap == 0:
        raise QuantityError('max_gap is 0; give a positive length, for example "50 ft".')
    found = find_runs(
        number,
        np.where(number >= 0, numeric["station"], np.nan),
        numbers,
        numeric["u_random"],
        lower=numeric["lower"],
        upper=numeric["upper"],
        reach_between=gap,
        shortest=shortest,
        threshold=THRESHOLD,
        agreement=AGREEMENT,
    )
    row = found.row
    shared = np.zeros(len(index), np.int64) if session is None else _groups(session, index, "session")[0]
    means = bounded_means(
        found,
        line=number,
        station=np.where(number >= 0, numeric["station"], np.nan),
        deviation=numbers,
        u_random=numeric["u_random"],
        u_common=numeric["u_common"],
        group=shared,
        lower=numeric["lower"],
        upper=numeric["upper"],
        minutes=None if time is None else _minutes(time, index),
        lasting=0.0 if time is None else None,
    )
    first = np.cumsum(means.shots) - means.shots
    table = pd.DataFrame(
        {
            "line": lines.take(number[row[first]]),
            "station": numeric["station"][row[first]],
            "station_end": numeric["station"][row[first + means.shots - 1]],
            "shots": means.shots,
            "side": found.side,
            "mean": means.mean,
            "u_random": means.u_random,
            "u_common": means.u_common,
            "u_choice": means.u_choice,
            "extreme": numbers[row[means.extreme]],
        }
    ).reset_index(drop=True)
    lower, upper = (numeric[name][row[first]] for name in ("lower", "upper"))
    u = np.hypot(means.u_random, means.u_common)
    judged = judge(table["mean"], lower=lower, upper=upper, u=u, rule=rule)
    return FoundRuns(runs=table.join(judged), members=_members(row, found.run, means.weight, index))


def _groups(labels: Any, index: pd.Index, name: str) -> tuple[Integers, pd.Index]:
    """Number of each row's label, -1 where it is missing, and the labels."""
    column = labels if isinstance(labels, pd.Series) else pd.Series(labels)
    if len(column) != len(index) or (isinstance(labels, pd.Series) and not labels.index.equals(index)):
        raise LayerError(f"{name} has other rows than the values; give one label for each, on their index.")
    number, unique = pd.factorize(column)
    return number.astype(np.int64), pd.Index(unique)


def _minutes(time: Labels, index: pd.Index) -> np.ndarray:
    """Minutes of each value; NaN where its time is missing."""
    column = time if isinstance(time, pd.Series) else pd.Series(time)
    if len(column) != len(index) or (isinstance(time, pd.Series) and not time.index.equals(index)):
        raise LayerError("time has other rows than the values; give one for each, on their index.")
    if not pd.api.types.is_datetime64_any_dtype(column.dtype):
        raise LayerError(f"time is of dtype {column.dtype}; use pandas.to_datetime(column).")
    since = (column - column.min()).dt.total_seconds()
    return since.to_numpy(float) / 60.0


def _members(row: Integers, run: Integers, weight: np.ndarray, index: pd.Index) -> pd.DataFrame:
    numbers, shares = np.full(len(index), -1), np.full(len(index), np.nan)
    numbers[row], shares[row] = run, weight
    return pd.DataFrame({"run": pd.arrays.IntegerArray(numbers, numbers < 0), "weight": shares}, index=index)
