"""Stations as written, through gaps and overlaps of station equations."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.baseline.equations import called, continuous, stretches_between


def test_there_and_back_through_gap_and_overlap():
    stretches = stretches_between(
        1000.0, 4000.0, [1500.0, 2600.0], [2000.0, 2400.0]
    )  # a gap of 500, then an overlap of 200
    assert stretches.start.tolist() == [1000.0, 1500.0, 2100.0]
    along = np.linspace(1000, 4000, 301)
    written, passed = called(stretches, along)
    for at, name, row in zip(along, written, passed, strict=True):
        assert continuous(stretches, name, int(row)) == pytest.approx((at,))
    assert continuous(stretches, 1700.0) == ()  # no such station
    assert continuous(stretches, 2500.0) == (2000.0, 2200.0)  # twice
    assert called(stretches, [1500.0, 2100.0])[0].tolist() == [2000.0, 2400.0]  # at an equation: the station ahead


def test_the_place_of_an_equation_is_one_place():
    assert continuous(stretches_between(0.0, 100.0, [50.0], [50.0]), 50.0) == (50.0,)


@pytest.mark.parametrize(("back", "said"), [([900.0], "does not lie within"), ([4100.0], "from 1000.00 to 4000.00"),
                                            ([1500.0, 1400.0], "equation 2"), ([np.nan], "lacks")])  # fmt: skip
def test_an_equation_outside_its_stretch_is_refused(back, said):
    with pytest.raises(GeometryInputError, match=said):
        stretches_between(1000.0, 4000.0, back, [2000.0] * len(back))
