"""Columns of text: places of keys."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.steps.judging.text_columns import numbers_of, rows_of

NAMES = [f"k{number}" for number in range(12)]


@given(
    keys=st.lists(st.sampled_from([*NAMES, "other", None]), max_size=30),
    among=st.lists(st.sampled_from([*NAMES, None]), max_size=60),
)
def test_a_key_lies_at_its_first_row_however_few_or_many_are_asked(keys, among):
    first = {name: among.index(name) for name in set(among) if name is not None}
    found = rows_of(pd.Series(keys, dtype="str"), pd.Series(among, dtype="str"))
    assert found.tolist() == [first.get(key, -1) for key in keys]


@pytest.mark.parametrize("texts", [["13000000.125", "-0.5", "1e3"], ["13000000.125", "", "N/A", None, "-0.5"]])
def test_texts_are_read_as_python_reads_them(texts):
    def plain(text):
        try:
            return float(text)
        except (TypeError, ValueError):
            return np.nan

    np.testing.assert_array_equal(numbers_of(pd.Series(texts, dtype="str")), [plain(text) for text in texts])
