"""No number of a sheet is finer than what is printed."""

import numpy as np
import pandas as pd
import pytest

from geoqa.write.sheets.resolution import rounded


@pytest.mark.parametrize(("beside", "value", "shown"), [
    ({"quantity": "length"}, -0.1499997, -0.15),
    ({"unit": "ftUS"}, 0.15299999, 0.15),
    ({"unit": "ftUS", "u": 0.004}, 0.15299999, 0.153),
    ({"quantity": "length", "u": 0.02, "lower": -0.15, "upper": 0.15}, 0.15299999, 0.153),
    ({"quantity": "length", "u": 0.02, "lower": -0.15, "upper": 0.15}, 0.16299999, 0.16),
    ({"unit": "slope"}, 0.0208333333, 0.02083),
    ({"quantity": "angle"}, 1.23456, 1.23),
    ({}, -0.00004, 0.0),
])  # fmt: skip
def test_a_judged_number_has_the_decimals_of_its_quantity(beside, value, shown):
    found = rounded("findings", pd.DataFrame([{"deviation": value, **beside}]), "ftUS")["deviation"].iloc[0]
    assert found == shown
    assert repr(found) != "-0.0"


def test_coordinates_factors_and_what_is_missing():
    table = pd.DataFrame(
        {"easting": [2229989.5921111], "combined_factor": [0.99987123456789], "deviation": [np.nan], "upper": [np.inf],
         "label": ["x"], "shots": [3]}
    )  # fmt: skip
    found = rounded("findings", table, "ft").iloc[0]
    assert (found["easting"], found["combined_factor"]) == (2229989.592, 0.999871235)
    assert np.isnan(found["deviation"])
    assert found["upper"] == np.inf
    assert (found["label"], found["shots"]) == ("x", 3)
