"""Causes weighed against residuals: the odds against textbook arithmetic, the fit, groups, and what fits none."""

import numpy as np
import pytest
from scipy import stats

from geoqa.errors import GeometryInputError
from geoqa.kernels.causes.prediction import Cause
from geoqa.kernels.causes.shared_errors import covariance, onsets
from geoqa.kernels.causes.weighing import strongest_pattern, weigh


def fixed(name, values, weight=0.1, family=None):
    return Cause(name=name, family=family or name, fixed=np.asarray(values, float), weight=weight,
                 columns=np.zeros((len(values), 0)))  # fmt: skip


def loose(name, column, spread, weight=0.1, family=None):
    column = np.asarray(column, float)
    return Cause(name=name, family=family or name, fixed=np.zeros(len(column)), columns=column[:, None],
                 spread=np.array([spread]), weight=weight)  # fmt: skip


def test_the_evidence_is_the_density_of_the_residuals_with_the_open_size_integrated_out():
    rng = np.random.default_rng(4)
    observed = rng.normal(0.0, 0.3, 7)
    spread = covariance(np.full(7, 0.1), [(np.arange(7) // 3, np.full(7, 0.05))])
    column = rng.normal(size=7)
    found = weigh(observed, spread, [loose("a", column, 0.8, weight=0.2)], nothing=0.5, most=1)
    # any textbook of Bayesian regression: normal with covariance C + s² x x'; density by scipy.stats
    with_it = stats.multivariate_normal.logpdf(observed, cov=spread + 0.64 * np.outer(column, column)) + np.log(0.2)
    without = stats.multivariate_normal.logpdf(observed, cov=spread) + np.log(0.5)
    share = {each.causes: each.probability for each in found.ranked}
    assert np.log(share[(0,)] / share[()]) == pytest.approx(with_it - without, abs=1e-9)
    assert sum(share.values()) == pytest.approx(1.0)


def test_a_cause_without_an_open_size_costs_nothing_but_its_prior():
    found = weigh([1.0, 1.1], 0.01 * np.eye(2), [fixed("a", [1.0, 1.1])], nothing=0.5, most=1)
    best, bare = (
        found.ranked[0],
        next(each for each in found.ranked if not each.causes) if len(found.ranked) > 1 else None,
    )
    assert best.causes == (0,)
    assert best.log_evidence == pytest.approx(0.0)
    assert bare is None or bare.probability < 1e-12


def test_residuals_that_share_a_part_are_weighed_with_it():
    # ten residuals of 0.1: with independent noise a shift, with a shared bias of 0.1 nothing at all
    observed, up = np.full(10, 0.1), loose("up", np.ones(10), 2.0)
    apart = weigh(observed, covariance(np.full(10, 0.05)), [up])
    together = weigh(observed, covariance(np.full(10, 0.05), [(np.zeros(10, int), np.full(10, 0.1))]), [up])
    assert apart.best.causes == (0,)
    assert together.best.causes == ()


def test_the_sizes_and_their_uncertainty_are_those_of_weighted_least_squares():
    rng = np.random.default_rng(8)
    column = np.arange(6.0) - 2.5
    observed = 0.4 * column + rng.normal(0, 0.02, 6)
    found = weigh(observed, 0.0004 * np.eye(6), [loose("slope", column, 50.0)])
    assert found.best.sizes[0][0] == pytest.approx(column @ observed / (column @ column), abs=1e-5)
    assert found.best.u_sizes[0][0] == pytest.approx(0.02 / np.sqrt(column @ column), rel=1e-4)
    assert found.best.dof == 5


def test_two_causes_at_once_are_both_named_and_no_third():
    rng = np.random.default_rng(1)
    late = (np.arange(12) >= 7).astype(float)
    causes = [fixed("foot", np.full(12, 4.46)), loose("step", late, 2.0), loose("ramp", np.arange(12.0), 0.1),
              fixed("frame", np.full(12, -4.29))]  # fmt: skip
    observed = 4.46 + 0.656 * late + rng.normal(0, 0.03, 12)
    found = weigh(observed, 0.0009 * np.eye(12), causes)
    assert found.best.causes == (0, 1)
    assert found.fits
    assert found.best.sizes[1][0] == pytest.approx(0.656, abs=0.06)


def test_causes_that_hide_each_other_are_found_together():
    # either alone explains less than nothing does: they nearly cancel
    first, second = np.r_[np.full(6, 4.46), np.full(6, 0.9)], np.r_[np.full(6, -4.29), np.full(6, 2.3)]
    causes = [fixed("foot", first), fixed("frame", second), loose("mark", np.eye(12)[0], 0.3)]
    found = weigh(causes[0].fixed + causes[1].fixed, 0.0009 * np.eye(12), causes)
    assert found.best.causes == (0, 1)


def test_at_most_one_of_a_family_is_used_at_once():
    causes = [fixed("one way", [1.0, 0.0, 0.0], family="ground"), fixed("other way", [0.0, 1.0, 0.0], family="ground")]
    found = weigh([1.0, 1.0, 0.0], 0.01 * np.eye(3), causes)
    assert len(found.best.causes) == 1
    assert not found.fits


def test_a_cause_nobody_lists_fits_none():
    rng = np.random.default_rng(3)
    warp = 0.3 * np.sin(np.arange(12.0))
    found = weigh(warp + rng.normal(0, 0.02, 12), 0.0004 * np.eye(12), [loose("up", np.ones(12), 1.0)])
    assert not found.fits
    assert found.best.left > 5
    assert np.abs(found.remainder).max() > 8


@pytest.mark.long
def test_honest_noise_is_no_blunder_in_all_but_few_of_many_jobs():
    rng = np.random.default_rng(11)
    causes = [loose(f"mark {k}", np.repeat(np.eye(6)[k], 4), 0.3, weight=0.005) for k in range(6)]
    causes += [loose("up", np.ones(24), 1.0, weight=0.02), fixed("foot", np.full(24, 1.1), weight=0.02)]
    found = [weigh(rng.normal(0, 0.03, 24), 0.0009 * np.eye(24), causes) for _ in range(150)]
    assert sum(each.best.causes != () for each in found) <= 2
    assert sum(not each.fits for each in found) <= 2


def test_causes_that_predict_the_same_within_three_u_are_one_group():
    steps = [
        loose("rod", np.ones(5), 2.0),
        loose("antenna", np.ones(5), 2.0, weight=0.05),
        fixed("foot", np.full(5, 7.0)),
    ]
    found = weigh(np.full(5, 0.66), 0.0004 * np.eye(5), steps)
    assert {found.ranked[place].causes for place in found.alike} == {(0,), (1,)}
    assert found.best.causes == (0,)


def test_the_distance_that_parts_a_group_is_three_standard_uncertainties():
    for apart, expected in ((2.9, 2), (3.1, 1)):
        one, two = np.array([1.0, 0.0]), np.array([1.0, 0.1 * apart])
        middle = (one + two) / 2
        found = weigh(middle, 0.01 * np.eye(2), [fixed("a", one), fixed("b", two)], most=1)
        assert len(found.alike) == expected


def test_a_group_holds_nothing_that_only_adds_a_cause():
    found = weigh(
        np.full(5, 0.66), 0.0004 * np.eye(5), [loose("rod", np.ones(5), 2.0), loose("mark", np.eye(5)[0], 0.3)]
    )
    assert [found.ranked[place].causes for place in found.alike] == [(0,)]
    assert found.rival is not None
    assert found.rival.causes == () or 0 not in found.rival.causes
    assert found.log_odds > 100


def test_a_residual_that_was_not_observed_is_left_out():
    observed = np.array([0.66, np.nan, 0.65, 0.67])
    found = weigh(observed, 0.0004 * np.eye(4), [loose("rod", np.ones(4), 2.0)])
    assert found.best.causes == (0,)
    assert found.best.dof == 2
    assert np.isnan(found.best.predicted[1])
    assert np.isnan(found.remainder[1])


def test_without_any_residual_nothing_is_known():
    found = weigh(np.full(3, np.nan), np.eye(3), [loose("rod", np.ones(3), 2.0)])
    assert found.best.causes == ()
    assert found.best.dof == 0


def test_the_same_answer_whatever_the_order_of_the_causes():
    rng = np.random.default_rng(5)
    causes = [fixed("foot", np.full(8, 4.46)), loose("step", np.arange(8) > 3, 2.0), loose("up", np.ones(8), 1.0)]
    observed = 4.46 + 0.5 * (np.arange(8) > 3) + rng.normal(0, 0.02, 8)
    for order in ([0, 1, 2], [2, 1, 0], [1, 2, 0]):
        mixed = [causes[place] for place in order]
        found = weigh(observed, 0.0004 * np.eye(8), mixed)
        assert {mixed[place].name for place in found.best.causes} == {"foot", "step"}


def test_change_points_start_with_the_whole_group_and_end_with_its_last_member():
    masks = [mask.tolist() for _, _, mask in onsets([0, 1, 0, -1], [3.0, 1.0, 2.0, 0.0])]
    assert masks == [[True, False, True, False], [True, False, False, False], [False, True, False, False]]


def test_the_covariance_of_a_group_is_shared_and_of_no_group_is_not():
    made = covariance([1.0, 1.0, 1.0], [([0, 0, -1], [2.0, 3.0, 5.0]), ([-1, 0, 0], [np.nan, 1.0, 1.0])])
    assert made.tolist() == [[5.0, 6.0, 0.0], [6.0, 11.0, 1.0], [0.0, 1.0, 2.0]]


@pytest.mark.parametrize(
    ("spread", "causes", "message"),
    [
        (np.eye(3), [], r"2 residuals need a covariance of 2 rows"),
        (np.eye(2), [fixed("a", [1.0, 2.0, 3.0])], r"causes that say"),
        (np.zeros((2, 2)), [], r"not positive definite; every shot needs a random part above 0"),
        (np.eye(2), [fixed("a", [1.0, np.nan])], r"A cause has no value for a residual that was observed"),
    ],
)
def test_what_does_not_fit_is_refused(spread, causes, message):
    with pytest.raises(GeometryInputError, match=message):
        weigh([0.1, 0.2], spread, causes)


def test_uncertainties_that_are_too_small_are_widened_and_no_cause_is_claimed():
    rng = np.random.default_rng(21)
    causes = [loose(f"mark {k}", np.repeat(np.eye(6)[k], 4), 0.3, weight=0.01) for k in range(6)]
    patterns = np.column_stack([np.eye(24), np.kron(np.eye(6), np.ones((4, 1)))])
    for _ in range(20):
        observed = rng.normal(0, 0.05, 24)  # stated is 0.03
        found = weigh(observed, 0.0009 * np.eye(24), causes, patterns=patterns)
        assert found.best.causes == ()
        assert found.fits
        assert found.widened == pytest.approx(5 / 3, rel=0.5) or found.widened == 1.0


def test_a_misfit_with_a_pattern_is_not_taken_for_scatter():
    rng = np.random.default_rng(22)
    observed = rng.normal(0, 0.03, 48)
    observed[8:10] += 0.2
    patterns = np.column_stack([np.eye(48), np.kron(np.eye(24), np.ones((2, 1)))])
    found = weigh(observed, 0.0009 * np.eye(48), [loose("up", np.ones(48), 1.0)], patterns=patterns)
    assert not found.fits
    assert found.widened == 1.0
    assert found.best.left < 2


def together(rows, n=12, weight=0.02):
    column = np.zeros(n)
    column[list(rows)] = 1.0
    return Cause(name="together", family="unlisted", fixed=np.zeros(n), columns=column[:, None],
                 spread=np.array([0.5]), weight=weight, unlisted=True)  # fmt: skip


def test_what_moved_together_as_no_known_cause_moves_it_is_not_named_by_two_that_add_up_to_it():
    rng = np.random.default_rng(31)
    block = np.isin(np.arange(12), [3, 4, 5]).astype(float)
    known = [loose("block", block, 1.0), *(loose(f"shot {k}", np.eye(12)[k], 0.5, 0.01, "shot") for k in range(12))]
    observed = 0.3 * np.isin(np.arange(12), [3, 5]) + rng.normal(0, 0.03, 12)
    alone = weigh(observed, 0.0009 * np.eye(12), known)
    assert alone.fits  # the block moved, and one shot of it came back by chance
    assert len(alone.best.causes) == 2
    found = weigh(observed, 0.0009 * np.eye(12), [*known, together([3, 5])])
    assert not found.fits
    assert found.unlisted.causes == (13,)
    assert found.unlisted.sizes[0][0] == pytest.approx(0.3, abs=0.06)
    assert found.best.causes == alone.best.causes  # what is nearest among the known is still told


def test_something_unlisted_is_no_refuge_from_a_cause_that_explains_as_well():
    rng = np.random.default_rng(32)
    step = (np.arange(12) >= 6).astype(float)
    for _ in range(20):
        found = weigh(0.3 * step + rng.normal(0, 0.03, 12), 0.0009 * np.eye(12),
                      [loose("step", step, 1.0), together([6, 7, 8, 9, 10]), together([6, 8])])  # fmt: skip
        assert found.fits
        assert found.best.causes == (0,)
        assert found.unlisted is None


def test_something_unlisted_that_is_better_beyond_all_numbers_leaves_the_nearest_known_cause():
    observed = 3.0 * np.isin(np.arange(12), [3, 5])  # a hundred standard uncertainties each
    found = weigh(observed, 0.0009 * np.eye(12), [loose("step", np.arange(12) >= 6, 1.0), together([3, 5])])
    assert not found.fits
    assert found.unlisted is not None
    assert found.best.causes in ((), (0,))
    assert sum(each.probability for each in found.ranked) == pytest.approx(1.0)


@pytest.mark.long
def test_honest_noise_holds_nothing_unlisted():
    rng = np.random.default_rng(33)
    groups = [together([k, k + 1], n=24, weight=0.02 / 23) for k in range(23)]
    found = [weigh(rng.normal(0, 0.03, 24), 0.0009 * np.eye(24), groups) for _ in range(300)]
    assert all(each.unlisted is None for each in found)


def test_a_cause_smaller_than_such_causes_are_is_not_named():
    step = loose("step", np.ones(9), 1.0)
    small = Cause(**{**vars(step), "smallest": 0.1})
    observed = np.full(9, 0.06)
    assert weigh(observed, 0.0001 * np.eye(9), [step]).best.causes == (0,)
    assert weigh(observed, 0.0001 * np.eye(9), [small]).best.causes == ()


@pytest.mark.long
def test_the_score_of_a_pattern_is_a_standard_normal_number_for_honest_noise():
    rng = np.random.default_rng(23)
    spread = covariance(np.full(12, 0.03), [(np.arange(12) // 4, np.full(12, 0.02))])
    column = np.repeat([1.0, 0.0, 0.0], 4)[:, None]
    drawn = rng.multivariate_normal(np.zeros(12), spread, 4000)
    scores = np.array([strongest_pattern(each, spread, column) for each in drawn])
    # half-normal: mean sqrt(2/pi), and 4.55 % beyond 2
    assert scores.mean() == pytest.approx(np.sqrt(2 / np.pi), abs=0.03)
    assert (scores > 2).mean() == pytest.approx(0.0455, abs=0.012)


def _step(count, size, smallest=0.0, least=0.0):
    columns = np.zeros((count, 1))
    columns[count // 2 :] = 1.0
    return Cause(
        name="step", family="step", fixed=np.zeros(count), columns=columns, spread=np.array([2.0]), weight=0.1,
        smallest=smallest, least=least,
    ), size * columns[:, 0]  # fmt: skip


@pytest.mark.parametrize("times", [2.0, 3.0])
@pytest.mark.parametrize("seed", range(6))
def test_uncertainties_far_too_small_are_widened_by_what_the_scatter_is(times, seed):
    count = 60
    noise = times * 0.1 * np.random.default_rng(seed).normal(size=count)
    step, moved = _step(count, 3.0)
    for planted, causes in ((noise, ()), (noise + moved, (0,))):
        found = weigh(planted, 0.01 * np.eye(count), [step], patterns=np.eye(count))
        assert found.fits
        assert found.best.causes == causes
        assert 0.7 * times < found.widened < 1.35 * times


@pytest.mark.parametrize("seed", range(6))
def test_a_cause_that_removes_nearly_all_is_named_beside_a_mark_that_is_off(seed):
    count = 40
    noise = 0.1 * np.random.default_rng(seed).normal(size=count)
    noise[:3] += 0.6
    step, moved = _step(count, 4.0)
    pattern = np.zeros((count, 1))
    pattern[:3] = 1.0
    found = weigh(noise + moved, 0.01 * np.eye(count), [step], patterns=pattern)
    assert (found.fits, found.best.causes) == (True, (0,))
    assert found.widened > 1.5
    alone = weigh(noise, 0.01 * np.eye(count), [step], patterns=pattern)
    assert not alone.fits  # the pattern is no scatter, and nothing was named that removes it


def test_a_cause_of_less_than_its_least_effect_is_not_claimed():
    count = 40
    small, moved = _step(count, 0.08, least=0.1)
    free, _ = _step(count, 0.08)
    assert weigh(moved, 0.0001 * np.eye(count), [free]).best.causes == (0,)
    assert weigh(moved, 0.0001 * np.eye(count), [small]).best.causes == ()
