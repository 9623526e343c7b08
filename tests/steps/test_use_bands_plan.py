import tomllib
from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

from geoqa import plugins
from geoqa.model.columns import conform
from geoqa.model.step import Step
from geoqa.steps.bands import Bands
from geoqa.steps.use import Use


def test_flags_are_drawn_together_sorted_and_once(job):
    rows = [
        ("day1/102", "pdop", False),
        ("day1/102", "tilt", True),
        ("day1/102", "pdop", False),
        ("day1/103", "b", False),
    ]
    flags = pd.DataFrame(rows, columns=["shot_key", "flag", "reject"]).assign(reason="x", step="y")
    shots = job.shots([{}, {}, {}])
    made = job.run(job.layers(shots=shots, flags=conform("flags", flags)), Use())["shots"]
    assert made["use"].tolist() == [True, False, True]
    assert made["flags"].tolist() == ["", "pdop;tilt", "b"]


def test_without_flags_every_shot_is_used(job):
    made = job.run(job.layers(shots=job.shots([{}, {}])), Use())["shots"]
    assert made["use"].all()
    assert made["flags"].tolist() == ["", ""]


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


def test_the_default_plan_names_every_step_of_ours_once():
    names = tomllib.loads((files("geoqa") / "presets" / "steps.toml").read_text(encoding="utf-8"))["steps"]
    ours = [name for name, entry in plugins.declared("steps").items() if entry.value.startswith("geoqa.steps.")]
    assert len(set(names)) == len(names)
    assert set(names) <= set(ours)


def test_every_step_is_frozen_described_and_named_as_declared():
    for name, entry in plugins.declared("steps").items():
        if not entry.value.startswith("geoqa.steps."):
            continue
        made = plugins.load("steps", name)
        assert issubclass(made, Step)
        assert made.name == name
        assert made.__doc__
        assert made().makes()
        assert all(field.description for field in made.model_fields.values())
