"""Slips of a measure-down: whole feet, tenths, the other unit; and what is none."""

import numpy as np
import pytest

from geoqa.kernels.utilities.readings import TENTH, UNIT, WHOLE, misreadings, other_tape

FOOT, METRE = 0.3048, 1.0


@pytest.mark.parametrize("metres", [FOOT, METRE, 1200 / 3937])
@pytest.mark.parametrize("feet", [-3.0, -1.0, 1.0, 2.0])
def test_whole_feet_are_named_in_any_unit(metres, feet):
    step = feet * 0.3048 / metres
    found = misreadings([-step + 0.01], [5.0], [0.02], metres=metres)
    assert found.kind.tolist() == [WHOLE]
    assert found.slip[0] == pytest.approx(step)


def test_a_tape_of_the_other_unit_is_named():
    """A depth of 1.62 m is 5.3150 ft: read as 1.62 ft, the invert is 3.695 ft too high; and the other way round."""
    found = misreadings([5.3150 - 1.62, 5.3150 * 0.3048 - 5.3150], [1.62, 5.3150], [0.02, 0.02], metres=FOOT)
    assert found.kind.tolist() == [UNIT, UNIT]
    assert found.slip == pytest.approx([1.62 - 5.3150, 5.3150 - 1.62], abs=1e-3)


def test_tenths_and_what_is_no_step():
    """Within 3 u nothing is off; 0.50 is five tenths; 1.40 is neither a foot nor up to nine tenths."""
    found = misreadings([0.05, 0.10, 0.50, 1.40, np.nan], [6.0] * 5, [0.02] * 5, metres=FOOT)
    assert found.kind.tolist() == [0, TENTH, TENTH, 0, 0]
    assert found.slip.tolist() == pytest.approx([0, -0.1, -0.5, 0, 0])


def test_a_poor_measurement_names_no_step():
    assert misreadings([1.0], [6.0], [0.4], metres=FOOT).kind.tolist() == [0]


@pytest.mark.parametrize("metres", [FOOT, METRE, 1200 / 3937])
def test_the_better_fit_is_named_where_whole_feet_lie_beside_the_other_unit(metres):
    """A depth of 7.10 ft written as its metres, or in a job in metres as its feet: 4.94 ft off, near five feet."""
    per = FOOT / metres
    deep = 7.10 * per
    read = deep * 0.3048 if metres < 1 else deep / 0.3048
    found = misreadings([deep - read], [read], [0.03 * per], metres=metres)
    assert (found.kind.tolist(), found.other.tolist()) == ([UNIT], [0])
    assert found.slip[0] == pytest.approx(read - deep)


def test_two_that_fit_alike_are_both_named():
    """4.98 too high: 7.10 ft noted as 2.164 make 4.936, five feet 5.00; with u = 0.05 neither is much the worse."""
    found = misreadings([4.98, 4.98], [2.164, 2.164], [0.05, 0.015], metres=FOOT)
    assert (found.kind.tolist(), found.other.tolist()) == ([WHOLE, WHOLE], [UNIT, 0])
    assert found.slip.tolist() == pytest.approx([-5.0, -5.0])
    assert found.other_slip.tolist() == pytest.approx([2.164 * (1 - 1 / 0.3048), 0.0])


def test_a_list_in_the_other_unit_is_told_by_all_of_it():
    depth, u = np.array([4.5, 5.0, 5.1, 7.1]), np.full(4, 0.03)
    for factor in (0.3048, 1 / 0.3048):
        read = depth * factor
        assert other_tape(depth - read, read, u, [0] * 4, metres=0.3048) == pytest.approx(read - depth)
        one_good = np.where(np.arange(4) == 1, depth, read)
        assert not other_tape(depth - one_good, one_good, u, [0] * 4, metres=0.3048).any()
        two = other_tape(depth - read, read, u, [0, 0, 1, 1], metres=0.3048)
        assert not two.any()
