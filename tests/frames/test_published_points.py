"""Projection, units and factors against values that others published."""

import numpy as np
import pytest

from geoqa.frames.systems.factors import combined_factor, convergence, scale_factor
from geoqa.frames.systems.geographic import from_geographic, to_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import FOOT, US_SURVEY_FOOT

# Source: GIGS tests 5103.2 and 5103.3, as kept in OSGeo/PROJ, test/gigs/5103.2.gie and 5103.3.gie
# (GIGS v2.0, 28 June 2011). Contents (c) IOGP, reproduced with permission to reproduce provided the copyright
# and source are acknowledged. Stated tolerance 0.03.
# Columns: longitude, latitude, EPSG:2921 easting and northing (ft), EPSG:3568 easting and northing (ftUS).
GIGS_5103 = [
    (-110, 49, 2003937.27, 6452491.70, 2003933.27, 6452478.80),
    (-110, 47, 2016621.93, 5717728.61, 2016617.90, 5717717.18),
    (-110, 41, 2054436.57, 3527302.73, 2054432.46, 3527295.67),
    (-108, 41, 2606245.52, 3543182.55, 2606240.30, 3543175.46),
    (-102, 41, 4257435.06, 3666924.89, 4257426.54, 3666917.56),
]

# Source: OSGeo/PROJ, test/cli/test_proj_nad83.yaml, whose header says that the values come from the NGS
# program l176; published in US survey feet. Columns: zone (EPSG, international foot), longitude west,
# latitude north (degrees, minutes, seconds), easting and northing in ftUS.
SPCS83 = [
    ("EPSG:2223", (111, 55, 0.0), (34, 45, 0.0), 699998.600, 1364309.666),
    ("EPSG:2223", (111, 55, 0.0), (32, 20, 0.0), 699998.600, 484994.340),
    ("EPSG:2222", (109, 34, 33.127), (31, 59, 53.103), 883142.524, 363539.663),
    ("EPSG:2253", (83, 29, 17.919), (42, 19, 19.299), 13360865.013, 300809.378),
    ("EPSG:2253", (83, 35, 24.656), (42, 20, 2.682), 13333276.507, 304929.978),
    ("EPSG:2253", (85, 45, 59.490), (41, 49, 22.346), 12741759.240, 120840.463),
    ("EPSG:2256", (106, 29, 11.521), (47, 52, 21.103), 2707564.623, 1334850.273),
    ("EPSG:2265", (98, 46, 3.232), (48, 8, 13.483), 2391470.474, 419526.909),
    ("EPSG:2270", (119, 46, 26.562), (44, 24, 25.943), 5110990.827, 999684.042),
    ("EPSG:2273", (80, 32, 30.0), (34, 32, 30.0), 2138015.480, 985710.127),
    ("EPSG:2273", (81, 0, 0.0), (34, 32, 30.0), 1999996.000, 985404.077),
    ("EPSG:2280", (111, 30, 0.0), (41, 30, 0.0), 1640416.667, 3705897.565),
    ("EPSG:2281", (111, 30, 0.0), (38, 40, 0.0), 1640416.667, 6683084.515),
    ("EPSG:2282", (109, 48, 37.967), (38, 29, 30.877), 2123972.902, 10511502.846),
]
FEET_APART = float(US_SURVEY_FOOT.metres / FOOT.metres)


def degrees(angle):
    return angle[0] + angle[1] / 60 + angle[2] / 3600


def michigan(row):
    """One of the Michigan South rows: longitude, latitude in degrees."""
    _, west, north, _, _ = SPCS83[row]
    return -degrees(west), degrees(north)


@pytest.mark.parametrize("row", GIGS_5103)
def test_utah_north_in_either_foot_gives_the_published_coordinates(row):
    longitude, latitude, *published = row
    for code, (east, north) in {"EPSG:2921": published[:2], "EPSG:3568": published[2:]}.items():
        easting, northing = from_geographic(resolve(code), [longitude], [latitude])
        assert easting[0] == pytest.approx(east, abs=0.03)
        assert northing[0] == pytest.approx(north, abs=0.03)


def test_the_two_utah_systems_are_in_different_feet():
    assert resolve("EPSG:2921").unit == FOOT
    assert resolve("EPSG:3568").unit == US_SURVEY_FOOT


@pytest.mark.parametrize(("code", "west", "north", "easting_ftus", "northing_ftus"), SPCS83)
def test_international_foot_zones_give_the_published_survey_feet(code, west, north, easting_ftus, northing_ftus):
    frame = resolve(code)
    assert frame.unit == FOOT
    easting, northing = from_geographic(frame, [-degrees(west)], [degrees(north)])
    # 0.001 ft of the published rounding and 0.001 ft of the database's false origins
    assert easting[0] == pytest.approx(easting_ftus * FEET_APART, abs=0.002)
    assert northing[0] == pytest.approx(northing_ftus * FEET_APART, abs=0.002)


@pytest.mark.parametrize(
    ("code", "easting", "northing"),
    [
        ("EPSG:6564", 407886.681, 76470.391),
        ("EPSG:6565", 1338208.220, 250886.607),
        # the international-foot values are checked from the metres: the database holds no such system
    ],
)
def test_pennsylvania_south_gives_the_published_sample(code, easting, northing):
    # Source: NGS conversion-service documentation, sample for zone 3702 (value seen in a copy).
    latitude, longitude = 39.9999983008, -79.9999976143
    frame = resolve(code)
    east, north = from_geographic(frame, [longitude], [latitude])
    assert east[0] == pytest.approx(easting, abs=0.0015)
    assert north[0] == pytest.approx(northing, abs=0.0015)
    assert convergence(frame, east, north)[0] == pytest.approx(-(1 + 27 / 60 + 35.22 / 3600), abs=0.01 / 3600)
    assert scale_factor(frame, east, north)[0] == pytest.approx(0.99999024, abs=6e-9)


def test_one_pennsylvania_point_in_international_feet():
    # Source: NGS conversion-service documentation, sample for zone 3702 (value seen in a copy).
    east, north = from_geographic("EPSG:6564", [-79.9999976143], [39.9999983008])
    assert east[0] / FOOT.metres_float == pytest.approx(1338210.896, abs=0.0015)
    assert north[0] / FOOT.metres_float == pytest.approx(250887.109, abs=0.0015)


def test_texas_south_central_gives_the_published_survey_feet():
    # Source: EPSG Guidance Note 7-2, example of Lambert Conic Conformal (2SP): 28°30'N, 96°00'W.
    east, north = from_geographic("EPSG:32040", [-96.0], [28.5])
    assert east[0] == pytest.approx(2963503.91, abs=0.005)
    assert north[0] == pytest.approx(254759.80, abs=0.005)


def test_the_british_grid_example_is_reproduced():
    # Source: EPSG Guidance Note 7-2, example of Transverse Mercator: 50°30'N, 0°30'E
    # (value from memory, arithmetic recomputed).
    east, north = from_geographic("EPSG:27700", [0.5], [50.5])
    assert east[0] == pytest.approx(577274.99, abs=0.01)
    assert north[0] == pytest.approx(69740.50, abs=0.01)


def test_a_position_read_in_the_wrong_foot_is_off_by_feet_and_not_by_scale():
    # Derived from the published Michigan South row above: 2 parts in a million of its coordinates.
    longitude, latitude = michigan(3)
    easting, northing = from_geographic("EPSG:2253", [longitude], [latitude])
    shift = np.array([easting[0], northing[0]]) * (FEET_APART - 1.0)
    assert shift == pytest.approx([26.7218, 0.6016], abs=0.002)
    assert pytest.approx(2.000004e-6, abs=1e-12) == FEET_APART - 1.0


def test_grid_distance_is_the_mean_scale_times_the_distance_on_the_ellipsoid():
    # Two published Michigan South points; the geodesic (GRS 80) comes from another algorithm than the projection.
    import pyproj

    longitudes, latitudes = zip(michigan(3), michigan(4), strict=True)
    easting, northing = from_geographic("EPSG:2253", longitudes, latitudes)
    grid = np.hypot(*np.diff([easting, northing], axis=1))[0]
    _, _, geodesic = pyproj.Geod(ellps="GRS80").inv(longitudes[0], latitudes[0], longitudes[1], latitudes[1])
    assert grid == pytest.approx(27894.590, abs=0.001)
    assert geodesic == pytest.approx(8502.6637, abs=0.0001)
    middle = scale_factor("EPSG:2253", [easting.mean()], [northing.mean()])[0]
    ends = scale_factor("EPSG:2253", easting, northing)
    simpson = (ends[0] + 4 * middle + ends[1]) / 6
    assert simpson == pytest.approx(grid * FOOT.metres_float / geodesic, abs=5e-8)


def test_the_combined_factor_takes_the_height_above_the_ellipsoid():
    # Derived from the published Michigan South row: k and R of that point, h = 180 m.
    longitude, latitude = michigan(3)
    frame = resolve("EPSG:2253")
    easting, northing = from_geographic(frame, [longitude], [latitude])
    assert scale_factor(frame, easting, northing)[0] == pytest.approx(0.99995483, abs=1e-8)
    assert convergence(frame, easting, northing)[0] == pytest.approx(0.5977468, abs=1e-7)
    height = 180.0 / FOOT.metres_float
    assert combined_factor(frame, easting, northing, [height])[0] == pytest.approx(0.99992660, abs=2e-8)


@pytest.mark.parametrize("code", ["EPSG:6547", "EPSG:6559", "EPSG:6405", "EPSG:6499", "EPSG:6565"])
def test_there_and_back_gives_the_same_position(code):
    frame = resolve(code)
    longitude, latitude = {
        "EPSG:6547": (-99.46, 46.885),
        "EPSG:6559": (-122.9, 45.4),
        "EPSG:6405": (-112.4, 33.9),
        "EPSG:6499": (-84.46, 42.58),
        "EPSG:6565": (-77.0, 40.0),
    }[code]
    easting, northing = from_geographic(frame, [longitude], [latitude])
    back = to_geographic(frame, easting, northing)
    assert back[0][0] == pytest.approx(longitude, abs=1e-11)
    assert back[1][0] == pytest.approx(latitude, abs=1e-11)
