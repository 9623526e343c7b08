"""What a set of causes leaves: the numbers of an explanation that are drawn from others."""

import numpy as np
import pytest

from geoqa.kernels.causes.prediction import Cause, Explanation


def explanation(**changes):
    given = {
        "causes": (0,), "probability": 0.9, "log_evidence": -3.0, "log_prior": -2.0, "bic": 1.0, "chi2": 18.0,
        "dof": 8, "p_fit": 0.02, "sizes": (), "u_sizes": (), "predicted": np.zeros(10),
    }  # fmt: skip
    return Explanation(**(given | changes))


def test_the_score_is_the_log_of_evidence_times_prior():
    assert explanation().score == -5.0


def test_what_is_left_is_the_root_of_chi_square_over_its_degrees_of_freedom():
    assert explanation().left == 1.5
    assert explanation(chi2=8.0).left == 1.0  # honest noise


@pytest.mark.parametrize("dof", [0, -1])
def test_without_a_degree_of_freedom_nothing_can_be_said_to_be_left(dof):
    assert np.isnan(explanation(dof=dof).left)


def test_a_cause_has_no_open_size_unless_one_is_given():
    cause = Cause(name="foot", family="foot", fixed=np.zeros(3), weight=0.1)
    assert cause.columns.size == cause.spread.size == 0
    assert cause.smallest == 0.0
    assert not cause.unlisted
