"""Whose part a row is, against one look-up of all keys; and names that must be once in all parts."""

import numpy as np
import pandas as pd
import pytest

from geoqa.batch.cut.whole import owners, twice


def test_owners_are_those_of_one_look_up():
    draw = np.random.default_rng(7)
    # a file whose name holds a stroke, and shots whose numbers do
    files = ["week1", "week1", "week/2", "week10", "week3"]
    keys = pd.Series([f"{file}/{number}{'/b' if number % 7 == 0 else ''}" for part, file in enumerate(files)
                      for number in range(part * 50, part * 50 + 50)], dtype="str")  # fmt: skip
    part = np.repeat([0, 0, 1, 2, 3], 50)
    asked = keys.sample(300, replace=True, random_state=1).reset_index(drop=True)
    asked[draw.choice(300, 40, replace=False)] = None
    asked[draw.choice(300, 40, replace=False)] = "week1/nobody"
    where = pd.Index(keys).get_indexer(asked)
    assert owners(asked, keys, part).tolist() == np.where(where >= 0, part[where], -1).tolist()
    assert owners(asked.iloc[:0], keys, part).tolist() == []


@pytest.mark.parametrize(
    ("names", "found"),
    [
        (["F1", "F2", "F3"], None),
        (["F1", "F2", "F1"], "F1"),
        (["F1", "F22", "F1"], "F1"),
        (["F1", "F22", "F3"], None),
        ([], None),
    ],
)
def test_a_name_that_is_there_twice_is_found(names, found):
    assert twice(pd.Series(["skipped", *names], dtype="str").iloc[1:]) == found
