"""What a spreadsheet does to a table of shots is told line by line, and no cut number is taken."""

import numpy as np
import pandas as pd
import pytest

from geoqa.read.delimited.values import numbers
from geoqa.read.shots import ShotsText


@pytest.mark.parametrize("text", ["2.23E+06", "2.2285E+06", "1E+05", "-8.1e2", "2,23E+06"])
def test_a_number_cut_short_is_not_taken(text):
    got = numbers(pd.Series([text]), lines=np.array([7]), column="easting", decimal="," if "," in text else ".")
    assert np.isnan(got.values[0])
    assert str(got.troubles[0]).startswith(f"line 7, easting: '{text}' is a longer number cut short")


@pytest.mark.parametrize(("text", "value"), [("2.22850012E+06", 2228500.12), ("1.5E-02", 0.015), ("8.12E+02", 812.0)])
def test_a_number_whole_in_powers_of_ten_is_taken(text, value):
    assert numbers(pd.Series([text]), lines=np.array([1]), column="u").values[0] == pytest.approx(value)


def test_names_that_became_dates_are_told_and_their_shots_stand(tmp_path):
    path = tmp_path / "s.csv"
    path.write_text(
        "Point,Easting,Northing,Elevation,Code\n3-Feb,2228500.1,446000.2,1460.1,CTB\n102,2228510.1,446000.2,1460.1,1-Mar\n"
        "2026-02-04 00:00:00,2228520.1,446000.2,########,CTB\n",
        encoding="utf-8",
    )
    source = ShotsText().read(path, source="s")
    assert source.layers["shots"]["shot"].tolist() == ["3-Feb", "102", "2026-02-04 00:00:00"]
    assert [(each.line, each.column, each.loses_row) for each in source.troubles] == [
        (2, "shot", False), (3, "code", False), (4, "elevation", False), (4, "shot", False),
    ]  # fmt: skip
