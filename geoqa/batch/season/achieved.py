"""What was achieved on control, by receiver, session, hours of the day, and crew."""

from typing import TYPE_CHECKING, Any

from geoqa.kernels.precision.achieved import achieved
from geoqa.model.season import AXES

if TYPE_CHECKING:
    import pandas as pd

HOURS = 3
"""Hours of a class of the day."""
_NOT_STATED = "not stated"


def achieved_table(checks: "pd.DataFrame", off: "pd.DataFrame", *, crews: bool) -> "pd.DataFrame":
    """Root mean square of residuals in plan, per axis, and in elevation, each with its band.

    Returns
    -------
    DataFrame
        Table `achieved` of `geoqa.model.season.Season`.
    """
    import pandas as pd

    table = checks.assign(
        receiver=checks["receiver"].fillna("").replace("", _NOT_STATED),
        crew=checks["crew"].fillna("").replace("", _NOT_STATED),
        hours=[_hours(hour) for hour in checks["hour"]],
        **{axis: checks[axis] - off[axis] for axis in AXES},
    )
    by = {"receiver": "receiver", "hours": "hours", "session": "visit"} | ({"crew": "crew"} if crews else {})
    rows = [_row("all", "all check shots", table)] if len(table) else []
    for name, column in by.items():
        rows += [_row(name, str(each), mine) for each, mine in table.groupby(column, sort=True)]
    return pd.DataFrame(rows, columns=_COLUMNS)


_COLUMNS = ["by", "name", "jobs", "sessions", "shots", "u_h", "u_h_low", "u_h_high", "u_v", "u_v_low", "u_v_high",
            *(f"mean_{axis}" for axis in AXES)]  # fmt: skip


def _row(by: str, name: str, mine: "pd.DataFrame") -> dict[str, Any]:
    plan = achieved(mine[["easting", "northing"]].to_numpy(float), mine["visit"].to_numpy(object))
    level = achieved(mine["elevation"].to_numpy(float), mine["visit"].to_numpy(object))
    return {
        "by": by, "name": name, "jobs": mine["job"].nunique(), "sessions": mine["visit"].nunique(), "shots": len(mine),
        "u_h": plan.u, "u_h_low": plan.low, "u_h_high": plan.high,
        "u_v": level.u, "u_v_low": level.low, "u_v_high": level.high,
        **{f"mean_{axis}": mine[axis].mean() for axis in AXES},
    }  # fmt: skip


def _hours(hour: float) -> str:
    """Class of an hour of the day.

    Examples
    --------
    >>> _hours(7.5), _hours(float("nan"))
    ('06:00 to 09:00', 'no time')
    """
    if hour != hour:
        return "no time"
    first = int(hour) // HOURS * HOURS
    return f"{first:02d}:00 to {first + HOURS:02d}:00"
