"""The lines a tilt test gives to paste rest on what its limits rest on."""

import tomllib
from dataclasses import replace

import pytest

from geoqa.kernels.precision.estimate import declared
from geoqa.kernels.tilt.limits import known_tilt_model
from geoqa.steps.tilt.proofs import setting


@pytest.mark.parametrize(("plan", "up"), [(0.27, 0.40), (0.40, 0.27)])
def test_the_lines_to_paste_take_the_larger_of_both_angles(plan, up):
    model = known_tilt_model(
        rod=6.562, heading_spread=1.2, angle_spread=plan, plumb_h=0.01, plumb_v=0.015, tilt_high=30
    )
    told = tomllib.loads(setting(replace(model, angle_spread_v=declared(up))))["tilt"]
    assert (told["heading_deg"], told["angle_deg"], told["up_to_deg"]) == (1.2, 0.4, 30)
