"""Numbers against an older design: what waits is told with and without the shift."""

import numpy as np
import pandas as pd

from geoqa.model.reasons import WHY
from geoqa.model.tables.columns import conform
from geoqa.steps.design.older_numbers import held_by_older_design


def test_a_shift_in_plan_is_felt_by_the_direction_of_the_line(job):
    table = {
        "source": "walk",
        "line": "W",
        "check": "offset",
        "reason": "older-design",
        "shift_easting": 0.3,
        "shift_northing": 0.1,
        "u": 0.01,
    }
    layers = job.layers(older_designs=conform("older_designs", pd.DataFrame([table])))
    rows = pd.DataFrame({"subject": ["W", "W", "K", "W"], "deviation": [0.3, -0.1, 0.3, 0.3],
                         "azimuth": [0.0, 90.0, 0.0, 0.0], "why": [0, 0, 0, WHY["screened"]]})  # fmt: skip
    held_by_older_design(layers, rows, check="offset")
    assert rows["why"].tolist() == [WHY["older-design"]] * 2 + [0, WHY["screened"]]
    np.testing.assert_allclose(rows["without"], [0, 0, np.nan, np.nan], atol=1e-12)
    assert rows["cause"].tolist()[1] == "waits for: the older design; -0.100 ft as read, 0.000 ft without it"
    assert rows["cause"].isna().tolist() == [False, False, True, True]


def test_nothing_is_held_without_an_older_design(job):
    rows = pd.DataFrame({"subject": ["W"], "deviation": [0.3], "azimuth": [0.0], "why": [0]})
    held_by_older_design(job.layers(), rows, check="offset")
    assert rows.columns.tolist() == ["subject", "deviation", "azimuth", "why"]
