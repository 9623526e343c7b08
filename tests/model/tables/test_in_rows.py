"""Rows of a table are those of the library, value by value."""

import numpy as np
import pandas as pd

from geoqa.model.tables.in_rows import in_rows


def test_rows_are_what_the_library_makes_of_them():
    table = pd.DataFrame(
        {
            "text": pd.Series(["a", None], dtype="str"),
            "number": [1.5, np.nan],
            "whole": np.array([1, 2]),
            "maybe": pd.array([3, None], dtype="Int64"),
            "said": pd.array([True, None], dtype="boolean"),
            "time": pd.to_datetime(["2026-05-01T12:00:00Z", None]),
            "any": pd.Series([np.int64(4), ("b",)], dtype=object),
        },
        index=[7, 7],
    )
    ours, theirs = in_rows(table), table.to_dict("records")
    assert [list(row) for row in ours] == [list(row) for row in theirs]
    for mine, other in zip(ours, theirs, strict=True):
        for name in table:
            assert type(mine[name]) is type(other[name]), name
            assert mine[name] is other[name] or mine[name] == other[name] or mine[name] != mine[name], name


def test_a_table_without_rows_gives_none():
    assert in_rows(pd.DataFrame({"text": []})) == [] == in_rows(pd.DataFrame())
