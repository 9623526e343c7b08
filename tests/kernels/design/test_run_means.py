import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from geoqa.errors import GeometryInputError
from geoqa.kernels.design.run_means import (
    DEEPEST,
    LASTING,
    LEAST_WANDER,
    bounded_means,
    chosen_u,
    lasting_share,
    means_of_runs,
    usual_wander,
)
from geoqa.kernels.design.runs import Runs, find_runs

NAN = np.nan


def by_matrix(u, group, minutes, lasting, run):
    """Covariance written out: variance of the weighted mean of one run after another."""
    made = []
    for each in range(run.max() + 1):
        mine = run == each
        size, time = u[mine], minutes[mine]
        weight = size**-2.0 / (size**-2.0).sum()
        same = group[mine][:, None] == group[mine]
        together = np.where(same, np.exp(-np.abs(time[:, None] - time) / LASTING), 0.0)
        covariance = np.outer(size, size) * (lasting * together + (1 - lasting) * np.eye(len(size)))
        made.append(np.sqrt(weight @ covariance @ weight))
    return made


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 2**32 - 1), st.floats(0, 1))
def test_what_lasts_is_the_covariance_written_out(seed, lasting):
    rng = np.random.default_rng(seed)
    run = np.sort(rng.integers(0, 3, 12))
    run = np.unique(run, return_inverse=True)[1]
    u, group, minutes = rng.uniform(0.01, 0.05, 12), rng.integers(0, 2, 12), rng.uniform(0, 90, 12)
    found = means_of_runs(run, rng.normal(size=12), u, 0 * u, group, minutes=minutes, lasting=lasting)
    assert found.u_random == pytest.approx(by_matrix(u, group, minutes, lasting, run))


def test_members_of_unknown_time_share_all_that_lasts():
    u = np.full(4, 0.02)
    told = {"lasting": 1.0, "minutes": [0.0, 500.0, NAN, 1500.0]}
    assert means_of_runs([0] * 4, u, u, u, [0] * 4, **told).u_random == pytest.approx([0.02])
    # the one whose times are known: 500 minutes apart nothing is left; the other session in full
    apart = means_of_runs([0] * 4, u, u, u, [0, 0, 1, 1], **told)
    assert apart.u_random == pytest.approx([0.02 * np.sqrt(2 / 16 + 4 / 16)])


def test_the_extreme_is_the_member_farthest_to_the_side_of_the_mean():
    deviation = [0.1, 0.3, 0.2, -0.2, -0.1, 0.05]
    found = means_of_runs([0, 0, 0, 1, 1, 1], deviation, [0.02] * 6, [0.0] * 6, [0] * 6)
    assert found.extreme.tolist() == [1, 3]


def test_a_share_beyond_the_whole_is_refused():
    with pytest.raises(GeometryInputError, match=r"A share of 1\.5"):
        means_of_runs([0], [0.1], [0.02], [0.0], [0], lasting=1.5)


def correlated(rng, count, coefficient):
    noise = rng.normal(size=count)
    for row in range(1, count):
        noise[row] = coefficient * noise[row - 1] + np.sqrt(1 - coefficient**2) * noise[row]
    return noise


@pytest.mark.parametrize("coefficient", [0.0, 0.5, 0.95])
def test_neighbours_tell_the_share_that_lasts(coefficient):
    """Of errors at one moment, what the correlation of neighbours is."""
    noise = 0.02 * correlated(np.random.default_rng(5), 3000, coefficient)
    line = np.arange(3000) // 30
    share = lasting_share(line, np.arange(3000.0), noise, np.full(3000, 0.02), np.zeros(3000))
    assert share == pytest.approx(coefficient, abs=0.08)


def test_steps_of_the_work_change_the_share_little():
    noise = 0.02 * correlated(np.random.default_rng(6), 3000, 0.95)
    noise[::30] += 0.3
    share = lasting_share(np.arange(3000) // 300, np.arange(3000.0), noise, np.full(3000, 0.02), np.zeros(3000))
    assert share == pytest.approx(0.95, abs=0.03)


def test_what_is_not_measured_lasts_by_half():
    assert lasting_share([], [], [], [], []) == 0.5
    assert lasting_share([0, 1, 2], [0, 0, 0], [0.1] * 3, [0.02] * 3, [0] * 3) == 0.5
    assert lasting_share([0, 0], [0, 1], [0.1, 0.1], [0.02] * 2, [0, 1]) == 0.5
    assert lasting_share([0, 0], [0, 1], [0.1, 0.1], [0.02] * 2, [0, 0], minutes=[0, 21]) == 0.5
    assert lasting_share([0, 0], [0, 1], [0.1, 0.1], [0.02] * 2, [0, 0], minutes=[0, NAN]) == pytest.approx(6 / 11)


def test_wander_is_what_shots_scatter_by_beyond_their_u():
    rng = np.random.default_rng(8)
    value = rng.normal(0.03, np.hypot(0.02, 0.012), 5000)
    limit, u = np.full(5000, 0.08), np.full(5000, 0.02)
    assert usual_wander(value, u, np.zeros(5000), limit) == pytest.approx(0.15, abs=0.02)
    # nothing beyond u, and nothing measured: the least; much more: a quarter
    assert usual_wander(rng.normal(0, 0.02, 5000), u, np.zeros(5000), limit) == LEAST_WANDER
    assert usual_wander([], [], [], []) == LEAST_WANDER
    assert usual_wander(rng.normal(0, 0.2, 5000), u, np.zeros(5000), limit) == 0.25


def test_bounds_of_the_choice_hold_the_truth_of_both_explanations():
    """By Bayes' rule on a grid of true means: so many sound stretches, one defect as likely anywhere."""
    u, wander, limit, searched, shots = 0.022, 0.006, 0.08, 600, 5
    true = np.linspace(-DEEPEST * limit, DEEPEST * limit, 200_001)
    before = searched / shots * stats.norm.pdf(true, 0, wander) + 1 / (2 * DEEPEST * limit)
    for mean in (0.06, 0.08, 0.09, 0.13):
        after = before * stats.norm.pdf(mean, true, u)
        (whole,) = chosen_u([mean], [u], [shots], limit=[limit], searched=[searched], wander=[wander])
        held = after[np.abs(true - mean) <= 2 * whole].sum() / after.sum()
        assert held == pytest.approx(stats.norm.cdf(2) - stats.norm.cdf(-2), abs=1e-3), mean


def test_the_choice_only_widens_and_not_where_the_run_stands_by_itself():
    size = np.linspace(-0.5, 0.5, 201)
    whole = chosen_u(
        size, np.full(201, 0.02), np.full(201, 4), limit=np.full(201, 0.08), searched=np.full(201, 800),
        wander=np.full(201, 0.008),
    )  # fmt: skip
    assert (whole >= 0.02).all()
    assert whole[np.abs(size) > 0.15] == pytest.approx(0.02, rel=1e-3)
    assert whole == pytest.approx(whole[::-1])
    # what cannot be known stays as it is
    odd = chosen_u(
        [0.1, 0.1, 0.1], [0.0, NAN, 0.02], [3] * 3, limit=[0.08, 0.08, NAN], searched=[9] * 3, wander=[0.0] * 3
    )
    assert odd.tolist()[::2] == [0.0, 0.02]
    assert np.isnan(odd[1])


def test_bounded_means_are_the_pieces_put_together():
    rng = np.random.default_rng(4)
    count = 400
    line, station, minutes = np.arange(count) // 20, (np.arange(count) % 20) * 25.0, np.arange(count) * 0.5
    value, own, common = rng.normal(0.02, 0.03, count), np.full(count, 0.03), np.full(count, 0.01)
    group = np.arange(count) // 200
    found = find_runs(line, station, value, own, lower=-0.08, upper=0.08, reach_between=50)
    assert len(found.side)
    told = {"line": line, "station": station, "deviation": value, "u_random": own, "u_common": common, "group": group}
    made = bounded_means(found, **told, minutes=minutes, lower=-0.08, upper=0.08)
    share = lasting_share(line, station, value, own, group, minutes=minutes)
    row = found.row
    plain = means_of_runs(found.run, value[row], own[row], common[row], group[row], minutes=minutes[row], lasting=share)
    whole = chosen_u(
        plain.mean, np.hypot(plain.u_random, plain.u_common), plain.shots, limit=np.full(len(found.side), 0.08),
        searched=np.full(len(found.side), count),
        wander=np.full(len(found.side), 0.08 * usual_wander(value, own, group, np.full(count, 0.08))),
    )  # fmt: skip
    assert made.lasting == share
    assert np.hypot(made.u_random, made.u_common) == pytest.approx(whole)
    assert made.u_choice == pytest.approx(np.sqrt(np.maximum(made.u_random**2 - plain.u_random**2, 0)), abs=1e-9)


def test_no_runs_have_no_means():
    none = np.zeros(0, dtype=np.int64)
    found = Runs(row=none, run=none, side=none.astype(np.int8), score=none.astype(float))
    made = bounded_means(
        found, line=[0], station=[0.0], deviation=[0.0], u_random=[0.02], u_common=[0.0], group=[0], lower=-1, upper=1
    )
    assert made.shots.size == made.mean.size == made.extreme.size == made.u_choice.size == 0


def test_the_common_part_falls_only_with_the_number_of_groups():
    deviation, u = np.full(4, 0.1), np.full(4, 0.02)
    one = means_of_runs([0] * 4, deviation, u, u, [1, 1, 1, 1])
    two = means_of_runs([0] * 4, deviation, u, u, [1, 1, 2, 2])
    uneven = means_of_runs([0] * 4, deviation, u, u, [1, 2, 2, 2])
    assert one.u_random == pytest.approx([0.01])
    assert one.u_common == pytest.approx([0.02])
    assert two.u_common == pytest.approx([0.02 / np.sqrt(2)])
    assert uneven.u_common == pytest.approx([0.02 * np.sqrt((1 / 4) ** 2 + (3 / 4) ** 2)])


def test_a_better_shot_weighs_more():
    found = means_of_runs([0, 0, 1, 1], [0.0, 0.3, 0.0, 0.3], [0.01, 0.02, 0.0, 0.02], [0] * 4, [0] * 4)
    assert found.weight == pytest.approx([0.8, 0.2, 0.5, 0.5])
    assert found.mean == pytest.approx([0.06, 0.15])
    assert found.u_random[0] == pytest.approx(1 / np.sqrt(1 / 0.01**2 + 1 / 0.02**2))


def test_the_mean_scatters_as_its_uncertainty_says():
    rng = np.random.default_rng(11)
    runs, members = 20_000, 6
    group = np.tile([0, 0, 0, 0, 1, 1], runs) + np.repeat(np.arange(runs), members) * 2
    common = rng.normal(0, 0.02, 2 * runs)[group]
    deviation = 0.1 + common + rng.normal(0, 0.03, runs * members)
    u = np.full(runs * members, 1.0)
    found = means_of_runs(np.repeat(np.arange(runs), members), deviation, 0.03 * u, 0.02 * u, group)
    expected = float(np.hypot(found.u_random, found.u_common)[0])
    assert found.mean.std() == pytest.approx(expected, rel=3.3 / np.sqrt(2 * runs))


def test_members_that_do_not_fit_are_refused():
    with pytest.raises(GeometryInputError, match="sorted by run"):
        means_of_runs([1, 0], [0, 0], [1, 1], [1, 1], [0, 0])
