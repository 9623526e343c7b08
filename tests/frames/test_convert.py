import numpy as np
import pandas as pd
import pyproj
import pytest
import shapely

from geoqa.errors import FrameError
from geoqa.frames.moving.convert import convert
from geoqa.frames.moving.geoid import open_geoid
from geoqa.frames.moving.operations import pick
from geoqa.frames.systems import engine
from geoqa.frames.systems.factors import convergence
from geoqa.frames.systems.geographic import from_geographic, to_geographic
from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT
from geoqa.model.source import Source

FEET = resolve("EPSG:6547+8228")
EAST, NORTH = (float(each[0]) for each in from_geographic("EPSG:6547", [-99.46], [46.885]))


def shots(easting=EAST, northing=NORTH, elevation=1460.0, **more):
    return pd.DataFrame(
        {
            "shot": ["101", "102", "103"],
            "easting": [easting, easting + 10.0, np.nan],
            "northing": [northing, northing + 20.0, northing],
            "elevation": [elevation, np.nan, elevation],
            **more,
        }
    )


def source(table=None, **more):
    return Source(layers={"shots": shots() if table is None else table}, **more)


def said(evidence):
    return " | ".join(map(str, evidence))


def curve(unit=1.0):
    """A straight of 100 and an arc of radius 50, quarter turn to the right, in a unit of `unit` ft."""
    east, north = EAST / unit, NORTH / unit
    hundred, fifty = 100.0 / unit, 50.0 / unit
    return pd.DataFrame(
        {
            "line": ["CTB-L", "CTB-L"],
            "sequence": [0, 1],
            "shape": ["line", "arc"],
            "start_easting": [east, east],
            "start_northing": [north, north + hundred],
            "end_easting": [east, east + fifty],
            "end_northing": [north + hundred, north + hundred + fifty],
            "centre_easting": [np.nan, east + fifty],
            "centre_northing": [np.nan, north + hundred],
            "radius": [np.nan, fifty],
            "sense": [0, 1],
            "start_station": [1000.0 / unit, 1100.0 / unit],
            "length": [hundred, fifty * np.pi / 2],
            "start_elevation": [1460.0 / unit, np.nan],
            "end_elevation": [1461.0 / unit, np.nan],
        }
    )


def test_a_file_that_says_nothing_is_taken_to_be_in_the_jobs_frame_and_that_is_told():
    layers, evidence = convert(source(), frame=FEET, what="day1.csv")
    pd.testing.assert_frame_equal(layers["shots"], shots(), check_exact=True)
    assert "coordinate system: assumed: the job's frame" in said(evidence)


def test_a_declared_frame_is_not_called_assumed():
    _, evidence = convert(source(), frame=FEET, declared="EPSG:6547+8228")
    assert evidence == ()


def test_metres_of_the_same_projection_are_scaled_exactly():
    table = shots(EAST * 0.3048, NORTH * 0.3048, 1460.0 * 0.3048, reported_h=0.01, reported_v=0.02, rod_height=2.0)
    layers, evidence = convert(source(table), frame=FEET, unit=METRE)
    got = layers["shots"]
    assert got["easting"].iloc[0] == pytest.approx(EAST, abs=1e-8)
    assert got["elevation"].iloc[0] == pytest.approx(1460.0, abs=1e-9)
    assert got["reported_h"].iloc[0] == pytest.approx(0.01 / 0.3048)
    assert got["rod_height"].iloc[0] == pytest.approx(2.0 / 0.3048)
    assert "m to ft, times 1250/381" in said(evidence)
    assert table["easting"].iloc[0] == EAST * 0.3048  # the reader's table is left alone


def test_what_is_missing_stays_missing():
    layers, _ = convert(source(), frame=FEET, unit=US_SURVEY_FOOT)
    assert layers["shots"]["easting"].isna().tolist() == [False, False, True]
    assert layers["shots"]["elevation"].isna().tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("file", "job", "place"),
    [
        ("EPSG:6498", "EPSG:6499", (-84.46, 42.58)),
        ("EPSG:6546", "EPSG:6547", (-99.46, 46.885)),
        ("EPSG:6558", "EPSG:6559", (-122.9, 45.4)),
        ("EPSG:6404", "EPSG:6405", (-112.4, 33.9)),
        ("EPSG:2921", "EPSG:3568", (-111.5, 41.5)),
        ("EPSG:6564", "EPSG:6565", (-77.0, 40.0)),
    ],
)
def test_our_scale_agrees_with_the_coordinate_engine(file, job, place):
    easting, northing = from_geographic(file, [place[0]], [place[1]])
    frame = resolve(job)
    layers, _ = convert(source(shots(easting[0], northing[0], np.nan)), frame=frame, declared=file)
    east, north = pick(file, job, what="rival").apply(easting, northing, what="rival")
    assert layers["shots"]["easting"].iloc[0] == pytest.approx(east[0], abs=1e-6)
    assert layers["shots"]["northing"].iloc[0] == pytest.approx(north[0], abs=1e-6)


def test_our_heights_agree_with_the_coordinate_engine():
    east, north = from_geographic("EPSG:6546", [-99.46], [46.885])
    layers, _ = convert(source(shots(east[0], north[0], 445.0)), frame=FEET, declared="EPSG:6546+5703")
    rival = pick("EPSG:6546+5703", "EPSG:6547+8228", what="rival").transformer
    assert layers["shots"]["elevation"].iloc[0] == pytest.approx(rival.transform(east[0], north[0], 445.0)[2], abs=1e-9)


def test_elevations_of_a_two_dimensional_system_are_scaled_too():
    # the coordinate engine, asked for all three at once, lets these heights through unscaled
    east, north = from_geographic("EPSG:6546", [-99.46], [46.885])
    rival = engine.library().Transformer.from_crs("EPSG:6546", "EPSG:6547+8228", always_xy=True)
    assert rival.transform(east[0], north[0], 445.0)[2] == 445.0
    layers, evidence = convert(source(shots(east[0], north[0], 445.0)), frame=FEET, declared="EPSG:6546")
    assert layers["shots"]["elevation"].iloc[0] == pytest.approx(445.0 / 0.3048, abs=1e-9)
    assert "unit of elevations: assumed: metre" in said(evidence)


@pytest.mark.parametrize("vertical", ["ft", FOOT, "EPSG:8228"])
def test_a_declared_unit_of_elevations_stands_beside_metric_positions(vertical):
    east, north = from_geographic("EPSG:6546", [-99.46], [46.885])
    table = shots(east[0], north[0], 1460.0, reported_h=0.01, reported_v=0.02)
    layers, evidence = convert(source(table), frame=FEET, declared="EPSG:6546", vertical=vertical)
    assert layers["shots"]["elevation"].iloc[0] == 1460.0
    assert layers["shots"]["reported_v"].iloc[0] == 0.02
    assert layers["shots"]["reported_h"].iloc[0] == pytest.approx(0.01 / 0.3048)
    assert "elevations" not in said(evidence)


def test_a_word_that_is_no_unit_of_elevations_is_refused():
    with pytest.raises(FrameError, match=r"vertical 'feet' is neither a unit \(m, ft, ftUS.* State one"):
        convert(source(), frame=FEET, vertical="feet")


def test_feet_in_a_file_whose_header_says_metres_are_named_as_one_possible_cause():
    with pytest.raises(FrameError, match=r"feet taken for metres \(2 of 2 would lie inside\)"):
        convert(source(unit=METRE), frame=FEET)


def test_elevations_of_a_frame_with_two_feet_are_scaled_at_the_door():
    layers, evidence = convert(source(), frame=resolve("EPSG:6547", "EPSG:6360"))
    assert layers["shots"]["elevation"].iloc[0] == pytest.approx(1460.0 * 1.000002000004, abs=1e-9)
    assert layers["shots"]["easting"].iloc[0] == EAST
    assert "the job's vertical system is in it" in said(evidence)


def test_the_wrong_foot_is_a_conflict_that_says_how_far_it_is():
    wkt = engine.crs("EPSG:6547").to_wkt().replace('"foot",0.3048', '"US survey foot",0.304800609601219')
    with pytest.raises(FrameError, match=r"day1.csv: unit conflict: the file says US survey foot, the job says int.*"):
        convert(source(crs=wkt), frame=FEET, unit=FOOT, what="day1.csv")


def test_a_conflict_of_feet_names_the_feet_between_the_two_readings():
    # Derived: 2 parts in a million of the site's coordinates, 4.46 ft east and 0.89 ft north.
    with pytest.raises(FrameError, match=r"lie 4\.4\d ft east, 0\.\d\d ft north apart.*accept = true"):
        convert(source(unit=US_SURVEY_FOOT), frame=FEET, unit=FOOT)


def test_an_accepted_conflict_takes_the_jobs_word_and_is_told():
    layers, evidence = convert(source(unit=US_SURVEY_FOOT), frame=FEET, unit=FOOT, accept=True)
    assert layers["shots"]["easting"].iloc[0] == EAST
    assert "the file says US survey foot" in said(evidence)
    assert "accepted in the job file" in said(evidence)


def test_the_files_own_unit_is_taken_when_the_job_is_silent():
    layers, evidence = convert(source(unit=US_SURVEY_FOOT), frame=FEET)
    assert layers["shots"]["easting"].iloc[0] == pytest.approx(EAST * 1.000002000004, abs=1e-7)
    assert "unit: US survey foot (the file's own header says so)" in said(evidence)


def test_a_header_that_contradicts_the_files_own_system_needs_the_jobs_word():
    with pytest.raises(FrameError, match="unit conflict inside the file: its header says metre"):
        convert(source(crs="EPSG:6547", unit=METRE), frame=FEET)
    layers, evidence = convert(source(crs="EPSG:6547", unit=METRE), frame=FEET, unit=FOOT, accept=True)
    assert layers["shots"]["easting"].iloc[0] == EAST
    assert "accepted" in said(evidence)


def test_a_file_in_another_system_than_the_job_declares_is_a_conflict():
    with pytest.raises(FrameError, match=r"coordinate system conflict: the file says .*North.*the job says .*South"):
        convert(source(crs="EPSG:6545"), frame=FEET, declared="EPSG:6547")
    layers, evidence = convert(source(crs="EPSG:6545"), frame=FEET, declared="EPSG:6547", accept=True)
    assert layers["shots"]["easting"].iloc[0] == EAST
    assert "accepted in the job file" in said(evidence)


def test_a_system_that_cannot_be_read_is_told_when_the_job_declares_one():
    _, evidence = convert(source(crs="PROJCS[broken"), frame=FEET, declared="EPSG:6547")
    assert "cannot be read" in said(evidence)
    with pytest.raises(FrameError, match="declare its frame in the job"):
        convert(source(crs="PROJCS[broken"), frame=FEET)


def test_degrees_are_refused():
    with pytest.raises(FrameError, match="need a projected system"):
        convert(source(shots(-99.46, 46.885)), frame=FEET, declared="EPSG:6318")
    with pytest.raises(FrameError, match=r"file's own coordinate system 'EPSG:4326'.*declare its frame"):
        convert(source(crs="EPSG:4326"), frame=FEET)


def test_degrees_that_nobody_declared_fall_outside_the_area_of_use():
    with pytest.raises(FrameError, match="outside the area of use"):
        convert(source(shots(-99.46, 46.885)), frame=resolve("EPSG:6405"))


def test_another_vertical_datum_is_refused():
    with pytest.raises(FrameError, match=r"NGVD29 height \(ftUS\), the job's in NAVD88.*different vertical datums"):
        convert(source(), frame=FEET, declared="EPSG:6547", vertical="EPSG:5702")


def test_a_vertical_system_in_the_file_that_the_job_contradicts_is_a_conflict():
    both = engine.crs("EPSG:6547+8228").to_wkt()
    with pytest.raises(FrameError, match=r"vertical system conflict: the file says NAVD88 height \(ft\), the job says"):
        convert(source(crs=both), frame=FEET, vertical="EPSG:6360")


def test_another_zone_of_the_same_datum_is_moved_by_a_named_operation():
    east, north = from_geographic("EPSG:6545", [-99.46], [46.885])
    table = shots(east[0], north[0], 1460.0, tilt_azimuth=[10.0, 359.9999, np.nan])
    layers, evidence = convert(source(table), frame=FEET, declared="EPSG:6545", vertical="EPSG:8228")
    got = layers["shots"]
    assert got["easting"].iloc[0] == pytest.approx(EAST, abs=1e-5)
    assert got["northing"].iloc[0] == pytest.approx(NORTH, abs=1e-5)
    assert "stated accuracy 0 m" in said(evidence)
    # an azimuth from the file's grid north is the same direction from the job's grid north
    turn = (convergence("EPSG:6545", east, north) - convergence(FEET, [EAST], [NORTH]))[0]
    assert got["tilt_azimuth"].iloc[0] == pytest.approx((10.0 + turn) % 360)
    assert 0 <= got["tilt_azimuth"].iloc[1] < 360
    assert np.isnan(got["tilt_azimuth"].iloc[2])


def test_the_turn_of_azimuths_between_zones_keeps_the_direction_on_the_ground():
    east, north = from_geographic("EPSG:6545", [-99.46], [46.885])
    azimuth, reach = 40.0, 100.0
    tip = (east[0] + reach * np.sin(np.radians(azimuth)), north[0] + reach * np.cos(np.radians(azimuth)))
    ends = pd.DataFrame(
        {
            "easting": [east[0], tip[0]],
            "northing": [north[0], tip[1]],
            "elevation": [0.0, 0.0],
            "tilt_azimuth": [azimuth, azimuth],
        }
    )
    got = convert(source(ends), frame=FEET, declared="EPSG:6545", vertical="ft")[0]["shots"]
    along = np.degrees(np.arctan2(np.diff(got["easting"])[0], np.diff(got["northing"])[0]))
    assert got["tilt_azimuth"].iloc[0] == pytest.approx(along, abs=1e-4)


def test_another_datum_without_its_grids_is_refused_by_name():
    with pytest.raises(FrameError, match=r"shots.csv: from NAD83 / North Dakota South .*us_noaa_nadcon5"):
        convert(source(), frame=FEET, declared="EPSG:2266", what="shots.csv")


def test_most_of_a_file_outside_the_area_is_the_files_fault():
    with pytest.raises(FrameError, match="2 of 2 positions lie outside"):
        convert(source(shots(NORTH, EAST)), frame=FEET)


def test_one_wild_shot_is_told_and_the_rest_goes_on():
    table = pd.concat([shots(), shots(), shots(1.0, 1.0).head(1)], ignore_index=True)
    layers, evidence = convert(source(table), frame=FEET)
    assert len(layers["shots"]) == 7
    assert "positions outside the area of use: 1" in said(evidence)


def test_arcs_stay_arcs_under_a_change_of_unit():
    scale = 1 / 0.3048
    layers, _ = convert(Source(layers={"design_elements": curve(scale)}), frame=FEET, unit=METRE, vertical="m")
    expected = curve()
    for column in expected.select_dtypes("float64"):
        assert layers["design_elements"][column].to_numpy() == pytest.approx(
            expected[column].to_numpy(), abs=1e-6, nan_ok=True
        )
    arc = layers["design_elements"].iloc[1]
    end = np.hypot(arc["end_easting"] - arc["centre_easting"], arc["end_northing"] - arc["centre_northing"])
    assert end == pytest.approx(arc["radius"], abs=1e-6)


def test_arcs_are_refused_where_they_would_not_stay_arcs():
    with pytest.raises(FrameError, match=r"1 arcs \(the first on line 'CTB-L'\) would not stay arcs"):
        convert(Source(layers={"design_elements": curve()}), frame=FEET, declared="EPSG:6545")


def test_straights_of_another_zone_keep_lengths_true_to_their_ends():
    east, north = from_geographic("EPSG:6545", [-99.46], [46.885])
    straight = curve().head(1)
    two = pd.concat([straight, straight], ignore_index=True).assign(sequence=[0, 1], start_station=[1000.0, 1100.0])
    for name in ("start", "end"):
        two[f"{name}_easting"] += east[0] - EAST
        two[f"{name}_northing"] += north[0] - NORTH + np.array([0.0, 100.0])
    got = convert(Source(layers={"design_elements": two}), frame=FEET, declared="EPSG:6545", vertical="ft")[0]
    elements = got["design_elements"]
    reach = np.hypot(
        elements["end_easting"] - elements["start_easting"], elements["end_northing"] - elements["start_northing"]
    )
    assert elements["length"].to_numpy() == pytest.approx(reach.to_numpy())
    assert elements["start_station"].tolist() == pytest.approx([1000.0, 1000.0 + reach[0]])
    assert reach[0] != pytest.approx(100.0, abs=1e-4)


def test_shapes_for_drawing_are_moved_with_the_rest():
    lines = pd.DataFrame(
        {
            "line": ["CTB-L", "none"],
            "geometry": [shapely.LineString([(679000.0, 135000.0, 440.0), (679010.0, 135000.0, 440.0)]), None],
        }
    )
    layers, _ = convert(Source(layers={"design_lines": lines}), frame=FEET, unit=METRE)
    first, second = layers["design_lines"]["geometry"]
    assert not first.has_z
    assert first.coords[1] == pytest.approx((679010.0 / 0.3048, 135000.0 / 0.3048))
    assert second is None


def test_tables_without_positions_pass_untouched():
    codes = pd.DataFrame({"code": ["CTB"], "kind": ["curb-top"]})
    layers, evidence = convert(Source(layers={"codes": codes}), frame=FEET)
    assert layers["codes"] is codes
    assert evidence == ()


def test_ground_coordinates_are_brought_to_the_grid_about_their_origin():
    frame = resolve("EPSG:6547", combined_factor=0.9998, ground_origin=(EAST, NORTH))
    layers, evidence = convert(Source(layers={"design_elements": curve(), "shots": shots()}), frame=frame, ground=True)
    assert layers["shots"]["easting"].iloc[1] == pytest.approx(EAST + 9.998)
    elements = layers["design_elements"]
    assert elements["length"].iloc[0] == pytest.approx(99.98)
    assert elements["radius"].iloc[1] == pytest.approx(49.99)
    assert elements["start_station"].tolist() == pytest.approx([1000.0, 1099.98])
    assert elements["end_northing"].iloc[0] - NORTH == pytest.approx(99.98)
    assert "stations run on the grid" in said(evidence)


def test_ground_without_a_factor_is_refused():
    with pytest.raises(FrameError, match="ground coordinates need combined_factor"):
        convert(source(), frame=FEET, ground=True)


@pytest.fixture
def geoid(tmp_path):
    import struct

    path = tmp_path / "flat.gtx"
    path.write_bytes(struct.pack(">4d2i", 46.0, -100.0, 0.5, 0.5, 4, 4) + np.full(16, -25.0, ">f4").tobytes())
    return open_geoid(path, "flat", check=(46.885, -99.46, -25.0))


def test_ellipsoid_heights_become_elevations_through_the_grid(geoid):
    layers, evidence = convert(source(), frame=FEET, heights="ellipsoid", geoid=geoid)
    assert layers["shots"]["elevation"].iloc[0] == pytest.approx(1460.0 + 25.0 / 0.3048, abs=1e-4)
    assert layers["shots"]["elevation"].isna().tolist() == [False, True, True]
    assert "geoid grid: flat" in said(evidence)


def test_metric_ellipsoid_heights_are_scaled_before_the_separation_is_taken(geoid):
    layers, _ = convert(source(shots(elevation=445.0)), frame=FEET, heights="ellipsoid", geoid=geoid, vertical=METRE)
    assert layers["shots"]["elevation"].iloc[0] == pytest.approx(470.0 / 0.3048, abs=1e-4)


def test_ellipsoid_heights_without_a_grid_are_refused():
    with pytest.raises(FrameError, match="ellipsoid heights need a geoid grid"):
        convert(source(), frame=FEET, heights="ellipsoid")


def test_ellipsoid_heights_in_a_named_vertical_system_are_a_contradiction(geoid):
    with pytest.raises(FrameError, match=r"they are either elevations in that system or ellipsoid heights"):
        convert(source(), frame=FEET, heights="ellipsoid", geoid=geoid, vertical="EPSG:8228")


def test_a_grid_of_another_name_than_the_jobs_geoid_is_refused(geoid):
    with pytest.raises(FrameError, match="the job's geoid is 'hilly', and the grid is 'flat'"):
        convert(source(), frame=resolve("EPSG:6547", geoid_name="hilly"), heights="ellipsoid", geoid=geoid)


def test_moved_positions_lie_where_they_lay():
    east, north = from_geographic("EPSG:6345", [-99.46], [46.885])
    layers, _ = convert(source(shots(east[0], north[0])), frame=FEET, declared="EPSG:6345", vertical="ft")
    longitude, latitude = to_geographic(FEET, layers["shots"]["easting"], layers["shots"]["northing"])
    assert (longitude[0], latitude[0]) == (pytest.approx(-99.46, abs=1e-10), pytest.approx(46.885, abs=1e-10))


def test_ellipsoid_heights_on_another_datum_are_refused_even_where_positions_may_be_moved(geoid):
    east, north = from_geographic("EPSG:32614", [-99.46], [46.885])
    table = shots(east[0], north[0], 420.0)
    moved, _ = convert(source(table), frame=FEET, declared="EPSG:32614", vertical="m", accuracy_limit=None)
    assert moved["shots"]["easting"].iloc[0] == pytest.approx(EAST, abs=0.001)
    with pytest.raises(FrameError, match="ellipsoid heights stand on the datum of the file"):
        convert(
            source(table),
            frame=FEET,
            declared="EPSG:32614",
            vertical="m",
            accuracy_limit=None,
            heights="ellipsoid",
            geoid=geoid,
        )
    with pytest.raises(FrameError, match=r"good to 2 m, and the job allows 0\.05 m"):
        convert(source(table), frame=FEET, declared="EPSG:32614", vertical="m")


def test_a_file_in_a_global_frame_is_moved_by_the_epoch_of_its_coordinates():
    # a projected system on ITRF2020 with the parameters of the job's zone: same numbers, other frame
    plan = pyproj.CRS.from_wkt(FEET.horizontal_wkt)
    there = pyproj.crs.ProjectedCRS(
        conversion=plan.coordinate_operation,
        name="site in ITRF2020",
        geodetic_crs=pyproj.CRS("EPSG:9990"),
        cartesian_cs=plan.coordinate_system,
    ).to_wkt()
    with pytest.raises(FrameError, match="give the epoch"):
        convert(Source(layers={"shots": shots()}), frame=FEET, declared=there)
    when = {
        year: convert(Source(layers={"shots": shots()}), frame=FEET, declared=there, epoch=year)[0]["shots"]
        for year in (2010.0, 2026.9)
    }
    moved = [float(when[2026.9][axis].iloc[0] - shots()[axis].iloc[0]) for axis in ("easting", "northing")]
    # shown in ITRF at 2026.9 a place here lies 4.29 ft west and 2.34 ft north of itself; from the site's arithmetic
    assert moved == pytest.approx([4.29, -2.34], abs=0.05)
    assert abs(float(when[2026.9]["easting"].iloc[0] - when[2010.0]["easting"].iloc[0])) > 0.5
