"""Rows that lack a number for one reason along one line become one."""

import numpy as np
import pandas as pd

from geoqa.contract.drainage import REVEAL
from geoqa.steps.judging.one_a_line import one_a_line


def test_rows_of_one_line_and_reason_are_one_and_what_waits_or_has_a_number_stays():
    why = [REVEAL.why(each) for each in ("no-top-beside", "no-top-beside", "open-blunder", "open-blunder")]
    rows = pd.DataFrame({
        "kind": "curb", "subject": ["A", "A", "A", "A", "B"], "source": "plan", "why": [*why, 0], "label": "one",
        "shot": list("abcde"), "measured": [np.nan, np.nan, 1.0, 1.0, 2.0], "station": [30.0, 10.0, 1.0, 2.0, 3.0],
        "station_end": np.nan, "keys": [["a"], ["b"], ["c"], ["d"], ["e"]],
    })  # fmt: skip
    made = one_a_line(rows, check=REVEAL)
    assert made["keys"].tolist() == [["a", "b"], ["c"], ["d"], ["e"]]
    assert made["label"].tolist() == ["2 shots", "one", "one", "one"]
    assert made["shot"].isna().tolist() == [True, False, False, False]
    assert made.loc[0, ["station", "station_end"]].tolist() == [10.0, 30.0]
    assert rows["label"].tolist() == ["one"] * 5
