"""Rows of an item keep their hash, however their times are put into words."""

import pandas as pd
import pytest

from geoqa.model.tables.seen import measurements


@pytest.mark.parametrize("unit", ["ns", "us", "ms", "s"])
@pytest.mark.parametrize(
    "texts",
    [
        ["2025-01-01T13:00:00Z", None, "2025-01-02T00:00:00Z", "1969-12-31T23:59:59Z"],
        ["2025-01-02T00:00:00Z"],
        [None],
        ["2025-01-01T13:00:00.25Z", "2025-01-01T13:00:00Z"],
        [],
    ],
)
def test_times_are_told_as_the_column_itself_tells_them(texts, unit):
    column = pd.Series(pd.to_datetime(texts, utc=True, format="ISO8601")).dt.as_unit(unit)
    assert measurements(pd.DataFrame({"time": column})) == column.astype("str").fillna("").tolist()


def test_times_without_a_zone_or_of_another_are_told_too():
    naive = pd.Series(pd.to_datetime(["2025-01-01T13:00:00", "2025-01-02T00:00:00"]))
    for column in (naive, naive.dt.tz_localize("America/New_York")):
        assert measurements(pd.DataFrame({"time": column})) == column.astype("str").tolist()
