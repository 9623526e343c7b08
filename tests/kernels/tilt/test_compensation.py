import math

import numpy as np
import pytest

from geoqa.errors import GeometryInputError, JobError
from geoqa.kernels.tilt.classes import tilt_classes
from geoqa.kernels.tilt.compensation import learn_tilt, turned
from geoqa.kernels.tilt.limits import known_tilt_model, largest_tilt, tilted_shot

ROD = 6.562
TRUTH = {
    "heading_bias": 1.5,
    "angle_bias": 0.4,
    "rod_error": 0.03,
    "heading_spread": 1.0,
    "angle_spread": 0.3,
    "angle_spread_v": 0.3,
    "plumb_h": 0.02,
    "plumb_v": 0.02,
}
STATED = {"rod": ROD, "heading_spread": 1.0, "angle_spread": 0.3, "plumb_h": 0.025, "plumb_v": 0.045}


def crew(draw, *, points=4, directions=4, tilts=(10.0, 30.0), plumb=4, truth=TRUTH, rod=ROD):
    """Shots of a tilt test, by the rod's geometry itself and not by its derivatives."""

    def reach(length, tilt, azimuth):
        t, a = np.radians(tilt), np.radians(azimuth)
        return length * np.column_stack([np.sin(t) * np.sin(a), np.sin(t) * np.cos(a), np.cos(t)])

    upright = np.repeat(np.arange(points), plumb)
    leaning = np.repeat(np.arange(points), directions * len(tilts))
    tilt = np.tile(np.repeat(tilts, directions), points) + draw.uniform(-1, 1, leaning.size)
    azimuth = np.tile(np.arange(directions) * 360.0 / directions, points * len(tilts)) + draw.uniform(
        -10, 10, leaning.size
    )
    true_rod = rod + truth["rod_error"]
    read_tilt = tilt - draw.normal(truth["angle_bias"], truth["angle_spread"], leaning.size)
    read_azimuth = azimuth - draw.normal(truth["heading_bias"], truth["heading_spread"], leaning.size)
    off = np.vstack(
        [
            np.tile([0.0, 0.0, truth["rod_error"]], (upright.size, 1)),
            reach(true_rod, tilt, azimuth) - reach(rod, read_tilt, read_azimuth),
        ]
    )
    point = np.r_[upright, leaning]
    noise = draw.normal(size=off.shape) * [truth["plumb_h"], truth["plumb_h"], truth["plumb_v"]]
    places = np.array([2_228_600.0, 446_000.0, 1460.0]) + 12.0 * point[:, None] + off + noise
    return {
        "point": point,
        "easting": places[:, 0],
        "northing": places[:, 1],
        "elevation": places[:, 2],
        "tilt": np.r_[draw.uniform(0, 0.4, upright.size), read_tilt],
        "azimuth": np.r_[draw.uniform(0, 360, upright.size), read_azimuth],
        "plumb": np.arange(point.size) < upright.size,
        "rod": rod,
    }


def learned(shots):
    return learn_tilt(**shots)


@pytest.mark.long
def test_biases_and_spreads_lie_inside_their_own_bands_as_often_as_they_say():
    draw, trials = np.random.default_rng(14), 500
    held = dict.fromkeys(TRUTH, 0)
    for _ in range(trials):
        model = learned(crew(draw))
        for name, true in TRUTH.items():
            band = getattr(model, name)
            held[name] += band.low <= true <= band.high
    shares = {name: count / trials for name, count in held.items()}
    assert {name: abs(share - 0.95) <= 0.03 for name, share in shares.items()} == dict.fromkeys(TRUTH, True), shares


@pytest.mark.long
def test_a_test_at_one_tilt_only_keeps_its_bands():
    draw, trials = np.random.default_rng(15), 300
    held = dict.fromkeys(("heading_bias", "heading_spread", "angle_spread", "angle_bias"), 0)
    for _ in range(trials):
        model = learned(crew(draw, tilts=(20.0,)))
        for name in held:
            band = getattr(model, name)
            held[name] += band.low <= TRUTH[name] <= band.high
    assert all(abs(count / trials - 0.95) <= 0.035 for count in held.values()), held


def test_estimates_come_close_with_many_shots_and_say_how_many():
    model = learned(crew(np.random.default_rng(3), points=12, tilts=(10.0, 20.0, 30.0)))
    for name, relative in (
        ("heading_bias", 0.15),
        ("angle_bias", 0.3),
        ("heading_spread", 0.2),
        ("angle_spread", 0.25),
    ):
        estimate = getattr(model, name)
        assert estimate.value == pytest.approx(TRUTH[name], rel=relative)
        assert 0 < estimate.se < relative * TRUTH[name]
    assert model.heading_bias.significant
    assert (model.points, model.plumb_shots, model.tilted_shots, model.left_out) == (12, 48, 144, 0)
    assert 29 < model.tilt_high < 33
    assert model.plumb_h.dof == 72


def test_errors_without_noise_come_back_with_their_signs():
    exact = dict.fromkeys(TRUTH, 0.0) | {"plumb_h": 1e-5, "plumb_v": 1e-5, "heading_spread": 1e-4, "angle_spread": 1e-4}
    for name, size in (("heading_bias", 0.1), ("angle_bias", -0.1), ("rod_error", 0.05)):
        model = learned(crew(np.random.default_rng(4), truth=exact | {name: size}))
        for other in ("heading_bias", "angle_bias", "rod_error"):
            assert getattr(model, other).value == pytest.approx(size if other == name else 0.0, abs=1e-3)


@pytest.mark.parametrize(
    ("error", "horizontal", "vertical"),
    [(0.25, 0.00873, 0.000019), (0.5, 0.01745, 0.000076), (1, 0.0349, 0.000305), (2, 0.0698, 0.001218)],
)
def test_the_tip_of_a_rod_moves_by_the_closed_forms(error, horizontal, vertical):
    # own arithmetic, exact: rod 2.000 m, error about vertical: L sin e and L (1 - cos e)
    e = math.radians(error)
    assert 2.0 * math.sin(e) == pytest.approx(horizontal, abs=5e-5)
    assert 2.0 * (1 - math.cos(e)) == pytest.approx(vertical, abs=1e-6)
    model = known_tilt_model(
        rod=2.0, heading_spread=0, angle_spread=error, plumb_h=1e-9, plumb_v=1e-9, tilt_high=60, angle_bias=error
    )
    shot = tilted_shot(model, [0.0, 30.0])
    assert shot.u_radial[0] == pytest.approx(horizontal, abs=2e-5)
    # at 30 degrees and 0.5 degrees of error: exact 0.0087925 m, first order 0.0087266 m
    assert shot.shift_vertical[1] == pytest.approx(-2.0 * e / 2)
    assert 2.0 * (math.cos(math.pi / 6) - math.cos(math.pi / 6 + e)) == pytest.approx(e, rel=0.04)


def test_a_heading_off_by_one_degree_moves_the_tip_by_so_much():
    # own arithmetic: L sin t d, rod 2 m in feet: 0.020, 0.057, 0.081 ft at 10, 30, 45 degrees
    model = known_tilt_model(**STATED, tilt_high=45, heading_bias=1.0)
    assert tilted_shot(model, [10, 30, 45]).shift_tangential == pytest.approx([0.020, 0.057, 0.081], abs=5e-4)


def test_the_largest_tilt_for_a_tenth_of_a_foot():
    # own arithmetic: 1.96 u_tangential = 0.10 ft at 22.9 degrees
    model = known_tilt_model(**STATED, tilt_high=45)
    found = largest_tilt(model, limit=0.10, check="offset")
    assert found.tilt == pytest.approx(22.85, abs=0.01)
    assert found.cautious == pytest.approx(found.tilt)
    assert found.plumb
    assert not found.whole_range
    # at half the tolerance the angle alone uses up what is left: plumb with the bubble only
    half = largest_tilt(model, limit=0.10, check="offset", deviation=0.05)
    assert math.isnan(half.tilt)
    assert half.plumb
    radius = largest_tilt(model, limit=0.15, check="position")
    assert 0 < radius.tilt < largest_tilt(model, limit=0.15, check="offset").tilt


def test_elevations_hardly_limit_the_tilt_and_nothing_is_said_beyond_the_test():
    model = known_tilt_model(**STATED, tilt_high=30)
    found = largest_tilt(model, limit=0.10, check="elevation")
    assert found.tilt == 30
    assert found.whole_range
    beyond = tilted_shot(model, [30, 30.1, -1, math.nan])
    assert np.isnan(beyond.u_vertical).tolist() == [False, True, True, True]
    assert np.isnan(tilted_shot(model, 10, rod=8.0).u_radial)
    assert math.isnan(largest_tilt(model, limit=0.10, check="offset", rod=8.0, rule="simple").tilt)
    assert largest_tilt(model, limit=0.10, check="elevation", more=0.05).plumb is False


def test_a_bias_that_stays_costs_tilt_and_one_set_right_does_not():
    model = known_tilt_model(**STATED, tilt_high=45, heading_bias=1.5)
    kept, removed = (largest_tilt(model, limit=0.10, check="offset", biases=word) for word in ("kept", "removed"))
    assert removed.tilt == pytest.approx(22.85, abs=0.01)
    assert 5 < kept.tilt < 15


def test_few_shots_make_a_cautious_tilt_smaller():
    model = learned(crew(np.random.default_rng(6), points=3, truth=TRUTH | {"angle_bias": 0.0, "rod_error": 0.0}))
    found = largest_tilt(model, limit=0.15, check="offset", biases="removed")
    assert found.cautious < found.tilt
    shot = tilted_shot(model, [0.0, 20.0])
    for part in ("radial", "tangential", "vertical"):
        low, value, high = (getattr(shot, f"u_{part}{end}") for end in ("_low", "", "_high"))
        assert (low < value).all()
        assert (value < high).all()


@pytest.mark.long
def test_the_predicted_uncertainty_lies_inside_its_band_as_often_as_it_says():
    draw, trials, held = np.random.default_rng(16), 250, 0
    expected = math.hypot(0.02, ROD * math.sin(math.radians(20)) * math.radians(1.0))
    for _ in range(trials):
        shot = tilted_shot(learned(crew(draw)), 20.0)
        held += shot.u_tangential_low <= expected <= shot.u_tangential_high
    assert abs(held / trials - 0.95) <= 0.035


def test_without_azimuths_only_sizes_by_class_are_told():
    shots = crew(np.random.default_rng(7), points=8)
    model = learned(shots | {"azimuth": None})
    for name in ("heading_bias", "angle_bias", "rod_error", "heading_spread", "angle_spread", "angle_spread_v"):
        assert getattr(model, name) is None
    with_azimuths = learned(shots)
    assert model.plumb_h == with_azimuths.plumb_h
    sized = model.classes
    assert sized.count.tolist() == [0, 32, 0, 0, 32, 0, 0]
    assert sized.u_h[1] < sized.u_h[4]
    assert (sized.u_h_low[[1, 4]] < sized.u_h[[1, 4]]).all()
    assert (sized.u_h[[1, 4]] < sized.u_h_high[[1, 4]]).all()
    assert np.isnan(sized.u_h[0])
    assert np.isnan(tilted_shot(model, 10.0).u_radial)
    found = largest_tilt(model, limit=0.15, check="offset")
    assert found.from_classes
    assert 9 < found.tilt < 11.5  # the ten degree class, up to the largest tilt in it
    assert largest_tilt(model, limit=1.0, check="offset").whole_range
    assert math.isnan(largest_tilt(model, limit=0.001, check="elevation").tilt)


def test_classes_by_median_are_not_moved_by_one_stray_shot():
    draw = np.random.default_rng(8)
    plan, level = np.hypot(*draw.normal(0, 0.03, (2, 400))), draw.normal(0, 0.04, 400)
    plan[0], level[0] = 5.0, -5.0
    sized = tilt_classes(np.full(400, 20.0), plan, level)
    assert sized.u_h[3] == pytest.approx(0.03, rel=0.12)
    assert sized.u_v[3] == pytest.approx(0.04, rel=0.15)
    assert (sized.largest_h[3], sized.largest_v[3]) == (5.0, 5.0)


def test_the_band_of_a_class_holds_the_truth_at_least_as_often_as_it_says():
    draw = np.random.default_rng(9)
    held = 0
    for _ in range(400):
        sized = tilt_classes(np.full(12, 20.0), np.hypot(*draw.normal(0, 0.03, (2, 12))), np.zeros(12))
        held += sized.u_h_low[3] <= 0.03 <= sized.u_h_high[3]
    assert held / 400 > 0.93
    few = tilt_classes([20.0] * 5, [0.1] * 5, [math.nan] * 5)
    assert (few.u_h_low[3], few.u_h_high[3]) == (0.0, math.inf)
    assert np.isnan(few.u_v[3])


def ordinary_crew(draw):
    """Elevations stray up to 0.07 ft at 15 degrees and 0.16 ft at 45, plan up to 0.15 ft."""
    exact = dict.fromkeys(TRUTH, 0.0) | {"plumb_h": 0.02, "plumb_v": 0.03}
    shots = crew(draw, tilts=(15.0, 45.0), truth=exact)
    leaning = np.flatnonzero(~shots["plumb"])
    extreme = shots["tilt"][leaning] > 30
    shots["elevation"][leaning] = 1460.0 + 12.0 * shots["point"][leaning]
    shots["elevation"][leaning] += draw.uniform(-1, 1, leaning.size) * np.where(extreme, 0.16, 0.07)
    size, toward = 0.15 * np.sqrt(draw.uniform(0, 1, leaning.size)), draw.uniform(0, 2 * math.pi, leaning.size)
    shots["easting"][leaning] = 2_228_600.0 + 12.0 * shots["point"][leaning] + size * np.sin(toward)
    shots["northing"][leaning] = 446_000.0 + 12.0 * shots["point"][leaning] + size * np.cos(toward)
    return shots


@pytest.mark.long
def test_an_ordinary_crew_has_no_significant_bias_and_a_limit_well_below_its_extreme_leans():
    # common practice, no source
    draw = np.random.default_rng(23)
    models = [learned(ordinary_crew(draw)) for _ in range(200)]
    biases = [[each.significant for each in (m.heading_bias, m.angle_bias, m.rod_error)] for m in models]
    assert (np.abs(np.mean(biases, axis=0) - 0.05) <= 0.05).all()
    for model in models[:10]:
        up = largest_tilt(model, limit=0.10, check="elevation")
        assert up.plumb
        assert up.tilt < 35
        aside = largest_tilt(model, limit=0.10, check="offset")
        assert aside.plumb
        assert math.isnan(aside.tilt)


def test_plumb_shots_that_repeat_nothing_need_a_declared_precision():
    shots = crew(np.random.default_rng(10), plumb=1)
    unknown = learned(shots)
    assert math.isnan(unknown.plumb_h.value)
    assert math.isnan(unknown.heading_spread.value)
    assert math.isnan(unknown.heading_bias.value)
    assert math.isnan(largest_tilt(unknown, limit=0.1, check="offset").tilt)
    told = learned(shots | {"plumb_u": (0.02, 0.02)})
    assert told.plumb_h.value == 0.02
    assert told.heading_spread.low < 1.0 < told.heading_spread.high


@pytest.mark.parametrize("seed", range(4))
def test_two_rods_whose_headings_differ_are_no_tip_that_moves(seed):
    draw = np.random.default_rng(40 + seed)
    crews = [
        crew(draw, points=5, tilts=(8.0, 16.0, 24.0), truth=TRUTH | {"heading_bias": bias, "rod_error": 0.0}, rod=rod)
        for bias, rod in ((1.5, ROD), (0.0, 5.0))
    ]
    whole = {name: np.concatenate([each[name] for each in crews]) for name in crews[0] if name != "rod"}
    sizes = [each["point"].size for each in crews]
    whole["point"] += np.repeat([0, 10], sizes)
    found = learn_tilt(**whole, rod=np.repeat([ROD, 5.0], sizes), session=np.repeat([1, 2], sizes))
    assert len(found.headings) == 2
    assert found.left[0] == 0.0


def test_shots_that_lack_something_are_counted_and_left_out():
    shots = crew(np.random.default_rng(11))
    whole = learned(shots)
    gappy = {name: np.array(values, float) if np.ndim(values) else values for name, values in shots.items()}
    gappy["easting"][0] = math.nan
    gappy["tilt"][-1] = math.nan
    gappy["azimuth"][-2] = math.nan
    found = learned(gappy)
    assert found.left_out == 3
    assert (found.plumb_shots, found.tilted_shots) == (whole.plumb_shots - 1, whole.tilted_shots - 2)
    assert found.heading_bias.value == pytest.approx(whole.heading_bias.value, abs=0.3)


def test_north_leaning_east_of_a_shot_is_counter_clockwise():
    radial, tangential = turned([0.0, 1.0], [1.0, 0.0], [0.0, 0.0])
    assert radial.tolist() == [1.0, 0.0]
    assert tangential.tolist() == [0.0, 1.0]


def test_a_test_without_plumb_shots_and_wrong_words_are_refused():
    shots = crew(np.random.default_rng(12))
    with pytest.raises(GeometryInputError, match="a tilt test needs plumb and tilted shots"):
        learned(shots | {"plumb": np.zeros(shots["point"].size, dtype=bool)})
    with pytest.raises(GeometryInputError, match="do not fit"):
        learned(shots | {"azimuth": [1.0]})
    with pytest.raises(GeometryInputError, match="differ in length"):
        learned(shots | {"easting": [1.0]})
    model = known_tilt_model(**STATED, tilt_high=45)
    with pytest.raises(JobError, match="allowed are offset, position, elevation"):
        largest_tilt(model, limit=0.1, check="height")
    with pytest.raises(JobError, match="kept and removed"):
        largest_tilt(model, limit=0.1, check="offset", biases="gone")
    with pytest.raises(JobError, match="above 0"):
        largest_tilt(model, limit=0.0, check="offset")
    with pytest.raises(JobError, match="do not rise"):
        tilt_classes([], [], [], edges=[10, 5])
    with pytest.raises(GeometryInputError, match="differ in length"):
        tilt_classes([1.0], [], [])


@pytest.mark.parametrize("seed", range(5))
def test_single_plumb_shots_of_a_nail_on_two_days_tell_their_scatter(seed):
    draw = np.random.default_rng(60 + seed)
    days = [crew(draw, points=12, plumb=1) for _ in range(2)]
    # the second day is shifted as a whole, and on the same nails
    shots = {key: np.r_[days[0][key], days[1][key]] for key in days[0] if key != "rod"} | {"rod": ROD}
    size = days[0]["point"].size
    session, nail = np.repeat([0, 1], size), shots["point"]
    for axis, by in (("easting", 0.11), ("northing", -0.07), ("elevation", 0.2)):
        shots[axis] = shots[axis] + by * session
    found = learn_tilt(**shots | {"point": nail + 100 * session, "session": session, "nail": nail})
    assert 0.6 < found.plumb_v.value / TRUTH["plumb_v"] < 1.6
    assert found.plumb_v.low < TRUTH["plumb_v"] < found.plumb_v.high
    told = {"point": nail + 100 * session, "session": session, "nail": nail, "plumb_u": (0.006, 0.006)}
    doubted = learn_tilt(**shots | told)
    assert doubted.plumb_v.value > 0.01
    assert doubted.plumb_stated == (0.006, 0.006)
