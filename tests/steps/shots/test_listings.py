"""One measurement listed again: by the bytes of a file, by what its rows hold, and row by row."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.model.tables.columns import conform
from geoqa.steps.shots.doubles import Doubles
from geoqa.steps.shots.listings import counted, listings

AT = pd.Timestamp("2026-03-14 14:00", tz="UTC")


def day(seed, *, source="day1", count=6, timed=True, first=100):
    """Rows of one file, as a log would hold them."""
    draw = np.random.default_rng(seed)
    return [
        {"source": source, "shot": str(first + nth), "line": nth + 2, "station": round(10 * nth + draw.normal(), 3),
         "offset": round(draw.normal(), 3), "elevation": round(100 + draw.normal(), 3),
         "time": AT + pd.Timedelta(seconds=int(60 * nth + draw.integers(50))) if timed else None}
        for nth in range(count)
    ]  # fmt: skip


def as_file(rows, source, **more):
    return [row | {"source": source, "shot_key": f"{source}/{row['shot']}"} | more for row in rows]


def files(**hashes):
    rows = [{"source": name, "role": "shots", "path": f"{name}.csv", "sha256": value, "reader": "", "version": ""}
            for name, value in hashes.items()]  # fmt: skip
    return conform("sources", pd.DataFrame(rows))


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("role", ["feature", "check", "other"])
@pytest.mark.parametrize("timed", [True, False])
def test_rows_of_one_file_in_another_order_and_under_other_names_count_once(seed, role, timed):
    rows = day(seed, timed=timed)
    again = as_file(rows, "day2")
    np.random.default_rng(seed).shuffle(again)
    again = [row | {"shot": str(900 + nth)} for nth, row in enumerate(again)]
    found = listings(testing.prepared(testing.shots([*rows, *again]), role=role))
    assert found.again.tolist() == [False] * 6 + [True] * 6
    assert [(each.source, each.of, each.variant, each.rows) for each in found.copies] == [("day2", "day1", "rows", 6)]
    place = testing.shots([*rows, *again])[["easting", "northing", "elevation"]].to_numpy()
    assert (place[found.first] == place).all()


def test_an_export_that_goes_on_counts_its_new_rows():
    rows = day(1)
    more = [*rows, *day(2, count=6, first=300)]
    found = listings(testing.shots([*rows, *as_file(more, "day2")]))
    assert found.again.tolist() == [False] * 6 + [True] * 6 + [False] * 6
    assert found.copies[0].total == 12


@pytest.mark.parametrize(("shift", "variant"), [(0.0, "bytes"), (4.5, "two-ways")])
def test_the_same_bytes_are_one_file_however_they_were_read(shift, variant):
    rows = day(3)
    again = [row | {"offset": row["offset"] + shift} for row in as_file(rows, "again")]
    found = listings(testing.shots([*rows, *again]), files(day1="ab", again="ab"))
    assert found.again.sum() == 6
    assert [each.variant for each in found.copies] == [variant]
    other = listings(testing.shots([*rows, *again]), files(day1="ab", again="cd"))
    assert [each.variant for each in other.copies] == (["rows"] if not shift else [])


@pytest.mark.parametrize("role", ["check", "other"])
def test_check_shots_that_agree_to_the_last_digit_are_repeats_unless_their_times_agree_too(role):
    one = {"shot": "CP-1", "time": AT}
    rows = [one, one | {"shot_key": "day1/CP-1~2"}, one | {"shot_key": "day1/CP-1~3", "time": AT + pd.Timedelta("1h")}]
    assert listings(testing.prepared(testing.shots(rows), role=role)).again.tolist() == [False, True, False]
    untimed = [row | {"time": None} for row in rows]
    assert not listings(testing.prepared(testing.shots(untimed), role=role)).again.any()


def test_two_days_of_honest_work_are_not_one():
    rows = [*day(4), *day(5, source="day2")]
    found = listings(testing.shots(rows))
    assert not found.again.any()
    assert found.copies == ()


def test_what_is_listed_again_is_flagged_noted_and_left_to_the_first():
    rows = day(6)
    layers = testing.layers(shots=testing.prepared(testing.shots([*rows, *as_file(rows, "day2")]), role="check"))
    done = testing.run(layers, Doubles())
    assert set(done["flags"]["shot_key"]) == {f"day2/{row['shot']}" for row in rows}
    assert set(done["flags"]["other"]) == {f"day1/{row['shot']}" for row in rows}
    assert done["notes"][["note", "subject", "other"]].values.tolist() == [["listed-twice", "day2", "day1"]]
    assert counted(layers)["shots"]["source"].unique().tolist() == ["day1"]
    alone = testing.layers(shots=testing.shots(rows))
    assert counted(alone) is alone


def in_other_decimals(rows, digits, scale=1.0):
    return [row | {name: round(row[name] / scale, digits) * scale for name in ("station", "offset", "elevation")}
            for row in rows]  # fmt: skip


@pytest.mark.parametrize(("digits", "scale"), [(2, 1.0), (4, 0.3048006096), (3, 0.3048006096)])
def test_an_export_with_other_decimals_or_in_another_unit_counts_once(digits, scale):
    rows = day(3)
    found = listings(testing.shots([*rows, *as_file(in_other_decimals(rows, digits, 1 / scale), "day2")]))
    assert found.again.tolist() == [False] * 6 + [True] * 6
    assert [(each.variant, each.rows) for each in found.copies] == [("rows", 6)]


def test_an_export_without_times_is_known_by_its_names_and_one_visit_more_is_not():
    rows = day(4)
    untimed = [row | {"time": None} for row in as_file(in_other_decimals(rows, 2), "day2")]
    assert listings(testing.shots([*rows, *untimed])).again.sum() == 6
    random = np.random.default_rng(4)
    visit = [row | {"offset": row["offset"] + random.normal(0, 0.02), "station": row["station"] + 0.01} for row in rows]
    for more in ({"time": None}, {"time": AT + pd.Timedelta(days=1)}):
        assert not listings(testing.shots([*rows, *as_file(visit, "day2", **more)])).again.any()


def test_two_rovers_in_one_second_are_two_measurements():
    rows = day(5)
    other = [row | {"offset": row["offset"] + 30.0} for row in rows]
    assert not listings(testing.shots([*rows, *as_file(other, "rover2")])).again.any()
