"""Tables without shapes, written as SQL: just what the library that writes shapes makes of them."""

import sqlite3
from contextlib import closing, suppress
from datetime import date

import pandas as pd
import pyogrio
import pytest

from geoqa.write.dates import steady_clock
from geoqa.write.gis import attributes

DAY = date(2026, 5, 15)


@pytest.fixture
def table():
    times = ["2026-05-12T13:08:50Z", "2026-05-12T13:08:50.1234Z", None]
    return pd.DataFrame(
        {
            "text": pd.Series(["a 'quoted' \"one\"", None, "é"], dtype="str"),
            "number": [1.5, float("nan"), -0.1],
            "count": [3, 2**40, -1],
            "small": pd.Series([1, None, 3], dtype="Int32"),
            "large": pd.Series([1, None, 3], dtype="Int64"),
            "yes": [True, False, True],
            "perhaps": pd.Series([True, None, False], dtype="boolean"),
            "when": pd.to_datetime(pd.Series(times), utc=True, format="ISO8601").dt.as_unit("us"),
        }
    )


def _made(path, name, table, *, by_library):
    first = pd.DataFrame({"item": ["a"]}, dtype="str")
    with steady_clock(DAY):
        pyogrio.write_dataframe(first, path, layer="first", driver="GPKG", use_arrow=True)
        if by_library:
            options = {"DESCRIPTION": "d'un jour"}
            pyogrio.write_dataframe(
                table, path, layer=name, driver="GPKG", append=True, use_arrow=True, layer_options=options
            )
    if not by_library:
        with attributes.opened(path, to_write=True) as file:
            attributes.put(file, name, table, "d'un jour", day=DAY)
    with closing(sqlite3.connect(path)) as file:
        names = [each for (each,) in file.execute("select name from sqlite_master where type = 'table' order by name")]
        rows = {each: file.execute(f'select * from "{each}"').fetchall() for each in names}
        schema = set(file.execute("select type, name, tbl_name, sql from sqlite_master"))
        kinds = file.execute(f'select typeof(number), typeof(large), typeof("when") from "{name}"').fetchall()
    return schema, rows, kinds


@pytest.mark.parametrize("name", ["odd 'name'", "plain"])
@pytest.mark.parametrize("rows", [3, 0])
def test_a_table_is_what_the_library_would_have_written(tmp_path, table, name, rows):
    table = table.head(rows)
    assert attributes.holdable(table)
    wanted = _made(tmp_path / "library.gpkg", name, table, by_library=True)
    assert _made(tmp_path / "own.gpkg", name, table, by_library=False) == wanted


def test_rows_come_out_in_their_order_with_what_is_missing(tmp_path, table):
    _made(tmp_path / "own.gpkg", "rows", table, by_library=False)
    with attributes.opened(tmp_path / "own.gpkg", to_write=False) as file:
        found = attributes.taken_out(file, "rows")
    assert found["count"].tolist() == table["count"].tolist()
    assert found["text"].isna().tolist() == [False, True, False]
    assert found["when"].tolist()[:2] == ["2026-05-12T13:08:50Z", "2026-05-12T13:08:50.123Z"]


def test_a_dtype_without_a_field_of_its_own_is_left_to_the_library(table):
    assert not attributes.holdable(table.assign(span=pd.to_timedelta([1, 2, 3], unit="s")))
    assert not attributes.holdable(table.assign(part=table["number"].astype("float32")))


def test_nothing_is_kept_of_a_file_that_was_not_finished(tmp_path, table):
    path = tmp_path / "own.gpkg"
    _made(path, "rows", table, by_library=False)
    with suppress(RuntimeError), attributes.opened(path, to_write=True) as file:
        attributes.put(file, "more", table, "", day=DAY)
        raise RuntimeError
    assert [name for name, _ in pyogrio.list_layers(path)] == ["first", "rows"]
