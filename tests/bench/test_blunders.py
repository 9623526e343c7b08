"""Plants of the diagnosis: the numbers they leave in the shots, each by arithmetic of its own."""

import numpy as np
import pytest

import bench
from bench.blunders import PLANTS
from bench.diagnosed import CASES, SINGLE
from geoqa.simulate.crew.every_plant import DEFAULT
from geoqa.simulate.site import scenario
from geoqa.simulate.site.site import site_facts

pytestmark = pytest.mark.long

ALL = ("EPSG:6547", "EPSG:6559", "EPSG:6405")


def moved(plant, zone="EPSG:6547"):
    without, with_it = (bench.make(seed=1, zone=zone, plants=plants) for plants in ((), (plant,)))
    columns = ["easting", "northing", "elevation"]
    before, after = without.tables["shots"], with_it.tables["shots"]
    return before, after, after[columns].to_numpy() - before[columns].to_numpy(), with_it


def test_the_plants_of_the_diagnosis_are_not_part_of_the_demo():
    assert not {name for name in PLANTS if name[0] in "BU"} & set(DEFAULT)
    assert not {"T02", "T04", "T12"} & set(DEFAULT)


@pytest.mark.parametrize("zone", ALL)
def test_a_global_frame_is_one_shift_over_the_site(zone):
    _, _, shift, _ = moved("T02", zone)
    assert np.ptp(shift, axis=0).max() < 0.004
    assert 3.0 < np.linalg.norm(shift.mean(axis=0)) < 8.0


@pytest.mark.parametrize("zone", ALL)
def test_ground_distances_grow_from_the_held_mark_by_the_combined_factor_of_the_site(zone):
    before, _, shift, made = moved("T04", zone)
    control = made.tables["control"].set_index("mark")
    away = before[["easting", "northing"]].to_numpy() - control.loc["CP-1", ["easting", "northing"]].to_numpy(float)
    grown = np.sum(shift[:, :2] * away, axis=1) / np.sum(away**2, axis=1)
    expected = 1 / site_facts(made.frame, scenario.ZONES[zone])["combined_factor"] - 1
    far = np.hypot(*away.T) > 1000
    assert np.median(grown[far]) == pytest.approx(expected, abs=2e-6)
    assert np.abs(shift[:, 2]).max() == 0.0


def test_a_lean_of_fifteen_degrees_moves_six_shots_along_it_and_down():
    _, after, shift, _ = moved("T12")
    rows = (after["tilt"] == 15.0).to_numpy()
    assert rows.sum() == 6
    # 2.000 m rod: 1.698 ft and 0.224 ft (own arithmetic: L sin t and L (1 - cos t))
    assert np.hypot(*shift[rows, :2].T) == pytest.approx(1.698, abs=0.002)
    assert shift[rows, 2] == pytest.approx(-0.224, abs=0.0011)
    azimuth = np.degrees(np.arctan2(shift[rows, 0], shift[rows, 1])) % 360
    assert azimuth == pytest.approx(after.loc[rows, "tilt_azimuth"], abs=0.2)
    assert np.abs(shift[~rows]).max() == 0.0


def test_a_mark_and_a_session_move_together_and_nothing_else_does():
    before, _, shift, _ = moved("U02")
    there = ((before["session"] == "B") | ((before["code"] == "CHK") & (before["line_id"] == "CP-2"))).to_numpy()
    assert np.abs(shift[there] - [0.22, -0.17, 0.0]).max() < 0.0011
    assert np.abs(shift[~there]).max() == 0.0


def test_two_marks_move_in_one_session_and_nothing_else_does():
    before, _, shift, _ = moved("U04")
    there = (before["session"] == "B") & (before["code"] == "CHK") & before["line_id"].isin(["CP-2", "CP-5"])
    assert there.sum() == 4
    assert np.abs(shift[there] - [0.22, -0.17, 0.0]).max() < 0.0011
    assert np.abs(shift[~there]).max() == 0.0


def test_the_warp_moves_neighbours_alike_and_ends_apart():
    before, _, shift, _ = moved("U01")
    order = np.argsort(before["easting"].to_numpy())
    steps = np.diff(before["easting"].to_numpy()[order])
    jumps = np.abs(np.diff(shift[order], axis=0)).max(axis=1)
    assert (jumps < 0.002 * steps + 0.003).all()
    assert np.ptp(shift[:, 0]) > 0.3


def test_every_plant_of_the_score_is_there_and_every_cause_has_one():
    for case in CASES:
        assert set(case.plants) <= set(PLANTS), case.name
    assert set(SINGLE.values()) >= {
        "foot",
        "frame-epoch",
        "rod",
        "mark",
        "mark-name",
        "zone",
        "NAD27",
        "north",
        "ground",
    }
