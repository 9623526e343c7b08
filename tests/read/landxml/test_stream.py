"""The stream: versions, namespaces, what is skipped and counted, and what no file may do."""

import pytest

from bench import landxml as made
from geoqa.errors import SourceError
from geoqa.read.landxml.contents import contents
from geoqa.read.landxml.stream import NAMESPACES

POINT = made.cg_points(made.cg_point("CP1", (2231000.25, 445000.5, 1457.125)))


def told(held, what):
    return [each.answer for each in held.evidence if each.what == what]


@pytest.mark.parametrize("version", NAMESPACES.values())
@pytest.mark.parametrize("prefix", ["", "lx"])
@pytest.mark.parametrize("unit", ["ft", "ftUS", "m"])
def test_every_version_prefix_and_unit(written, version, prefix, unit):
    held = contents(written(made.document(POINT, version=version, prefix=prefix, unit=unit)))
    assert (told(held, "LandXML"), held.unit.name, held.diameter) == (
        [version],
        unit,
        "millimeter" if unit == "m" else "inch",
    )
    assert held.places.place(held.of("CgPoint")[0]) == (2231000.25, 445000.5, 1457.125)


def test_northing_stands_first(written):
    held = contents(written(made.document("<CgPoints><CgPoint name='A'>1.5 2.5 3.5</CgPoint></CgPoints>")))
    assert held.places.place(held.of("CgPoint")[0]) == (2.5, 1.5, 3.5)


def test_what_is_not_read_is_counted(written):
    extra = "<Parcels><Parcel name='1'/></Parcels><Monuments/><Project name='x'/>"
    held = contents(written(made.document(POINT, extra)))
    assert told(held, "elements not read") == ["Monuments 1, Parcels 1"]
    assert told(held, "extensions not read") == ["Feature 1, urn:example:other 1"]


def test_the_system_is_read_by_its_code_only(written):
    assert contents(written(made.document(POINT, epsg="6547"))).crs == "EPSG:6547"
    assert contents(written(made.document(POINT, epsg="EPSG:6547"))).crs == "EPSG:6547"
    held = contents(written(made.document(POINT, '<CoordinateSystem name="Site grid"/>')))
    assert held.crs is None
    assert "Site grid" in next(each.because for each in held.evidence if each.what == "coordinate system")


def test_no_units_is_told_and_two_that_agree_are_one(written):
    assert contents(written(made.document(POINT, unit=""))).unit is None
    assert contents(written(made.document(POINT, unit=made.UNITS["ft"] * 2))).unit.name == "ft"


@pytest.mark.parametrize(
    ("unit", "says"),
    [
        ('<Units><Imperial linearUnit="feet"/></Units>', r'linearUnit="feet"; "foot" or "USSurveyFoot"'),
        ('<Units><Imperial linearUnit="ussurveyfoot"/></Units>', r'linearUnit="ussurveyfoot"'),
        ('<Units><Imperial linearUnit="inch"/></Units>', r"Export it again"),
        ("<Units><Metric/></Units>", r'Metric linearUnit=""; "meter"'),
        ('<Units><Metric linearUnit="meter" elevationUnit="feet"/></Units>', r"elevations must be in the unit"),
        (made.UNITS["ft"] + made.UNITS["ftUS"], r"a second Units that differs"),
    ],
)
def test_unit_words_are_taken_at_their_word(written, unit, says):
    with pytest.raises(SourceError, match=rf"'design\.xml', line \d+: .*{says}"):
        contents(written(made.document(POINT, unit=unit)))


BOMB = '<!DOCTYPE LandXML [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>\n'
OUTSIDE = '<!DOCTYPE LandXML [<!ENTITY x SYSTEM "file:///etc/hostname">]>\n'
REMOTE = '<!DOCTYPE LandXML SYSTEM "http://127.0.0.1:9/a.dtd">\n'


@pytest.mark.parametrize("head", [BOMB, OUTSIDE, REMOTE])
def test_a_document_type_is_refused_before_anything_is_made_of_it(written, head):
    with pytest.raises(SourceError, match=r"line 2: .*DOCTYPE.*Remove that line"):
        contents(written(made.document(POINT, head=head)))


def test_an_entity_nobody_declared_is_refused(written):
    with pytest.raises(SourceError, match=r"undefined entity"):
        contents(written(made.document(POINT).replace("445000.5", "&x;")))


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9, 0.999])
def test_a_file_cut_off_is_refused_wherever_it_was_cut(written, share):
    tin = made.surfaces(made.surface("EG", [(0, 0, 1), (1, 0, 2), (0, 1, 3)], [(1, 2, 3)]))
    whole = made.document(POINT, tin, made.plan_features(made.plan_feature("A", made.chain([(0, 0, 1), (5, 5, 2)]))))
    with pytest.raises(SourceError, match=r"'design\.xml', line \d+: no sound XML.*[Ee]xport it again"):
        contents(written(whole[: int(len(whole) * share)]), surfaces=None)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("<html><body/></html>", r"its root is 'html', not LandXML; LandXML 1.0, 1.1 and 1.2 are read"),
        ('<LandXML xmlns="http://www.landxml.org/schema/LandXML-2.0" version="2.0"/>', r"LandXML-2\.0'.*1\.2 are read"),
        ("<LandXML/>", r"of the namespace ''"),
        ("plain text", r"no sound XML"),
        ("", r"no sound XML"),
        ('<?xml version="1.0" encoding="klingon"?><LandXML/>', r"no sound XML"),
    ],
)
def test_what_is_no_landxml_is_refused(written, text, says):
    with pytest.raises(SourceError, match=says):
        contents(written(text))


def test_a_file_without_a_namespace_is_taken_by_its_version_and_says_so(written):
    held = contents(written(f'<LandXML version="1.1">{made.UNITS["ft"]}{POINT}</LandXML>'))
    assert len(held.of("CgPoint")) == 1
    assert "no namespace" in held.evidence[2].because


def test_a_huge_attribute_and_a_deep_file_are_refused(written):
    huge = made.document(made.cg_points(made.cg_point("A", (0, 0), desc="x" * (3 << 20))))
    with pytest.raises(SourceError, match="an attribute or a comment is longer than 1 MB"):
        contents(written(huge))
    deep = made.document(POINT, "<Survey>" * 100 + "</Survey>" * 100)
    with pytest.raises(SourceError, match="more than 64 deep"):
        contents(written(deep))


def test_other_encodings_are_read(written):
    text = made.document(made.cg_points(made.cg_point("Überlauf", (1.0, 2.0))))
    for encoding in ("utf-16", "iso-8859-1"):
        path = written(text.replace('encoding="UTF-8"', f'encoding="{encoding}"'), encoding=encoding)
        assert contents(path).of("CgPoint")[0].get("name") == "Überlauf"


def test_a_reference_finds_its_point_wherever_that_stands(written):
    late = made.cg_points(made.cg_point("P", (2.0, 1.0, 3.0)))
    by_name = '<CgPoints><CgPoint name="Q" pntRef="P"/></CgPoints>'
    held = contents(written(made.document(by_name, late)))
    assert held.places.place(held.of("CgPoint")[0]) == (2.0, 1.0, 3.0)


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ('<CgPoint name="Q" pntRef="Z"/>', "refers to the point 'Z', which is not in the file"),
        ('<CgPoint name="Q" pntRef="Q"/>', "never come to a place"),
        ('<CgPoint name="Q"/>', "neither coordinates nor pntRef"),
        ('<CgPoint name="Q">1 2 nan</CgPoint>', "only numbers below"),
        ('<CgPoint name="Q">1 2e300</CgPoint>', "only numbers below"),
        ('<CgPoint name="Q">1_0 2</CgPoint>', "only numbers below"),
        ('<CgPoint name="Q">1,5 2,5</CgPoint>', "only numbers below"),
        ('<CgPoint name="Q">1</CgPoint>', "northing, easting and, if any, elevation"),
        ('<CgPoint name="A">1 2</CgPoint><CgPoint name="A">1 3</CgPoint><CgPoint name="Q" pntRef="A"/>', "different"),
    ],
)
def test_a_point_without_a_place_is_refused_with_its_line(written, body, says):
    held = contents(written(made.document(f"<CgPoints>{body}</CgPoints>")))
    with pytest.raises(SourceError, match=rf"line 5: CgPoint 'Q' .*{says}"):
        held.places.place(held.of("CgPoint")[-1])
