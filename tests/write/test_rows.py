"""Rows of a table in the order of its key."""

import numpy as np
import pandas as pd

from geoqa.write import rows


def test_few_rows_come_in_the_order_that_many_would(monkeypatch):
    random = np.random.default_rng(4)
    letters = np.array(["b", "a", "é", "Z", "a~2", "", None], dtype=object)
    for _ in range(20):
        count = int(random.integers(2, 12))
        table = pd.DataFrame(
            {
                "note": pd.Series(random.choice(letters, count), dtype="str"),
                "number": random.choice([0.0, -0.0, np.nan, 1.5, -2.0], count),
                "subject": pd.Series(random.choice(letters, count), dtype="str"),
                "count": pd.array(random.choice([1, 2, None], count), dtype="Int64"),
                "use": random.random(count) < 0.5,
            }
        )
        for name in ("notes", "a stranger's"):
            few = rows._order(name, table)
            with monkeypatch.context() as patched:
                patched.setattr(rows, "FEW", 0)
                many = rows._order(name, table)
            assert (few is None) == (many is None)
            assert few is None or few.tolist() == many.tolist()
