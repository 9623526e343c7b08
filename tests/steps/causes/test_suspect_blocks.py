"""Causes that no check shot felt, on small tables: repeats without a design, sags, sessions, leaning rods."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.suspect_blocks import Seen, leaning, looking, moved_blocks
from geoqa.testing import frame

UP = np.tile([0.0, 0.0, 1.0], (60, 1))


def log(blocks, session="A"):
    """Shots of a session, ten to an initialization unless told otherwise."""
    names = np.repeat(list(blocks), list(blocks.values()))
    return pd.DataFrame(
        {
            "shot_key": [f"day1/{number}" for number in range(len(names))],
            "initialization": pd.array(names, dtype="str"),
            "session": pd.array([session] * len(names), dtype="str"),
            "source": "day1",
            "time": pd.date_range("2026-05-12T13:00:00Z", periods=len(names), freq="30s"),
            "rod_height": 6.562,
        }
    )


def high(shots, rows, by):
    residual = np.random.default_rng(1).normal(0, 0.03, len(shots))
    residual[rows] += by
    row, u = np.arange(len(shots)), np.full(len(shots), 0.045)
    return lambda shift: Seen(row=row, direction=UP[: len(shots)], residual=residual - shift[:, 2], u=u)


def test_a_block_that_is_high_as_a_whole_is_a_bad_initialization():
    shots = log({"A1": 20, "A2": 10, "A3": 20})
    (found,) = moved_blocks(shots, high(shots, slice(20, 30), 0.6), taken=set(), unit=1.0)
    assert (found.subject, int(found.acts.sum())) == ("A2", 10)
    assert found.size[2] == pytest.approx(0.6, abs=0.05)
    assert found.probability > 0.99


def test_a_sag_within_a_block_is_no_initialization():
    shots = log({"A1": 20, "A2": 20, "A3": 20})
    assert moved_blocks(shots, high(shots, slice(24, 29), -0.3), taken=set(), unit=1.0) == []


def test_a_sag_across_two_blocks_is_no_initialization():
    shots = log({"A1": 20, "A2": 20, "A3": 20})
    assert moved_blocks(shots, high(shots, slice(12, 30), -0.3), taken=set(), unit=1.0) == []


def test_four_shots_are_too_few_for_a_block():
    shots = log({"A1": 20, "A2": 4, "A3": 20})
    assert moved_blocks(shots, high(shots, slice(20, 24), 0.6), taken=set(), unit=1.0) == []


def test_where_every_block_is_shifted_none_is_named():
    shots = log({"A1": 20, "A2": 20, "A3": 20})
    assert moved_blocks(shots, high(shots, slice(0, 60), 0.6), taken=set(), unit=1.0) == []


def test_a_block_that_control_has_told_of_is_not_told_of_again():
    shots = log({"A1": 20, "A2": 10, "A3": 20})
    assert moved_blocks(shots, high(shots, slice(20, 30), 0.6), taken={"A2"}, unit=1.0) == []


def test_repeats_of_named_points_show_a_bad_initialization_without_any_design():
    rng = np.random.default_rng(3)
    places = np.column_stack([np.arange(8.0) * 40, np.arange(8.0) * 13, np.full(8, 100.0)])
    visits = [places + rng.normal(0, 0.02, (8, 3)) for _ in range(3)]
    visits[1] = visits[1] + [0.55, -0.30, 0.62]
    measured = np.concatenate(visits)
    shots = log({"A1": 8, "A2": 8, "A3": 8}).assign(
        code="VLV", line_id=pd.array([f"V{number}" for number in range(8)] * 3, dtype="str"),
        easting=measured[:, 0], northing=measured[:, 1], elevation=measured[:, 2], u_h_random=0.02, u_v_random=0.02,
    )  # fmt: skip
    codes = pd.DataFrame({"code": ["VLV"], "geometry": ["point"], "role": ["feature"]})
    (found,) = moved_blocks(shots, looking(shots, {"codes": codes}, 1.0), taken=set(), unit=1.0)
    assert found.subject == "A2"
    assert (np.abs(found.size - [0.55, -0.30, 0.62]) < 4.5 * found.u_size).all()


def test_of_two_visits_that_disagree_none_is_picked():
    shots = log({"A1": 8, "A2": 8}).assign(
        code="VLV", line_id=pd.array([f"V{number}" for number in range(8)] * 2, dtype="str"),
        easting=np.repeat([0.0, 0.5], 8),
        northing=0.0, elevation=np.repeat([100.0, 100.6], 8), u_h_random=0.02, u_v_random=0.02,
    )  # fmt: skip
    codes = pd.DataFrame({"code": ["VLV"], "geometry": ["point"], "role": ["feature"]})
    assert not looking(shots, {"codes": codes}, 1.0)(np.zeros((16, 3))).row.size


def along_a_line(shots, stations, rise):
    """Deviations in elevation along one design line."""
    return pd.DataFrame(
        {
            "shot_key": shots["shot_key"], "chosen": True, "along": 0.0, "azimuth": 90.0, "design": "W-1",
            "station": stations, "offset": 0.0, "design_elevation": -np.asarray(rise),
        }
    )  # fmt: skip


def test_places_shot_again_that_show_the_same_are_so_built():
    rng = np.random.default_rng(2)
    built = np.where(np.arange(20) % 3 == 1, 0.25, 0.0)
    bad = np.flatnonzero(built)
    shots = log({"A1": 20, "C1": len(bad)}).assign(elevation=0.0, u_h_random=0.02, u_v_random=0.02)
    shots[["easting", "northing"]] = 0.0
    shots["code"], shots["line_id"] = "WKF", "W-1"
    stations = np.concatenate([20.0 * np.arange(20), 20.0 * bad + 0.4])
    rise = np.concatenate([built, built[bad]]) + rng.normal(0, 0.02, 20 + len(bad))
    layers = Layers({"line_matches": along_a_line(shots, stations, rise)}, frame=frame())
    assert moved_blocks(shots, looking(shots, layers, 1.0), taken=set(), unit=1.0) == []


def test_places_shot_again_that_show_another_number_are_a_bad_initialization():
    rng = np.random.default_rng(2)
    shots = log({"A1": 20, "C1": 7}).assign(elevation=0.0, u_h_random=0.02, u_v_random=0.02)
    shots[["easting", "northing"]] = 0.0
    shots["code"], shots["line_id"] = "WKF", "W-1"
    stations = np.concatenate([20.0 * np.arange(20), 60.0 * np.arange(7)])
    rise = np.concatenate([np.zeros(20), np.full(7, 0.4)]) + rng.normal(0, 0.02, 27)
    layers = Layers({"line_matches": along_a_line(shots, stations, rise)}, frame=frame())
    (found,) = moved_blocks(shots, looking(shots, layers, 1.0), taken=set(), unit=1.0)
    assert (found.subject, round(float(found.size[2]), 1)) == ("C1", 0.4)


def tilted(angles, toward, residual):
    shots = log({"A1": len(angles)}).assign(tilt=angles, tilt_azimuth=toward)
    direction = np.tile([1.0, 0.0, 0.0], (len(angles), 1))
    return shots, Seen(
        row=np.arange(len(angles)), direction=direction, residual=np.array(residual), u=np.full(len(angles), 0.06)
    )


def test_a_leaning_rod_is_told_by_the_shift_along_its_lean():
    # 6.562 ft at 15 degrees: 1.698 ft (own arithmetic)
    shots, sight = tilted([15.0, 15.0, 0.2], [90.0, 270.0, 90.0], [1.70, -1.69, 0.02])
    (found,), _ = leaning(shots, sight, unit=1.0)
    assert found.acts.tolist() == [True, True, False]
    assert found.shift[:2, 0] == pytest.approx([1.698, -1.698], abs=0.001)
    assert found.shift[:2, 2] == pytest.approx([-0.224, -0.224], abs=0.001)


def test_a_compensated_lean_is_left_alone():
    shots, sight = tilted([15.0, 25.0], [90.0, 270.0], [0.03, -0.02])
    assert leaning(shots, sight, unit=1.0)[0] == []


def test_a_lean_square_to_what_was_seen_proves_nothing():
    shots, sight = tilted([15.0], [0.0], [1.70])
    assert leaning(shots, sight, unit=1.0)[0] == []


def in_plan_and_up(angles, toward, off):
    """Shots compared in all three axes; `off` is what was seen of each."""
    shots = log({"A1": len(angles)}).assign(tilt=angles, tilt_azimuth=toward)
    row, axes = np.repeat(np.arange(len(angles)), 3), np.tile(np.eye(3), (len(angles), 1))
    return shots, Seen(row=row, direction=axes, residual=np.array(off, float).ravel(), u=np.full(len(row), 0.06))


@pytest.mark.parametrize("lean", [10.0, 13.0, 16.0, 19.0, 22.0, 25.0])
def test_one_lean_explains_all_that_is_seen_of_a_shot_or_is_a_doubt(lean):
    for toward in range(0, 360, 15):
        shots, sight = in_plan_and_up([lean], [float(toward)], [[3.011, 0.0, 0.034]])
        blocks, doubts = leaning(shots, sight, unit=1.0)
        assert blocks == []
        assert np.isfinite(doubts).all() or np.isnan(doubts).all()


def test_one_lean_that_explains_every_component_is_named():
    off = 6.562 * np.sin(np.radians(20.0))
    shots, sight = in_plan_and_up([20.0], [90.0], [[off + 0.05, -0.04, -0.396 + 0.05]])
    (found,), doubts = leaning(shots, sight, unit=1.0)
    assert found.acts.tolist() == [True]
    assert found.subject == "1 shot at 20°"
    assert np.isnan(doubts).all()


def test_a_partly_explained_shot_among_many_that_a_lean_explains_is_taken_along():
    off = 6.562 * np.sin(np.radians(20.0))
    whole, part = [off, 0.0, -0.396], [off + 0.9, 0.0, -0.396]
    shots, sight = in_plan_and_up([20.0] * 4, [90.0] * 4, [whole, whole, whole, part])
    (found,), doubts = leaning(shots, sight, unit=1.0)
    assert found.acts.all()
    assert np.isnan(doubts).all()
    shots, sight = in_plan_and_up([20.0] * 3, [90.0] * 3, [whole, whole, part])
    (found,), doubts = leaning(shots, sight, unit=1.0)
    assert found.acts.tolist() == [True, True, False]
    assert np.isfinite(doubts[2]).all()
