import numpy as np
import pytest

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
