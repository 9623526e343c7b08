import numpy as np
import pytest

from geoqa.steps.design.bands import Bands


def test_a_band_runs_between_the_limits_left_and_right(job):
    lines = {"A": ("curb-top", 0.0, 0, 100), "B": ("walk-front", 9.0, 0, 100)}
    limits = job.limits(
        ("curb-top", "offset", -0.1, 0.3), ("walk-front", "offset", -np.inf, 0.3), ("curb-top", "elevation", -1, 1)
    )
    made = job.run(job.layers(limits=limits, shots=job.shots([]), **job.design(lines)), Bands())["bands"]
    assert made["line"].tolist() == ["A"]
    west, south, east, north = made.geometry.iloc[0].bounds
    assert [west - job.origin[0], east - job.origin[0]] == pytest.approx([-0.1, 0.3], abs=1e-5)
    assert [south - job.origin[1], north - job.origin[1]] == pytest.approx([0, 100], abs=1e-5)
    assert made["reference"].tolist() == ["Drawing C-101"]


def test_each_rule_set_has_a_band_of_its_own(job):
    limits = job.limits(("curb-top", "offset", -0.1, 0.1), ("curb-top", "offset", -0.2, 0.2, "guarded", "loose"))
    layers = job.layers(limits=limits, shots=job.shots([]), **job.design({"A": ("curb-top", 0.0, 0, 100)}))
    made = job.run(layers, Bands())["bands"]
    assert made.geometry.area.tolist() == pytest.approx([20, 40], rel=1e-4)


def test_no_design_has_no_bands(job):
    assert len(job.run(job.layers(shots=job.shots([])), Bands())["bands"]) == 0
