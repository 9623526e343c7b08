"""What each known mistake does to coordinates, against values that do not come from this code."""

import numpy as np
import pytest

from geoqa.frames.readings.signatures import (
    Signature,
    cannot_compute,
    epochs,
    feet,
    grounds,
    heights,
    metres,
    neighbours,
    norths,
    old_datum,
    signatures,
    swaps,
    zones,
)
from geoqa.frames.systems.factors import convergence
from geoqa.frames.systems.resolve import resolve

SITES = {
    "EPSG:6547": (2_228_500.0, 446_000.0, 1462.0),
    "EPSG:6559": (8_253_000.0, 687_000.0, 1462.0),
    "EPSG:6405": (553_000.0, 1_055_000.0, 1462.0),
    "EPSG:6499": (13_100_000.0, 395_000.0, 930.0),
}


def at(code, dx=0.0, dy=0.0):
    east, north, up = SITES[code]
    return np.array([[east + dx, north + dy, up]])


def every(code, **more):
    held = {"CP-1": at(code)[0], "CP-2": at(code, 2000.0, 500.0)[0]}
    return signatures(resolve(code, "EPSG:8228"), held=held, epoch=2026.9, **more)


# Values from OSGeo/PROJ test/cli/test_proj_nad83.yaml, whose header says that they come from the NGS program
# l176; published in US survey feet. The feet beside them are the international ones of the same places.
PUBLISHED = [
    ("EPSG:6499", (13360865.013, 300809.378), (13360891.735, 300809.979)),
    ("EPSG:6499", (12741759.240, 120840.463), (12741784.723, 120840.705)),
    ("EPSG:6515", (2707564.623, 1334850.273), (2707570.038, 1334852.943)),
    ("EPSG:6570", (2138015.480, 985710.127), (2138019.756, 985712.099)),
]


@pytest.mark.parametrize(("code", "survey", "international"), PUBLISHED)
def test_survey_feet_shown_as_feet_shift_as_the_published_pairs_do(code, survey, international):
    shown = feet(resolve(code))[0].displacement([[*international, 900.0]])[0]
    assert shown[:2] == pytest.approx(np.subtract(survey, international), abs=0.002)
    assert abs(shown[2]) < 0.002


def helmert(frame, points, epoch):
    """ITRF2020 coordinates of points in NAD83(2011), by arithmetic of its own on the GRS 80 ellipsoid.

    Fourteen parameters and their rates of the coordinate frame rotation "ITRF2020 to NAD83(2011) (1)" as the EPSG
    dataset lists them, at 2010.0: metres, arc seconds, parts per million.
    """
    from geoqa.frames.systems.geographic import to_geographic

    lon, lat = (np.radians(each) for each in to_geographic(frame, points[:, 0], points[:, 1]))
    h = points[:, 2] * frame.unit.metres_float
    a, f = 6378137.0, 1 / 298.257222101
    e2 = f * (2 - f)
    n = a / np.sqrt(1 - e2 * np.sin(lat) ** 2)
    xyz = np.stack(
        [(n + h) * np.cos(lat) * np.cos(lon), (n + h) * np.cos(lat) * np.sin(lon), (n * (1 - e2) + h) * np.sin(lat)]
    )
    years = epoch - 2010.0
    t = np.array([1.0039, -1.90961, -0.54117]) + years * np.array([0.00079, -0.0007, -0.00124])
    r = np.array([0.02678138, -0.00042027, 0.01093206]) + years * np.array([6.667e-5, -7.5744e-4, -5.133e-5])
    scale = 1 + (-5.109e-5 + years * -7.201e-5) * 1e-6
    rx, ry, rz = np.radians(r / 3600)
    turn = np.array([[1, rz, -ry], [-rz, 1, rx], [ry, -rx, 1]])
    move = np.linalg.inv(scale * turn) @ (xyz - t[:, None]) - xyz
    sin, cos = np.sin, np.cos
    east = -sin(lon) * move[0] + cos(lon) * move[1]
    north = -sin(lat) * cos(lon) * move[0] - sin(lat) * sin(lon) * move[1] + cos(lat) * move[2]
    up = cos(lat) * cos(lon) * move[0] + cos(lat) * sin(lon) * move[1] + sin(lat) * move[2]
    gamma = np.radians(convergence(frame, points[:, 0], points[:, 1]))
    grid = [east * cos(gamma) - north * sin(gamma), east * sin(gamma) + north * cos(gamma), up]
    return np.stack(grid, axis=1) / frame.unit.metres_float


@pytest.mark.parametrize("code", SITES)
@pytest.mark.parametrize("epoch", [2010.0, 2026.9])
def test_a_global_frame_shown_as_the_jobs_shifts_as_the_fourteen_parameters_say(code, epoch):
    frame = resolve(code)
    shown = epochs(frame, epoch)[0].displacement(at(code))
    # the grid scale, some parts in 10,000 of a few feet, is left out by the arithmetic above
    assert shown == pytest.approx(helmert(frame, at(code), epoch), abs=0.003)


def test_between_foot_and_global_frame_easting_alone_cannot_tell_in_north_dakota():
    foot = feet(resolve("EPSG:6547"))[0].displacement(at("EPSG:6547"))[0]
    frame = epochs(resolve("EPSG:6547"), 2026.9)[0].displacement(at("EPSG:6547"))[0]
    assert abs(foot[0] - frame[0]) < 0.25
    assert abs(foot[1] - frame[1]) > 3.0
    assert abs(foot[2] - frame[2]) > 2.0


def test_the_year_stays_open_and_moves_the_frame_by_centimetres():
    found = epochs(resolve("EPSG:6499"), 2020.0)[0]
    yearly = found.open_columns(at("EPSG:6499"))[0, :, 0]
    later = epochs(resolve("EPSG:6499"), 2026.0)[0].displacement(at("EPSG:6499"))[0]
    assert found.displacement(at("EPSG:6499"))[0] + 6 * yearly == pytest.approx(later, abs=1e-4)
    assert 0.03 < np.hypot(*yearly[:2]) < 0.09


def test_ground_distances_grow_by_the_combined_factor_of_the_published_point():
    # Michigan South 1 of the pairs above: k 0.99995483 (own arithmetic); with h = 180.0 m combined factor 0.99992660
    frame = resolve("EPSG:6499")
    place = np.array([13360891.735, 300809.979, 180.0 / 0.3048])
    ground = grounds(frame, {"A": place}, 0.0)[0]
    shown = ground.displacement([place, place + np.array([10_000.0, 0.0, 0.0])])
    assert shown[0] == pytest.approx([0, 0, 0], abs=1e-9)
    assert shown[1] == pytest.approx([10_000 * (1 / 0.99992660 - 1), 0, 0], abs=0.0005)


def test_true_north_turns_clockwise_by_the_convergence_of_the_sample_point():
    # NGS sample, Pennsylvania South: convergence -01 27 35.22 (seen in a copy)
    frame = resolve("EPSG:6565")
    place = np.array([1338208.220, 250886.607, 1000.0])
    north = norths(frame, {"A": place})[0]
    moved = north.displacement([place + np.array([0.0, 1000.0, 0.0])])[0]
    gamma = -np.radians(1 + 27 / 60 + 35.22 / 3600)
    # a line toward grid north is given the azimuth of grid north from true north
    assert moved[:2] == pytest.approx([1000 * np.sin(gamma), 1000 * (np.cos(gamma) - 1)], abs=0.001)


def test_heights_are_off_by_one_two_and_minus_one_separations():
    found = heights(resolve("EPSG:6547"), -88.0)
    shown = {each.cause: each.displacement(at("EPSG:6547"))[0].tolist() for each in found}
    assert shown == {
        "ellipsoid-heights": [0.0, 0.0, -88.0],
        "geoid-sign": [0.0, 0.0, -176.0],
        "geoid-twice": [0.0, 0.0, 88.0],
    }


def test_without_a_stated_separation_its_size_is_open_over_the_whole_country():
    found = heights(resolve("EPSG:6547"), None)[0]
    assert found.spread[0] == pytest.approx(12.0 / 0.3048)
    assert found.open_columns(at("EPSG:6547"))[0, 2, 0] == 1.0


def test_swapped_axes_in_arizona_move_points_by_half_a_million_feet_and_stay_plausible():
    shown = swaps()[0].displacement(at("EPSG:6405"))[0]
    assert shown[0] == -shown[1] == pytest.approx(502_000.0)


def test_metres_shown_as_feet_are_three_tenths_of_the_number():
    assert metres(resolve("EPSG:6547"))[0].shows(at("EPSG:6547"))[0] == pytest.approx(at("EPSG:6547")[0] * 0.3048)
    assert metres(resolve("EPSG:6498"))[0].shows(np.array([[304.8, 0.0, 0.0]]))[0, 0] == pytest.approx(1000.0)
    assert feet(resolve("EPSG:6498")) == []


def test_the_other_zone_of_north_dakota_is_nearly_the_same_easting_and_half_a_million_feet_north():
    found = {each.variant: each for each in zones(resolve("EPSG:6547"))}
    moved = found["NAD83(2011) / North Dakota North (ft) (EPSG:6545)"].displacement(at("EPSG:6547"))[0]
    # 47d00' minus 45d40' of latitude of origin is 1d20', some 148 km
    assert abs(moved[0]) < 100.0
    assert moved[1] * 0.3048 == pytest.approx(-148_000.0, abs=500.0)


def test_every_zone_of_the_state_and_its_neighbours_is_tried():
    assert {"EPSG:6501", "EPSG:6503", "EPSG:6505", "EPSG:6515", "EPSG:6545", "EPSG:6572"} <= set(
        neighbours(resolve("EPSG:6547"))
    )
    assert {"EPSG:6407", "EPSG:6409"} <= set(neighbours(resolve("EPSG:6405")))
    assert "EPSG:6547" not in neighbours(resolve("EPSG:6547"))


def test_nad27_differs_by_its_false_origin_and_leaves_the_datum_shift_open():
    (found,) = old_datum(resolve("EPSG:6547"))
    assert "EPSG:32021" in found.variant
    # false easting 2,000,000 survey feet in NAD27; 600,000 m, that is 1,968,503.937 ft, in NAD83
    assert found.displacement([[1_968_503.937, 446_000.0, 0.0]])[0, 0] == pytest.approx(2e6 - 1_968_503.937, abs=0.01)
    assert found.open_names == ("datum shift east", "datum shift north")


@pytest.mark.parametrize("code", SITES)
def test_every_mistake_can_be_taken_back(code):
    points = np.concatenate([at(code), at(code, 1500.0, -800.0)])
    for each in every(code):
        assert each.restore(each.shows(points)) == pytest.approx(points, abs=2e-5), (each.cause, each.variant)


def test_the_open_part_is_taken_back_with_the_rest():
    found = next(each for each in every("EPSG:6547") if each.cause == "ellipsoid-heights")
    shown = found.shows(at("EPSG:6547")) + found.open_columns(at("EPSG:6547")) @ np.array([1.5, 0.0, 0.0])
    assert found.restore(shown, [1.5, 0.0, 0.0])[0] == pytest.approx(at("EPSG:6547")[0], abs=1e-9)


def test_a_missing_position_stays_missing():
    points = np.array([[np.nan, 446_000.0, 1460.0], [2_228_500.0, 446_000.0, np.nan]])
    for each in every("EPSG:6547"):
        shown = each.displacement(points)
        if each.cause not in ("ellipsoid-heights", "geoid-sign", "geoid-twice", "metres", "foot", "swapped"):
            assert np.isnan(shown[0, :2]).any(), each.variant
        assert np.isnan(shown[1, 2]), each.variant


def test_a_job_without_marks_has_no_held_points_to_try():
    found = signatures(resolve("EPSG:6547"), held={}, gross=False)
    assert {each.cause for each in found} == {"foot", "frame-epoch", "ellipsoid-heights", "geoid-sign", "geoid-twice"}
    assert all(isinstance(each, Signature) for each in found)


def test_what_cannot_be_computed_offline_is_said():
    # NAD83(HARN) is reached from the global frame only through grids that are not here
    assert any("global frame" in each for each in cannot_compute(resolve("EPSG:2921")))
    assert cannot_compute(resolve("EPSG:6547")) == ()
