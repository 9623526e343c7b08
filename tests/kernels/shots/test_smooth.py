import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError
from geoqa.kernels.shots.smooth import smooth_line, smooth_profile

STATION = np.arange(0.0, 1000.0, 25.0)
RESOLUTION = 0.0005

PROFILES = {
    "one grade": -0.006 * STATION,
    "grade break": np.where(STATION < 500, -0.02 * STATION, -10 + 0.03 * (STATION - 500)),
    "step": -0.006 * STATION + np.where(STATION > 510, 0.5, 0.0),
    "vertical curve": np.select(
        [STATION < 400, STATION < 600],
        [-0.006 * STATION, -2.4 - 0.006 * (STATION - 400) + 0.011 / 400 * (STATION - 400) ** 2],
        -2.5 + 0.005 * (STATION - 600),
    ),
}


def curve(radius=500.0):
    """Tangent, arc of 30 degrees to the right, tangent."""
    turn = np.clip((STATION - 400) / radius, 0, math.pi / 6)
    past = np.maximum(STATION - 400 - radius * math.pi / 6, 0)
    easting = np.minimum(STATION, 400) + radius * np.sin(turn) + past * math.cos(math.pi / 6)
    northing = -radius * (1 - np.cos(turn)) - past * math.sin(math.pi / 6)
    return easting, northing


LINES = {
    "straight": (STATION, 0.1 * STATION),
    "corner": (np.minimum(STATION, 500), np.maximum(STATION - 500, 0)),
    "curve": curve(),
}


@pytest.mark.parametrize("shape", PROFILES.values(), ids=PROFILES.keys())
def test_grade_breaks_steps_and_curves_are_not_called_stray(shape):
    draw = np.random.default_rng(1)
    strays = [smooth_profile(STATION, shape + draw.normal(0, 0.01, 40)).stray.sum() for _ in range(200)]
    assert np.mean(np.array(strays) > 0) < 0.10
    exact = smooth_profile(STATION, shape, u_least=RESOLUTION)
    if shape is not PROFILES["vertical curve"]:
        assert not exact.stray.any()
        assert np.nanmax(np.abs(exact.residual)) < 1e-9


@pytest.mark.parametrize("shape", PROFILES.values(), ids=PROFILES.keys())
@pytest.mark.parametrize(("size", "found_at_least"), [(0.1, 0.70), (0.2, 0.88), (1.0, 0.92)])
def test_spikes_are_found(shape, size, found_at_least):
    draw, found = np.random.default_rng(2), []
    for _ in range(150):
        elevation = 1456.0 + shape + draw.normal(0, 0.01, 40)
        row = draw.integers(3, 37)
        elevation[row] += size * draw.choice([-1, 1])
        found.append(smooth_profile(STATION, elevation, u_least=RESOLUTION).stray[row])
    assert np.mean(found) >= found_at_least


@pytest.mark.parametrize("line", LINES.values(), ids=LINES.keys())
@pytest.mark.long
def test_in_plan_corners_and_arcs_are_followed_and_a_stray_shot_is_found(line):
    draw, false, found = np.random.default_rng(3), [], []
    for _ in range(150):
        easting, northing = (2_228_500 + each + draw.normal(0, 0.02, 40) for each in line)
        false.append(smooth_line(easting, northing, u_least=RESOLUTION).stray.any())
        row = draw.integers(3, 37)
        along = np.arctan2(northing[row + 1] - northing[row - 1], easting[row + 1] - easting[row - 1])
        easting[row] -= 0.5 * math.sin(along)
        northing[row] += 0.5 * math.cos(along)
        found.append(smooth_line(easting, northing, u_least=RESOLUTION).stray[row])
    assert np.mean(false) < 0.10
    assert np.mean(found) > 0.75


def test_a_shot_left_of_the_line_has_a_negative_offset():
    northing = np.zeros(40)
    northing[20] = 0.5
    assert smooth_line(STATION, northing, u_least=RESOLUTION).offset[20] == pytest.approx(-0.5)
    assert smooth_line(STATION[::-1], northing, u_least=RESOLUTION).offset[20] == pytest.approx(0.5, abs=1e-9)


def test_u_is_the_standard_uncertainty_of_one_shot():
    draw = np.random.default_rng(4)
    station = np.arange(20_000.0)
    assert smooth_profile(station, draw.normal(0, 0.02, 20_000)).u[0] == pytest.approx(0.02, rel=0.05)
    assert smooth_line(station * 25, draw.normal(0, 0.02, 20_000)).u[0] == pytest.approx(0.02, rel=0.06)


def test_a_handful_of_spikes_does_not_spoil_the_estimate_of_u():
    draw = np.random.default_rng(5)
    elevation = draw.normal(0, 0.02, 400)
    rows = np.arange(10, 400, 20)
    elevation[rows] += 1.0
    found = smooth_profile(np.arange(400.0), elevation)
    assert found.u == pytest.approx(0.02, rel=0.25)
    assert found.stray[rows].mean() > 0.9
    assert found.residual[rows] == pytest.approx(np.full(20, 1.0), abs=0.1)


def test_two_stray_shots_side_by_side_are_left_to_the_eye():
    elevation = np.zeros(40)
    elevation[20:22] = 0.5
    found = smooth_profile(STATION, elevation, u_least=0.01)
    assert not found.stray.any()
    assert (np.abs(found.score[20:22]) > 4).all()


def test_the_ends_and_missing_values_have_no_expectation():
    elevation = 0.01 * STATION
    elevation[7] = math.nan
    found = smooth_profile(STATION, elevation, u_least=0.001)
    assert np.flatnonzero(np.isnan(found.expected)).tolist() == [0, 7, 39]
    assert np.flatnonzero(np.isnan(found.score)).tolist() == [0, 7, 39]
    assert not found.stray.any()


def test_the_order_of_a_profile_is_that_of_its_stations():
    draw = np.random.default_rng(6)
    elevation = draw.normal(0, 0.02, 40)
    elevation[12] += 0.4
    shuffled = draw.permutation(40)
    one, other = smooth_profile(STATION, elevation), smooth_profile(STATION[shuffled], elevation[shuffled])
    assert other.residual == pytest.approx(one.residual[shuffled], nan_ok=True)
    assert other.stray.tolist() == one.stray[shuffled].tolist()


def test_short_lines_and_repeated_places_claim_nothing():
    for count in range(5):
        found = smooth_profile(np.arange(float(count)), np.zeros(count))
        assert not found.stray.any()
        assert np.isnan(found.u).all() if count < 5 else np.isfinite(found.u).all()
        assert smooth_line(np.arange(float(count)), np.zeros(count)).score.shape == (count,)
    same = smooth_line(np.zeros(12), np.zeros(12), u_least=0.01)
    assert not same.stray.any()
    twice = smooth_profile(np.repeat(np.arange(8.0), 2), np.zeros(16), u_least=0.01)
    assert not twice.stray.any()


def test_columns_that_do_not_fit_are_refused():
    with pytest.raises(GeometryInputError, match="differ in length"):
        smooth_profile([1.0, 2.0], [1.0])
    with pytest.raises(GeometryInputError, match="differ in length"):
        smooth_line([1.0, 2.0], [1.0])


def test_many_lines_at_once_are_each_compared_with_themselves_alone():
    draw = np.random.default_rng(12)
    line = draw.permutation(np.repeat(np.arange(60) * 7, draw.integers(1, 60, 60)))
    along, value = draw.uniform(0, 500, line.size), draw.normal(0, 0.02, line.size)
    value += np.where(draw.random(line.size) < 0.05, 0.5, 0.0) + np.where(along > 300, 0.2, 0.0)
    value[draw.random(line.size) < 0.03] = np.nan
    least = np.where(line % 2 == 0, 0.05, 0.001)
    together = smooth_profile(along, value, line=line, u_least=least, limit=5.0)
    aside = smooth_line(along, value, line=line, u_least=least, limit=5.0)
    assert 10 < together.stray.sum() < 100
    assert aside.stray.any()
    for each in np.unique(line):
        mine = line == each
        alone = smooth_profile(along[mine], value[mine], u_least=least[mine][0], limit=5.0)
        for name in ("expected", "residual", "score", "stray", "u"):
            np.testing.assert_allclose(getattr(together, name)[mine], getattr(alone, name), atol=1e-12)
        alone = smooth_line(along[mine], value[mine], u_least=least[mine][0], limit=5.0)
        for name in ("offset", "score", "stray", "u"):
            np.testing.assert_allclose(getattr(aside, name)[mine], getattr(alone, name), rtol=1e-6, atol=1e-9)


def test_a_block_of_lines_may_be_cut_anywhere_between_them(monkeypatch):
    from geoqa.kernels.shots import smooth

    draw = np.random.default_rng(13)
    line, along = np.repeat(np.arange(30), 20), np.tile(np.arange(20.0), 30)
    value = draw.normal(0, 0.02, line.size)
    whole = smooth_profile(along, value, line=line, limit=3.0)
    monkeypatch.setattr(smooth, "_AT_ONCE", 50)
    np.testing.assert_array_equal(smooth_profile(along, value, line=line, limit=3.0).score, whole.score)
    with pytest.raises(GeometryInputError, match=r"line \(2,\) and the shots \(3,\)"):
        smooth_profile([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], line=[0, 0])
