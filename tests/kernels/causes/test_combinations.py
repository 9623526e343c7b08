"""Sets of causes scored many at once, against the normal density written out by another library."""

import numpy as np
import pytest
from scipy import stats

from geoqa.errors import GeometryInputError
from geoqa.kernels.causes.combinations import CauseModel, Sets, covariance_root
from geoqa.kernels.causes.prediction import Cause

DRAW = np.random.default_rng(12)
OBSERVED = DRAW.normal(0, 1, 4)
SPREAD = np.diag([0.5, 0.7, 0.9, 1.1]) ** 2 + 0.04
CAUSES = [
    Cause(name="a", family="a", fixed=np.array([1.0, 0, 0, 0]), weight=0.2),
    Cause(name="b", family="b", fixed=np.zeros(4), weight=0.3, columns=np.ones((4, 1)), spread=np.array([2.0])),
    Cause(name="c", family="c", fixed=np.array([0, 0, 0.5, 0]), weight=0.1, columns=DRAW.normal(0, 1, (4, 2)),
          spread=np.array([1.0, 0.5])),
    Cause(name="a2", family="a", fixed=np.array([2.0, 0, 0, 0]), weight=0.2),
]  # fmt: skip


def log_density(chosen):
    """Evidence and prior of a set: normal about its fixed parts, its open sizes drawn from their spreads."""
    mean = sum((CAUSES[each].fixed for each in chosen), np.zeros(4))
    cov = SPREAD.copy()
    for each in chosen:
        if CAUSES[each].spread.size:
            scaled = CAUSES[each].columns * CAUSES[each].spread
            cov = cov + scaled @ scaled.T
    prior = sum(np.log(CAUSES[each].weight) for each in chosen)
    return stats.multivariate_normal.logpdf(OBSERVED, mean, cov) + prior


def test_sets_grown_from_nothing_have_the_scores_of_the_normal_density():
    model = CauseModel(OBSERVED, SPREAD, CAUSES, nothing=0.5)
    one = dict(model.grown([()]))
    assert set(one) == {(0,), (1,), (2,), (3,)}
    two = dict(model.grown(list(one)))
    # both variants of one family are never used at once
    assert set(two) == {(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)}
    every = one | two
    apart = {chosen: score - log_density(chosen) for chosen, score in every.items()}
    # the constant of the density, the same for all sets, is left out
    assert list(apart.values()) == pytest.approx([apart[(0,)]] * len(apart), abs=1e-9)


def test_scoring_one_set_agrees_with_growing_it():
    model = CauseModel(OBSERVED, SPREAD, CAUSES, nothing=0.5)
    for chosen, score in model.grown([(1,)]):
        explained = model.explain(chosen, 1.0)
        assert explained.score == pytest.approx(score, abs=1e-9)


def test_a_missing_residual_is_left_out_and_one_that_a_cause_cannot_predict_is_refused():
    missing = OBSERVED.copy()
    missing[3] = np.nan
    assert CauseModel(missing, SPREAD, CAUSES, nothing=0.5).used.tolist() == [True, True, True, False]
    lacks = Cause(name="d", family="d", fixed=np.array([np.nan, 1, 1, 1]), weight=0.1)
    with pytest.raises(GeometryInputError, match="no value for a residual"):
        CauseModel(OBSERVED, SPREAD, [lacks], nothing=0.5)


def test_a_cause_smaller_than_such_a_cause_is_marked():
    tiny = Cause(name="e", family="e", fixed=np.zeros(4), weight=0.1, columns=np.ones((4, 1)), spread=np.array([1.0]),
                 smallest=5.0)  # fmt: skip
    grown = CauseModel(np.full(4, 0.1), SPREAD, [tiny, CAUSES[1]], nothing=0.5).grown([()])
    assert dict(zip(grown.places[:, 0].tolist(), grown.small.tolist(), strict=True)) == {0: True, 1: False}


def test_the_best_come_first_and_each_once():
    sets = Sets(places=np.array([[1, -1], [0, 1], [2, -1], [0, 1]]), score=np.array([-1.0, -1.0, 0.0, -5.0]),
                small=np.zeros(4, bool))  # fmt: skip
    assert [chosen for chosen, _ in sets.once(3).best_first()] == [(2,), (1,), (0, 1)]


def test_the_root_of_a_covariance_times_itself_is_the_covariance():
    root = covariance_root(SPREAD)
    assert root @ root.T == pytest.approx(SPREAD)
    assert np.triu(root, 1).tolist() == np.zeros((4, 4)).tolist()
    with pytest.raises(GeometryInputError, match="not positive definite"):
        covariance_root(np.ones((2, 2)))


def test_a_cause_of_a_level_is_none_where_it_moves_as_much_up_as_down():
    tilts = np.array([[1.0, -1.5], [1.0, -0.5], [1.0, 0.5], [1.0, 1.5]])
    cause = Cause(name="g", family="g", fixed=np.zeros(4), weight=0.1, columns=tilts, spread=np.array([10.0, 1.0]),
                  level=3.0)  # fmt: skip
    tilted, lifted = (CauseModel(seen, 0.01 * np.eye(4), [cause], nothing=0.5)
                      for seen in (tilts[:, 1] * 4, tilts[:, 1] + 9.0))  # fmt: skip
    assert not tilted.large_enough((0,))
    assert lifted.large_enough((0,))
