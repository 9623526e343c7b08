"""The day a file carries: the job's, never the clock's, so that a second run gives the same bytes."""

from contextlib import AbstractContextManager
from datetime import date

from geoqa.model.results import Results
from geoqa.write.gdal_setting import gdal_setting

NO_DATE = date(2000, 1, 1)
"""Stands in where neither the job nor any shot has a date."""


def job_day(results: Results) -> date:
    """Day of the job: as its title says, else of the newest shot, else `NO_DATE`."""
    try:
        return date.fromisoformat(str(results.title.date).strip()[:10])
    except ValueError:
        pass
    if "shots" not in results.layers or "time" not in results.shots.columns:
        return NO_DATE
    newest = results.shots["time"].max()
    return newest.date() if newest == newest and newest is not None else NO_DATE


def steady_clock(day: date) -> AbstractContextManager[None]:
    """Hold the clock that pyogrio's GDAL writes into files, and let it go after."""
    return gdal_setting("OGR_CURRENT_DATE", f"{day.isoformat()}T00:00:00.000Z")
