"""Tannery Lane itself: curve, profile, control, design lines, and what each zone does to them."""

import numpy as np
import pytest

from bench.curve import curve_parts
from bench.profile import parabola_elevation, turning_station
from geoqa.errors import GeoqaError
from geoqa.frames.systems.geographic import from_geographic, to_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.kernels.design.along_elements import point_at
from geoqa.kernels.design.elements import Elements
from geoqa.kernels.design.station import nearest
from geoqa.simulate import desk, make
from geoqa.simulate.site import alignment, scenario
from geoqa.simulate.site.design import lines, points
from geoqa.simulate.site.site import site_facts

# Control sheet of the scenario: northing, easting, elevation.
CONTROL_SHEET = {
    "CP-1": (445968.253, 2228515.752, 1461.640),
    "CP-2": (446092.291, 2228839.126, 1459.600),
    "CP-3": (446104.683, 2229283.729, 1456.960),
    "CP-4": (446161.130, 2229619.554, 1456.350),
    "CP-5": (446057.904, 2230042.166, 1458.500),
    "CP-6": (446085.802, 2230446.134, 1460.500),
}
METRIC_TWIN = {"EPSG:6547": "EPSG:6546", "EPSG:6559": "EPSG:6558", "EPSG:6405": "EPSG:6404"}
US_SURVEY_FOOT = 1200 / 3937


def elements_of(tables):
    table = tables["design_elements"]
    code = {name: number for number, name in enumerate(tables["design_lines"]["line"])}
    return code, Elements(
        line=table["line"].map(code),
        shape=(table["shape"] == "arc").astype(int),
        start=table[["start_easting", "start_northing"]],
        end=table[["end_easting", "end_northing"]],
        centre=table[["centre_easting", "centre_northing"]],
        radius=table["radius"],
        sense=table["sense"],
        start_station=table["start_station"],
        length=table["length"],
        start_elevation=table["start_elevation"],
        end_elevation=table["end_elevation"],
        tolerance=1e-6,
    )


def test_the_curve_has_the_length_of_its_radius_and_angle():
    assert pytest.approx(130.90, abs=0.005) == alignment.ARC_LENGTH
    assert pytest.approx(1930.90, abs=0.005) == alignment.PT
    east, north = alignment.place([alignment.PC, alignment.PT], 0.0)
    chord = float(np.hypot(np.diff(east), np.diff(north))[0])
    assert chord == pytest.approx(float(curve_parts(alignment.RADIUS, alignment.DELTA).long_chord), abs=1e-9)


def test_the_profile_agrees_with_a_parabola_of_other_arithmetic_and_has_its_low_point():
    stations = np.linspace(1000, 2970, 400)
    rival = parabola_elevation(
        stations, pvi_station=2000.0, pvi_elevation=1456.0, grade_in=-0.006, grade_out=0.005, length=200.0
    )
    assert np.abs(alignment.profile(stations) - rival).max() < 1e-9
    low = turning_station(pvi_station=2000.0, grade_in=-0.006, grade_out=0.005, length=200.0)
    assert low == pytest.approx(2009.09, abs=0.005)
    assert float(alignment.profile(low)) == pytest.approx(1456.27, abs=0.005)
    assert float(alignment.profile(2970.0)) == pytest.approx(1460.85, abs=0.005)


def test_control_lies_where_the_control_sheet_says():
    control = desk.control(scenario.ZONES["EPSG:6547"]).set_index("mark")
    for mark, (northing, easting, elevation) in CONTROL_SHEET.items():
        assert control.loc[mark, "northing"] == pytest.approx(northing, abs=0.0015)
        assert control.loc[mark, "easting"] == pytest.approx(easting, abs=0.0015)
        assert control.loc[mark, "elevation"] == elevation


def test_pipes_have_the_lengths_and_grades_of_the_drainage_plan():
    for name, length, grade in (("P-1", 20.0, 1.00), ("P-2", 251.0, 0.40), ("P-3", 246.45, 0.50)):
        first, leaves, last, enters, *_ = scenario.PIPES[name]
        fall = scenario.STRUCTURES[first][3][leaves] - scenario.STRUCTURES[last][3][enters]
        assert lines()[name].finish == pytest.approx(length, abs=0.005)
        assert 100 * fall / length == pytest.approx(grade, abs=0.005)


def test_the_water_pipe_passes_under_the_storm_pipe_with_the_designed_clearance():
    # invert of P-1 seven feet from its upper end, less its wall of 2 in
    outside_bottom = 1451.40 - 0.01 * 7.0 - 2.0 / 12.0
    at = lines()["W-1"].foot(2009.0)
    assert outside_bottom - float(at.elevation) == pytest.approx(2.57, abs=0.005)


def test_the_kernels_accept_every_element_and_find_the_same_places():
    simulated = make(plants=())
    code, elements = elements_of(simulated.tables)
    for name, line in lines().items():
        inside = np.linspace(line.begin, line.finish, 57)[1:-1]
        foot = line.foot(inside)
        found = point_at(elements, code[name], foot.station)
        assert np.abs(found.easting - simulated.zone.easting - foot.easting).max() < 1e-6
        assert np.abs(found.northing - simulated.zone.northing - foot.northing).max() < 1e-6
        assert np.abs(found.elevation - foot.elevation).max() < 1e-6
        assert np.abs((found.azimuth - foot.azimuth + 180) % 360 - 180).max() < 1e-6


def test_straight_grades_leave_the_vertical_curve_by_less_than_a_thousandth_of_a_foot():
    flow = lines()["CFL-R-1"]
    at = np.linspace(1890, 2110, 4000)
    assert np.abs(flow.foot(at).elevation - (alignment.profile(at) - 0.40)).max() < 0.001


@pytest.mark.long
def test_the_true_deviations_are_what_station_and_offset_measure():
    simulated = make(seed=3)
    code, elements = elements_of(simulated.tables)
    truth = simulated.truth.shots
    rows = truth[(truth["target"] == "line") & truth["measured"]]
    found = nearest(
        rows[["easting", "northing"]].to_numpy(),
        elements,
        reach=5.0,
        point_group=rows["design"].map(code).to_numpy(),
        element_group=elements.line,
    )
    assert np.abs(found.offset - rows["offset_deviation"]).max() < 1e-5
    assert np.abs(rows["elevation"] - found.elevation - rows["elevation_deviation"]).max() < 1e-4


def test_curb_and_walk_dip_at_ramps_and_join_the_ramp_corners():
    for ramp, side in (("CR-1", "L"), ("CR-2", "R"), ("CR-3", "L")):
        middle = next((each.first + each.last) / 2 for each in scenario.DEPRESSIONS if each.name == ramp)
        part = "1" if middle < 2210 else "2"
        back = float(lines()[f"WKB-{side}-{part}"].foot(middle).elevation)
        corners = [points()[f"{ramp} {number}"].elevation for number in ("7", "8")]
        assert back == pytest.approx(float(np.mean(corners)), abs=0.001)


@pytest.mark.parametrize("code", scenario.ZONES)
def test_each_zone_shifts_by_its_own_amount_when_the_foot_is_wrong(code):
    zone = scenario.zone_named(code)
    frame = resolve(code, scenario.VERTICAL)
    longitude, latitude = to_geographic(frame, [zone.easting], [zone.northing])
    metres = from_geographic(METRIC_TWIN[code], longitude, latitude)
    shift = site_facts(frame, zone)["survey_foot_shift"]
    for axis, coordinate in enumerate((zone.easting, zone.northing)):
        written_in_survey_feet = float(metres[axis][0]) / US_SURVEY_FOOT
        assert written_in_survey_feet - coordinate == pytest.approx(shift[axis], abs=0.002)


def test_the_combined_factor_of_the_main_site_is_that_of_the_scenario():
    # 0.99987061 was computed once with another program from the same inputs
    facts = site_facts(resolve("EPSG:6547"), scenario.ZONES["EPSG:6547"])
    assert facts["combined_factor"] == pytest.approx(0.99987061, abs=2e-8)


def test_an_unknown_zone_is_refused_with_the_known_ones():
    with pytest.raises(GeoqaError, match=r"no site in 'EPSG:2265'; it has one in each of EPSG:6547, EPSG:6559"):
        make(zone="EPSG:2265")
