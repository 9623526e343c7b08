import subprocess
import sys
import threading
from fractions import Fraction

import pytest

from geoqa.errors import FrameError
from geoqa.frames.systems import engine
from geoqa.frames.systems.projection import same_datum, same_projection
from geoqa.frames.systems.resolve import frame_evidence, frame_wkt, resolve
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT


@pytest.mark.parametrize(
    ("code", "unit"),
    [
        ("EPSG:6547", FOOT),
        ("EPSG:6559", FOOT),
        ("EPSG:6405", FOOT),
        ("EPSG:6499", FOOT),
        ("EPSG:6498", METRE),
        ("EPSG:6565", US_SURVEY_FOOT),
        ("EPSG:3568", US_SURVEY_FOOT),
    ],
)
def test_the_unit_comes_from_the_systems_own_factor(code, unit):
    assert resolve(code).unit == unit


def test_a_name_that_lies_about_its_foot_is_not_believed():
    wkt = engine.crs("EPSG:6565").to_wkt().replace("(ftUS)", "(ft)").replace('"US survey foot"', '"foot"')
    frame = resolve(wkt)
    assert "(ft)" in frame.horizontal_name
    assert frame.unit == US_SURVEY_FOOT
    assert frame.unit.metres == Fraction(1200, 3937)


def test_a_compound_code_says_both_systems():
    frame = resolve("EPSG:6547+8228", realization="NAD83(2011)", epoch=2010.0, geoid_name="model A")
    assert (frame.horizontal, frame.vertical) == ("EPSG:6547", "EPSG:8228")
    assert frame.vertical_name == "NAVD88 height (ft)"
    assert frame.vertical_unit == FOOT
    assert frame.describe() == (
        "NAD83(2011) / North Dakota South (ft) (EPSG:6547), international foot, NAVD88 height (ft) (EPSG:8228), "
        "geoid model A, NAD83(2011), epoch 2010.00"
    )
    assert frame == resolve("EPSG:6547", "EPSG:8228", realization="NAD83(2011)", epoch=2010.0, geoid_name="model A")


@pytest.mark.parametrize("version", ["WKT1_GDAL", "WKT1_ESRI", "WKT2_2019"])
def test_a_definition_keeps_the_code_it_is_equal_to(version):
    frame = resolve(engine.crs("EPSG:6499").to_wkt(version))
    assert frame.horizontal == "EPSG:6499"
    assert frame.unit == FOOT


def test_a_definition_with_another_parameter_does_not_keep_the_code():
    wkt = engine.crs("EPSG:6499").to_wkt().replace("13123359.58", "13123000")
    assert resolve(wkt).horizontal == "WKT"


def test_projjson_is_read():
    assert resolve(engine.crs("EPSG:6547").to_json()).horizontal == "EPSG:6547"


def test_shift_parameters_in_a_definition_are_dropped():
    text = engine.crs("EPSG:2253").to_wkt("WKT1_GDAL")
    bound = text.replace('AUTHORITY["EPSG","6269"]', 'TOWGS84[1,2,3,0,0,0,0],AUTHORITY["EPSG","6269"]')
    assert engine.crs(bound).is_bound
    frame = resolve(bound)
    assert "TOWGS84" not in frame.horizontal_wkt
    assert "ABRIDGED" not in frame.horizontal_wkt
    assert same_projection(frame, "EPSG:2253")


def test_degrees_are_refused_and_the_message_says_what_to_name():
    with pytest.raises(FrameError, match=r"EPSG:6318' is .*geographic.*need a projected system.*Name the zone"):
        resolve("EPSG:6318")


def test_a_grid_of_the_site_without_a_projection_is_refused_and_told_how_it_is_stated():
    site = (
        'ENGCRS["Site grid",EDATUM["Site"],CS[Cartesian,2],AXIS["easting",east],AXIS["northing",north],'
        'LENGTHUNIT["metre",1]]'
    )
    with pytest.raises(FrameError, match=r"is Site grid, an engineering system; .*PROJCRS in WKT"):
        resolve(site)


def test_an_unknown_code_names_the_code_it_is_close_to():
    with pytest.raises(FrameError, match=r"EPSG:64999' is not in .*Did you mean EPSG:6499 \(NAD83\(2011\) / Michigan"):
        resolve("EPSG:64999")


def test_a_name_is_not_accepted_but_its_code_is_offered():
    with pytest.raises(FrameError, match=r"neither a code .* Did you mean EPSG:6547 \("):
        resolve("NAD83(2011) / North Dakota South (ft)")


def test_a_bare_number_is_not_accepted_but_its_code_is_offered():
    with pytest.raises(FrameError, match="Did you mean EPSG:6499"):
        resolve("6499")


def test_a_vertical_system_in_the_wrong_place_is_refused():
    with pytest.raises(FrameError, match=r"vertical 'EPSG:6499' is .*a projected system; name a vertical system"):
        resolve("EPSG:6499", "EPSG:6499")
    with pytest.raises(FrameError, match="need a projected system"):
        resolve("EPSG:8228")


def test_a_depth_is_refused():
    with pytest.raises(FrameError, match="is a depth; elevations must grow upwards"):
        resolve("EPSG:6547", "EPSG:5715")


def test_two_vertical_systems_are_one_too_many():
    with pytest.raises(FrameError, match="already holds the vertical system 'NAVD88"):
        resolve("EPSG:6547+8228", "EPSG:5703")


def test_axes_that_do_not_point_east_and_north_are_refused():
    with pytest.raises(FrameError, match="axes towards south and west"):
        resolve("EPSG:5513")


def test_a_unit_that_is_no_foot_or_metre_is_refused():
    with pytest.raises(FrameError, match=r"Trinidad.*cannot be used; allowed are the international foot"):
        resolve("EPSG:2314")


def test_a_combined_factor_without_its_origin_is_refused():
    with pytest.raises(FrameError, match="combined_factor is given without ground_origin"):
        resolve("EPSG:6547", combined_factor=0.99987)
    with pytest.raises(FrameError, match="ground_origin is given without combined_factor"):
        resolve("EPSG:6547", ground_origin=(2228000.0, 444000.0))


@pytest.mark.parametrize("factor", [-129.4, 0.9, 1.1, float("nan")])
def test_a_combined_factor_that_cannot_be_one_is_refused(factor):
    with pytest.raises(FrameError, match="not plausible"):
        resolve("EPSG:6547", combined_factor=factor, ground_origin=(2228000.0, 444000.0))


def test_an_epoch_that_is_no_year_is_refused():
    with pytest.raises(FrameError, match="not a decimal year"):
        resolve("EPSG:6547", epoch=20260101)


def test_two_feet_in_one_frame_are_said_loudly():
    said = {each.what: str(each) for each in frame_evidence(resolve("EPSG:6547", "EPSG:6360"))}
    assert "horizontal in ft, vertical system in ftUS" in said["TWO KINDS OF FOOT IN ONE FRAME"]


def test_the_database_and_the_unit_are_evidence():
    said = [str(each) for each in frame_evidence(resolve("EPSG:6547"))]
    assert any("international foot" in each and "0.3048" in each for each in said)
    assert any(engine.database() in each and "network off" in each for each in said)
    assert any("vertical datum: not stated" in each for each in said)


@pytest.mark.parametrize("variable", engine.FOREIGN_DATA)
def test_a_foreign_database_in_the_environment_is_said(monkeypatch, variable):
    monkeypatch.setenv(variable, "somewhere")
    said = [str(each) for each in frame_evidence(resolve("EPSG:6547"))]
    assert any(f"environment variable {variable} is set" in each for each in said)


def test_a_withdrawn_system_is_said():
    said = [str(each) for each in frame_evidence(resolve("EPSG:2037"))]
    assert any("withdrawn coordinate system: NAD83(CSRS98) / UTM zone 19N" in each for each in said)
    assert not any("withdrawn" in str(each) for each in frame_evidence(resolve("EPSG:6547+8228")))


def test_a_ground_origin_off_the_zone_is_refused():
    with pytest.raises(FrameError, match=r"\[frame\] ground_origin: 1 of 1 .*easting and northing swapped"):
        resolve("EPSG:6547", combined_factor=0.99987, ground_origin=(444000.0, 2228000.0))


def test_the_coordinate_library_is_not_imported_before_it_is_asked():
    code = (
        "import sys, geoqa.frames.moving.convert, geoqa.frames.moving.lonlat, geoqa.frames.systems.resolve; "
        "print(sorted({'pyproj', 'pandas', 'geopandas', 'shapely'} & set(sys.modules)))"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert answer.stdout.strip() == "[]"


def test_the_network_stays_off_in_every_thread():
    answers = []

    def ask():
        answers.append(engine.library().network.is_network_enabled())

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join()
    ask()
    assert answers == [False, False]


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("EPSG:6498", "EPSG:6499"),
        ("EPSG:6546", "EPSG:6547"),
        ("EPSG:6558", "EPSG:6559"),
        ("EPSG:6404", "EPSG:6405"),
        ("EPSG:2921", "EPSG:3568"),
        ("EPSG:6564", "EPSG:6565"),
    ],
)
def test_one_projection_in_two_units_is_recognised(first, second):
    assert same_projection(first, second)


@pytest.mark.parametrize(
    ("first", "second"),
    [("EPSG:2253", "EPSG:6499"), ("EPSG:2898", "EPSG:6499"), ("EPSG:6545", "EPSG:6547"), ("EPSG:6497", "EPSG:6498")],
)
def test_another_datum_or_zone_is_another_projection(first, second):
    assert not same_projection(first, second)


def test_two_zones_of_one_realization_share_their_datum():
    assert same_datum("EPSG:6547", "EPSG:6559")
    assert not same_datum("EPSG:2253", "EPSG:2898")


def test_the_written_definition_gives_the_same_frame_again():
    frame = resolve("EPSG:6547+8228")
    again = resolve(frame_wkt(frame))
    assert (again.horizontal, again.vertical, again.unit) == ("EPSG:6547", "EPSG:8228", FOOT)
    assert frame_wkt(resolve("EPSG:6547")) == resolve("EPSG:6547").horizontal_wkt


@pytest.mark.parametrize(
    ("said", "horizontal"),
    [("NAD83(HARN)", "EPSG:6547"), ("NAD83(NSRS2007)", "EPSG:6547"), ("ITRF2020", "EPSG:6547")],
)
def test_words_that_name_another_realization_than_the_system_are_refused(said, horizontal):
    with pytest.raises(FrameError, match="two realizations"):
        resolve(horizontal, realization=said)


def test_words_that_name_the_same_realization_or_none_are_taken():
    for said in ("NAD83(2011)", "NAD 83 (2011) epoch 2010.00", "as the correction service"):
        assert resolve("EPSG:6547", realization=said).realization == said


def test_a_realization_that_the_system_does_not_name_is_told():
    frame = resolve("EPSG:2266", realization="NAD83(2011)")
    assert any(each.what == "realization" for each in frame_evidence(frame))


def test_the_projection_of_web_maps_is_no_frame_for_a_survey():
    with pytest.raises(FrameError, match=r"Pseudo-Mercator, made for web maps.*one and a half"):
        resolve("EPSG:3857")
