"""Times that no zone is stated for: one question for all files of a folder."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from geoqa.errors import GeoqaError
from geoqa.job.begin.comment import one_line
from geoqa.job.begin.listing import Found
from geoqa.model.source import Source
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd

ANY_ZONE = "UTC"
"""A zone in which it is tried whether the times can be read at all."""


@dataclass(frozen=True)
class TimeZone:
    """What a folder needs before its times are taken.

    Attributes
    ----------
    times : mapping of str to int
        Times of each file that state no zone.
    patterns : mapping of str to tuple of str
        Of a file whose days and months can be read in two ways, the patterns.
    """

    times: Mapping[str, int] = field(default_factory=dict)
    patterns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def line(self) -> str:
        """The line of `[job]` that asks for the zone; empty where no file needs it.

        Examples
        --------
        >>> print(TimeZone({"a.csv": 12}).line().strip())
        time_zone = "REQUIRED"   # e.g. "America/Chicago": zone of 12 times of a.csv, which state none
        """
        if not self.times:
            return ""
        files = ", ".join(one_line(name) for name in self.times)
        said = f"zone of {many(sum(self.times.values()), 'time')} of {files}, which state none"
        return f'\ntime_zone = "REQUIRED"   # e.g. "America/Chicago": {said}'


def time_zone(found: Iterable[Found], sources: Mapping[str, Source]) -> TimeZone:
    """Files of shots whose times are read once a zone is stated, and those that need their pattern too."""
    times: dict[str, int] = {}
    patterns: dict[str, tuple[str, ...]] = {}
    for file in found:
        source = sources.get(file.shown)
        if file.role != "shots" or source is None or "time" not in file.peek.holds or "time_zone" in file.options:
            continue
        if source.layers["shots"]["time"].notna().any():
            continue
        count, orders = _in_some_zone(file)
        if count:
            times[file.shown] = count
        if len(orders) > 1:
            patterns[file.shown] = orders
    return TimeZone(times, patterns)


def _in_some_zone(file: Found) -> tuple[int, tuple[str, ...]]:
    """How many times are read in a zone; where day and month can change places, in how many ways each is read."""
    reader = file.reader()
    if not {"time_zone", "time_format"} <= set(type(reader).model_fields):
        return 0, ()
    if count := _read(file, time_zone=ANY_ZONE):
        return count, ()
    asked = getattr(reader, "time_orders", None)
    either = () if asked is None else asked(file.peek)
    orders = tuple(each for each in either if _read(file, time_zone=ANY_ZONE, time_format=each))
    return (_read(file, time_zone=ANY_ZONE, time_format=orders[0]) if orders else 0), orders


def _read(file: Found, **stated: str) -> int:
    try:
        shots: pd.DataFrame = (
            file.reader().model_copy(update=stated).read(file.path, source=file.path.stem).layers["shots"]
        )
    except GeoqaError:
        return 0
    return int(shots["time"].notna().sum())
