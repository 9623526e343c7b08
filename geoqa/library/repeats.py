"""What repeated shots of the same points say about the uncertainty of one."""

from dataclasses import dataclass
from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.errors import QuantityError
from geoqa.kernels.precision.repeats import Repeatability, by_gap, pairs_of, repeatability, visits_of
from geoqa.library.design_tables import column
from geoqa.library.logs import times_in
from geoqa.library.shapes import elevations_of, places_of, series_of
from geoqa.library.systems import projected
from geoqa.model.quantity import Duration
from geoqa.steps.precision.repeats import GAPS

_PARTS = ("random", "common", "absolute", "near", "rho")


@dataclass(frozen=True, kw_only=True, eq=False)
class RepeatStatistics:
    """Uncertainty of one shot, as repeated ones tell it.

    Attributes
    ----------
    precision : DataFrame
        One row an ``axis`` (h per axis, v) and ``part``: ``random`` (of this shot alone), ``common`` (shared by a
        session), ``absolute`` (both together), ``near`` (between shots minutes apart: not an accuracy) and ``rho``
        (share of the random variance that such shots have in common). ``value``, its 95 % band ``low`` to ``high``,
        ``dof``, and the ``points``, ``sessions`` and ``visits`` it rests on; 1 sigma in the unit of the system, NaN
        where it cannot be told.
    gaps : DataFrame
        Differences by the time between two shots of a point, ``low`` to ``high`` minutes: pairs, ``u_h`` and ``u_v``.
    visits : DataFrame
        One row a shot, on its index: number of its ``visit`` (Int64), whether it is the ``first`` of it, and whether
        it came ``close`` after the first.
    """

    precision: pd.DataFrame
    gaps: pd.DataFrame
    visits: pd.DataFrame


def repeat_statistics(
    shots: geopandas.GeoDataFrame,
    *,
    point: str,
    time: str,
    session: str | None = None,
    close: str = "10 min",
    independent_after: str = "4 h",
) -> RepeatStatistics:
    """Learn the uncertainty of one shot from points that were shot more than once.

    Parameters
    ----------
    shots : GeoDataFrame
        Points in a projected system, in 2D or with elevations.
    point : str
        Column with the name of the point that was shot; a missing one is no repeat.
    time : str
        Column of times, of a datetime dtype; a shot without one is in no visit.
    session : str, optional
        Column that says which shots share an error; all of them if not given, and then the common part is unknown.
    close : str
        Time after the first shot of a visit within which another shares its short-lived errors: ``"10 min"``.
    independent_after : str
        Time after which the next visit may begin. Shots in between are too close to count.

    Returns
    -------
    RepeatStatistics

    Raises
    ------
    FrameError
        Shots are not in a projected system with a linear unit.
    GeometryInputError
        A row holds something other than a point.
    JobError
        `close` is not below `independent_after`.
    LayerError
        A column is missing, or times are of no datetime dtype.
    QuantityError
        A time without a unit.

    Notes
    -----
    No diagnosis stands behind it: in a job, shots under a named blunder are left out first.
    The kernel `geoqa.kernels.precision.repeats` of the step ``repeats``: analysis of variance with crossed effects,
    points fixed and sessions random; exact chi-square bands for the random part.

    Examples
    --------
    >>> import geopandas, pandas as pd, geoqa
    >>> shots = geopandas.GeoDataFrame(
    ...     {"on": ["A", "A", "B", "B"], "at": pd.to_datetime(["2026-05-04 08:00", "2026-05-04 14:00"] * 2)},
    ...     geometry=geopandas.points_from_xy([1.00, 1.02, 9.01, 9.00], [5.01, 5.00, 5.00, 5.02]), crs="EPSG:6547")
    >>> found = geoqa.repeat_statistics(shots, point="on", time="at")
    >>> found.precision[["axis", "part", "value", "points", "visits"]].iloc[:2].round(4)
      axis    part   value  points  visits
    0    h  random  0.0112       2       4
    1    h  common     NaN       2       4
    """
    series = series_of(shots, what="shots")
    projected(series, what="shots")
    label = _numbers(shots, point, "point")
    minutes = np.where(label >= 0, _minutes(shots, time), np.nan)
    group = np.zeros(len(series), np.int64) if session is None else _numbers(shots, session, "session")
    near, apart = _duration(close, "close"), _duration(independent_after, "independent_after")
    visits = visits_of(label, minutes, group, close=near, independent_after=apart)
    places, elevation = places_of(series, what="shots"), elevations_of(series)
    found = {
        "h": repeatability(places, label, group, visits),
        "v": repeatability(elevation, label, group, visits),
    }
    gaps = pd.DataFrame(vars(by_gap(pairs_of(label, minutes, places[:, 0], places[:, 1], elevation), GAPS)))
    rows = {
        "visit": pd.arrays.IntegerArray(visits.visit, visits.visit < 0),
        "first": visits.first,
        "close": visits.close,
    }
    return RepeatStatistics(
        precision=pd.DataFrame([_row(axis, part, each) for axis, each in found.items() for part in _PARTS]),
        gaps=gaps.rename(columns={"count_h": "pairs_h", "count_v": "pairs_v"}),
        visits=pd.DataFrame(rows, index=series.index),
    )


def _row(axis: str, part: str, found: Repeatability) -> dict[str, Any]:
    estimate = getattr(found, part)
    numbers = {name: getattr(estimate, name) for name in ("value", "low", "high", "dof")}
    rests = {"points": found.points, "sessions": found.groups, "visits": found.visits}
    return {"axis": axis, "part": part} | numbers | rests


def _numbers(shots: Any, name: str, option: str) -> np.ndarray:
    """Number of each row's label; -1 where it is missing."""
    labels: Any = column(shots, name, what="shots", option=option)
    return pd.factorize(labels)[0].astype(np.int64)


def _minutes(shots: Any, name: str) -> np.ndarray:
    """Minutes since the first shot; NaN where there is no time."""
    times = times_in(shots, name, what="shots")
    return (times - times.min()).dt.total_seconds().to_numpy(float) / 60.0


def _duration(text: str, name: str) -> float:
    """Minutes of a time that is written with its unit."""
    if not isinstance(text, str):
        raise QuantityError(f'{name} is {text!r}, a number without a unit; write it as text, for example "10 min".')
    return float(Duration.parse(text)) / 60.0
