"""A site fit of four marks round a square, moved by known amounts."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.errors import StepError
from geoqa.job.plan import default_steps
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.marks import ASSUMED_U
from geoqa.steps.control.site_fit import SiteFit

SIDE = 1000.0
PLACES = np.array([[0.0, 0.0], [SIDE, 0.0], [SIDE, SIDE], [0.0, SIDE], [SIDE / 2, 0.0], [SIDE / 2, SIDE]])


def fitted(job, moved=(0.0, 0.0), up=0.0, *, count=6, off=None, marks=()):
    """Layers after a fit; `moved` and `up` are measured minus published, `off` adds to single marks."""
    names = [f"CP-{nth + 1}" for nth in range(count)]
    control = pd.DataFrame({"mark": names, "elevation": 100.0, "held": False, "independent": True})
    control["easting"], control["northing"] = (job.origin + PLACES[:count]).T
    control = conform("control", control.assign(u_h=0.0, u_v=0.0, reference="Sheet 2"))
    measured = PLACES[:count] + np.asarray(moved)
    for place, more in (off or {}).items():
        measured[place] += more
    rows = [
        {"line_id": name, "offset": e, "station": n, "elevation": 100.0 + rise}
        for name, (e, n), rise in zip(names, measured, np.broadcast_to(up, count), strict=True)
    ]
    shots = job.prepared(job.shots(rows), kind="control", role="check")
    return job.run(job.layers(shots=shots, control=control), SiteFit(marks=marks))


def parameters(layers):
    return layers["site_fit"].set_index("parameter")


def test_a_fit_runs_only_where_the_job_asks():
    assert "site-fit" not in [step.name for step in default_steps([])]


def test_a_shift_is_found_with_its_standard_error_and_taken_off_every_mark(job):
    layers = fitted(job, (0.05, -0.03), 0.04)
    found = parameters(layers)
    assert found["value"].loc[["shift east", "shift north", "shift up"]].tolist() == pytest.approx([-0.05, 0.03, -0.04])
    # six marks, one shot each with 0.02 of its own
    assert found["se"].loc[["shift east", "shift up"]].tolist() == pytest.approx([0.02 / np.sqrt(6)] * 2, rel=1e-6)
    assert found["proven"].loc[["shift east", "shift up"]].tolist() == [True, True]
    assert found["value"].loc[["scale", "rotation", "slope east"]].tolist() == pytest.approx([0, 0, 0], abs=1e-4)
    marks = layers["site_fit_marks"]
    assert marks["before_easting"].tolist() == pytest.approx([0.05] * 6)
    assert marks["residual_easting"].tolist() == pytest.approx([0.0] * 6, abs=1e-8)
    assert marks["residual_elevation"].tolist() == pytest.approx([0.0] * 6, abs=1e-8)
    assert marks["redundancy_horizontal"].mean() == pytest.approx((12 - 4) / 12)
    assert marks["redundancy_vertical"].mean() == pytest.approx((6 - 3) / 6)


def test_an_honest_site_makes_no_warning_and_proves_nothing(job):
    layers = fitted(job)
    assert len(layers["site_fit_warnings"]) == 0
    assert not parameters(layers)["proven"].any()
    assert not layers["site_fit_marks"]["outlying"].any()


def test_a_scale_that_the_grid_explains_better_is_called_out(job):
    # measured a ten-thousandth too large: the fit shrinks by 100 ppm, seen over a kilofoot with 0.02
    layers = fitted(job, 1e-4 * PLACES)
    scale = parameters(layers).loc["scale"]
    assert scale["value"] == pytest.approx(-100.0, rel=1e-3)
    assert scale["proven"]
    assert "ground" in set(layers["site_fit_warnings"]["cause"])


def test_a_slope_is_found_in_parts_per_million(job):
    found = parameters(fitted(job, up=2e-4 * PLACES[:, 0]))
    assert found.loc["slope east", "value"] == pytest.approx(-200.0)
    assert found.loc["slope north", "value"] == pytest.approx(0.0, abs=1e-6)


def test_the_mark_that_does_not_fit_is_named_and_a_small_misfit_is_not(job):
    layers = fitted(job, off={2: (0.5, 0.0)})
    marks = layers["site_fit_marks"]
    assert marks.loc[marks["outlying"], "mark"].tolist() == ["CP-3"]
    assert "mark" in set(layers["site_fit_warnings"]["cause"])
    assert not fitted(job, off={2: (0.03, 0.0)})["site_fit_marks"]["outlying"].any()


def test_two_marks_fit_whatever_is_wrong_and_that_is_said(job):
    layers = fitted(job, count=2, off={1: (0.5, 0.0)})
    assert "no-redundancy" in set(layers["site_fit_warnings"]["cause"])
    assert layers["site_fit_marks"]["residual_easting"].tolist() == pytest.approx([0.0, 0.0], abs=1e-8)
    assert not layers["site_fit_marks"]["outlying"].any()


def test_only_the_marks_that_are_named_are_fitted(job):
    marks = fitted(job, off={2: (0.5, 0.0)}, marks=("CP-1", "CP-2", "CP-4", "CP-5"))["site_fit_marks"]
    assert marks["mark"].tolist() == ["CP-1", "CP-2", "CP-4", "CP-5"]
    assert not marks["outlying"].any()


def test_one_mark_is_no_site_fit(job):
    with pytest.raises(StepError, match="at least two marks"):
        fitted(job, marks=("CP-1",))
    with pytest.raises(StepError, match="no mark 'CP-9'"):
        fitted(job, marks=("CP-9",))


def under(layers, keys, cause="bad-shot"):
    """The same layers after a diagnosis that named a cause of some shots."""
    rows = pd.DataFrame({"cause": cause, "subject": "x", "shot_key": list(keys), "sure": True, "holds": True})
    return Layers({**layers, "cause_shots": conform("cause_shots", rows)}, frame=layers.frame)


def test_a_shot_under_a_known_blunder_is_left_out_and_said(job):
    slip = fitted(job, count=6, off={4: (0.0, 3.0)})
    made = SiteFit().run(under(slip, slip["shots"]["shot_key"].iloc[[4]]))
    assert made["site_fit_marks"]["mark"].tolist() == ["CP-1", "CP-2", "CP-3", "CP-4", "CP-6"]
    assert not made["site_fit"]["proven"].any()
    (line,) = note_lines(made["notes"], "ft")
    assert line.startswith("Site fit: 1 check shot left out: ")
    assert "one check shot alone is off" in line


def test_where_a_blunder_holds_all_marks_nothing_is_fitted(job):
    whole = fitted(job, (0.5, 0.2), count=4)
    made = SiteFit().run(under(whole, whole["shots"]["shot_key"], cause="foot"))
    assert all(not len(made[name]) for name in SiteFit.gives)
    (line,) = note_lines(made["notes"], "ft")
    assert "not made, for fewer than two marks have a check shot free of a known blunder" in line


def test_a_mark_that_states_no_uncertainty_is_not_taken_for_exact(job):
    layers = fitted(job, (0.05, 0.0))
    control = layers["control"].assign(u_h=np.nan, u_v=np.nan)
    made = SiteFit().run(Layers({**layers, "control": control}, frame=layers.frame))
    se = made["site_fit"].set_index("parameter")["se"]["shift east"]
    assert se == pytest.approx(np.hypot(0.02, ASSUMED_U) / np.sqrt(6), rel=1e-6)
