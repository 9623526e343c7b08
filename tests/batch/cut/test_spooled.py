"""Tables whose columns lie in files: those of the same table in memory, and what does not fit is said."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.batch.cut.spooled import Spooled, Unfit


def table(rows=3):
    texts = ["x", None, "é", "", "a long one"]
    times = pd.to_datetime(["2026-01-01T00:00:00Z", None, "2026-01-02T00:00:00Z"]).astype("datetime64[us, UTC]")
    return pd.DataFrame(
        {
            "number": [1.5, np.nan, -0.0],
            "count": np.arange(3),
            "there": [True, False, True],
            "whole": pd.array([1, None, 3], dtype="Int64"),
            "said": pd.array([True, None, False], dtype="boolean"),
            "text": pd.array(texts[:3], dtype="str"),
            "nothing": pd.array([None] * 3, dtype="str"),
            "time": times,
        }
    ).iloc[:rows]


def test_a_table_that_grows_is_that_of_all_its_rows(tmp_path):
    made = Spooled(tmp_path)
    made.append([table(), table(2).iloc[1:]], 4)
    first = made.table()
    pd.testing.assert_frame_equal(first, pd.concat([table(), table(2).iloc[1:]], ignore_index=True))
    made.append([table()], 3)
    pd.testing.assert_frame_equal(first, pd.concat([table(), table(2).iloc[1:]], ignore_index=True))
    pd.testing.assert_frame_equal(made.table(), pd.concat([first, table()], ignore_index=True))
    made.widen([pd.DataFrame({"more": np.arange(5.0)}), pd.DataFrame({"more": [5.0, 6.0]})])
    assert made.table()["more"].tolist() == list(range(7))
    assert np.isnan(made.table()["number"].to_numpy()).sum() == 3
    assert np.signbit(made.table()["number"].to_numpy()[2])


def test_its_numbers_and_texts_take_no_memory_of_their_own(tmp_path):
    made = Spooled(tmp_path)
    made.append([table()] * 4, 12)
    whole = made.table()
    base = whole["number"].to_numpy()
    while isinstance(base.base, np.ndarray):
        base = base.base
    assert isinstance(base, np.memmap)
    assert len(whole._mgr.blocks) == len(whole.columns)  # put together, they would be copied


def test_every_column_of_shots_and_findings_fits(tmp_path):
    layers = testing.layers(shots=testing.shots([{}, {"shot": None, "easting": float("nan")}]))
    for name in ("shots", "findings", "evidence", "flags", "notes"):
        bare = pd.DataFrame(layers[name]).drop(columns="geometry", errors="ignore")
        made = Spooled(tmp_path)
        made.append([bare], len(bare))
        pd.testing.assert_frame_equal(made.table(), bare)


@pytest.mark.parametrize(
    ("batches", "rows"),
    [
        ([pd.DataFrame({"shape": [object()]})], 1),
        ([table(), table().astype({"count": "float64"})], 6),
        ([table(), table()[["number"]]], 6),
        ([], 1),  # shapes of lines are not read in rows
    ],
)
def test_what_does_not_fit_is_said(tmp_path, batches, rows):
    with pytest.raises(Unfit):
        Spooled(tmp_path).append(batches, rows)


def test_columns_of_other_rows_do_not_fit(tmp_path):
    made = Spooled(tmp_path)
    made.append([table()], 3)
    with pytest.raises(Unfit):
        made.widen([pd.DataFrame({"more": [1.0]})])
    pd.testing.assert_frame_equal(made.table(), table())
