import numpy as np
import pytest

from geoqa.kernels.tilt.gon import fits_as_gon
from geoqa.kernels.tilt.limits import known_tilt_model
from tests.kernels.tilt.test_compensation import TRUTH, crew, learned


@pytest.mark.long
def test_a_biased_lean_shows_azimuths_in_gon_that_are_read_as_degrees():
    tests = [crew(np.random.default_rng(700 + seed), points=8) for seed in range(40)]
    assert not any(learned(shots).as_gon for shots in tests)
    in_gon = [shots | {"azimuth": shots["azimuth"] % 360.0 / 0.9} for shots in tests]
    assert sum(learned(shots).as_gon for shots in in_gon) >= 28


@pytest.mark.long
def test_degrees_are_seldom_taken_for_gon_with_a_bias_or_without():
    told = 0
    for seed in range(200):
        truth = TRUTH | {"heading_bias": (seed % 4) * 0.7, "angle_bias": (seed % 3) * 0.3}
        told += learned(crew(np.random.default_rng(seed), points=3 + seed % 4, truth=truth)).as_gon
    assert told <= 1


@pytest.mark.parametrize("gon", [True, False])
def test_a_heading_without_noise_is_turned_by_what_the_unit_turns(gon):
    """The rod's own geometry: 0.10 to the right of each lean, seen from a direction that is read too large."""
    known = known_tilt_model(rod=6.5, heading_spread=1, angle_spread=0.3, plumb_h=0.02, plumb_v=0.02, tilt_high=30)
    way = np.linspace(0.0, 350.0, 36)
    turn = np.radians(0.1 * way if gon else 0.0 * way)
    found = fits_as_gon(
        0.1 * np.cos(turn), 0.1 * np.sin(turn), tilt=np.full(36, 0.4), azimuth=np.radians(way), rod=np.full(36, 6.5),
        plumb=np.full(36, 3.0), spreads=(known.tangential, known.radial),
    )  # fmt: skip
    assert found is gon
