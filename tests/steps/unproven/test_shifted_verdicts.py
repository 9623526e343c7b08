"""The shift is taken off what feels it, in its own direction, and its u stands in place of the session's."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.work import ELEVATION, OFFSET, POSITION
from geoqa.steps.unproven.shifted_verdicts import without_shift

SHIFT, U = np.array([0.03, -0.04, 0.05]), np.array([0.01, 0.02, 0.015])


@pytest.mark.parametrize(
    ("check", "azimuth", "deviation", "left", "u"),
    [
        (ELEVATION, 0.0, 0.08, 0.03, 0.015),
        (OFFSET, 0.0, 0.08, 0.05, 0.02),  # a line to the north: right is east
        (OFFSET, 90.0, 0.08, 0.04, 0.02),  # a line to the east: right is south
        (POSITION, 90.0, 0.03, 0.04, 0.02),  # 0.03 east of its place, less (0.03, -0.04)
        (POSITION, 180.0, 0.04, 0.03, 0.02),
    ],
)
def test_each_number_is_freed_of_what_it_feels(check, azimuth, deviation, left, u):
    rows = pd.DataFrame({"deviation": [deviation], "u_common": [0.5]})
    made = without_shift(rows, check, np.array([azimuth]), SHIFT, U)
    assert made["deviation"].iloc[0] == pytest.approx(left)
    assert made["u_common"].iloc[0] == pytest.approx(u)
