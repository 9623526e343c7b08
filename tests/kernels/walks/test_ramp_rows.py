"""Rows of a ramp's shots."""

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.walks.ramp_rows import ramp_rows

# gutter, foot, head, far side of the turning space: across, along, elevation
RAMP = np.array(
    [[-2.5, -2, 0.10], [2.5, -2, 0.10], [-2.5, 0, 0], [0, 0, 0], [2.5, 0, 0], [-2.5, 6, 0.45], [0, 6, 0.45],
     [2.5, 6, 0.45], [-2.5, 10, 0.51], [2.5, 10, 0.51]]
)  # fmt: skip


def placed(ramp, azimuth):
    angle = np.radians(azimuth)
    east = ramp[:, 0] * np.cos(angle) + ramp[:, 1] * np.sin(angle)
    north = -ramp[:, 0] * np.sin(angle) + ramp[:, 1] * np.cos(angle)
    return np.column_stack([2_228_500 + east, 446_000 + north, 1_459.1 + ramp[:, 2]])


@pytest.mark.parametrize("azimuth", [0.0, 80.0, 170.0, 350.0])
@pytest.mark.parametrize("seed", range(5))
def test_rows_and_the_way_up_are_found_in_any_order_with_errors(azimuth, seed):
    generator = np.random.default_rng(seed)
    order = generator.permutation(len(RAMP))
    found = ramp_rows(placed(RAMP, azimuth)[order] + generator.normal(0, 0.02, RAMP.shape), row_gap=1.5, gutter_reach=4)
    assert abs((found.azimuth - azimuth + 180) % 360 - 180) < 1.5
    told = [sorted(order[each].tolist()) for each in (found.gutter, found.foot, found.head, found.far)]
    assert told == [[0, 1], [2, 3, 4], [5, 6, 7], [8, 9]]
    assert order[found.foot].tolist() == [2, 3, 4]


def test_a_run_without_turning_space_or_gutter():
    found = ramp_rows(placed(RAMP[[2, 4, 5, 7]], 33.0), row_gap=1.5, gutter_reach=4)
    assert (len(found.gutter), len(found.far)) == (0, 0)
    assert (found.foot.tolist(), found.head.tolist()) == ([0, 1], [2, 3])


def test_three_corners_one_row_and_lost_elevations_make_no_ramp():
    assert ramp_rows(placed(RAMP[[2, 4, 5]], 0.0), row_gap=1.5, gutter_reach=4) is None
    lost = placed(RAMP[[2, 4, 5, 7]], 0.0)
    lost[0, 2] = np.nan
    assert ramp_rows(lost, row_gap=1.5, gutter_reach=4) is None
    row = np.array([[0, 0, 0.0], [1, 0, 0.1], [2, 0, 0.2], [3, 0, 0.3]])
    assert ramp_rows(row, row_gap=5, gutter_reach=4) is None
    with pytest.raises(GeometryInputError, match="three columns"):
        ramp_rows([[0, 0]], row_gap=1, gutter_reach=1)
