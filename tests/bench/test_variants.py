"""Plants that are off by default: one wrong setting, with the signature it leaves in the numbers."""

import numpy as np
import pandas as pd
import pytest

import bench
from geoqa.job.document.load import load
from geoqa.job.inputs.intake import take_in
from geoqa.simulate.crew.every_plant import DEFAULT

pytestmark = pytest.mark.long


def both(plant, zone="EPSG:6547"):
    without, with_it = (bench.make(seed=1, zone=zone, plants=plants) for plants in ((), (plant,)))
    columns = ["easting", "northing", "elevation"]
    return (
        without.tables["shots"],
        with_it.tables["shots"],
        with_it.tables["shots"][columns].to_numpy() - without.tables["shots"][columns].to_numpy(),
    )


def test_variants_are_not_part_of_the_demo():
    assert not {"T01", "T03", "T05", "T06", "T07", "T22"} & set(DEFAULT)


@pytest.mark.parametrize("zone", ["EPSG:6547", "EPSG:6559", "EPSG:6405"])
def test_survey_feet_shift_by_two_parts_in_a_million_and_leave_elevations(zone):
    before, _, moved = both("T01", zone)
    assert np.abs(moved[:, 0] + 2e-6 * before["easting"]).max() < 0.0016
    assert np.abs(moved[:, 1] + 2e-6 * before["northing"]).max() < 0.0016
    assert np.abs(moved[:, 2]).max() < 0.0041


def test_ellipsoid_heights_differ_by_the_synthetic_geoid():
    _, _, moved = both("T03")
    assert np.ptp(moved[:, 2]) < 0.12
    assert moved[:, 2].mean() == pytest.approx(-88.0, abs=0.1)
    assert np.abs(moved[:, :2]).max() == 0.0


def test_swapped_axes_exchange_easting_and_northing():
    before, after, _ = both("T05", "EPSG:6405")
    assert (after["raw_easting"] == before["raw_northing"]).all()
    assert (after["raw_northing"] == before["raw_easting"]).all()


def test_a_wrong_rod_is_a_step_in_elevation_from_one_moment_on():
    before, _, moved = both("T06")
    high = np.abs(moved[:, 2] - 0.656) < 0.0011
    assert np.abs(moved[~high, 2]).max() == 0.0
    after = before["time"] >= pd.Timestamp("2026-05-12T18:10:00Z")
    assert (high == (after & (before["session"] == "B"))).all()
    assert high.sum() > 300


def test_a_bad_initialization_moves_one_block_of_twenty_shots():
    _, after, moved = both("T07")
    block = (after["initialization"] == "C-bad").to_numpy()
    assert block.sum() == 20
    assert np.abs(moved[block] - [0.55, -0.30, 0.62]).max() < 0.0011
    assert np.abs(moved[~block]).max() == 0.0
    assert np.ptp(np.flatnonzero(block)) == 19


def test_another_way_of_writing_reads_as_the_same_shots(tmp_path):
    made = bench.make(seed=1, plants=(*DEFAULT, "T22"))
    path = bench.write(made, tmp_path)
    assert b";" in (tmp_path / "shots" / "day1.csv").read_bytes().splitlines()[1]
    shots = take_in(load(path)).layers["shots"]
    numbers = ["easting", "northing", "elevation", "pdop", "tilt", "reported_h"]
    pd.testing.assert_frame_equal(pd.DataFrame(shots[numbers]), pd.DataFrame(made.tables["shots"][numbers]))
    assert (shots["note"] == "lip ½ in, ±").sum() == (made.tables["shots"]["note"] == "lip ½ in, ±").sum() > 3
