"""Alignments as the record of a baseline, against closed forms."""

import math

import numpy as np
import pytest

from bench import landxml as made
from geoqa.errors import SourceError
from geoqa.read.landxml.alignment import alignment_of
from geoqa.read.landxml.contents import contents


@pytest.fixture
def read(written):
    def go(text, version="1.2", **options):
        held = contents(written(made.document(text, version=version)))
        return alignment_of(held.of("Alignment")[0], held.places, **options)

    return go


def way():
    return (
        made.Walk(2231000.0, 445000.0, 0.7)
        .line(250.0)
        .spiral(150.0, math.inf, 400.0, 1)
        .curve(400.0, 0.6, 1)
        .spiral(150.0, 400.0, math.inf, 1)
        .line(100.0)
        .curve(300.0, 0.4, -1, by="radius")
    )


@pytest.mark.parametrize("version", ["1.0", "1.1", "1.2"])
def test_every_piece_begins_where_the_walk_says(read, version):
    walked = way()
    found = read(made.alignment("CL", walked, start=1000.0), version=version)
    assert [each.kind for each in found.pieces] == ["line", "spiral", "arc", "spiral", "line", "arc"]
    radii = [(each.start_radius, each.end_radius) for each in found.pieces]
    np.testing.assert_allclose(
        radii,
        [(math.inf, math.inf), (math.inf, 400), (400, 400), (400, math.inf), (math.inf, math.inf), (-300, -300)],
    )
    np.testing.assert_allclose([(each.easting, each.northing) for each in found.pieces], walked.ends[:-1], atol=1e-7)
    stations = 1000.0 + np.concatenate([[0.0], np.cumsum(walked.lengths)[:-1]])
    np.testing.assert_allclose([each.station for each in found.pieces], stations, atol=1e-7)
    turned = [0.7, 0.7, 0.7 + 0.1875, 0.7 + 0.1875 + 0.6, 0.7 + 0.975, 0.7 + 0.975]
    np.testing.assert_allclose([each.azimuth for each in found.pieces], np.degrees(turned), atol=1e-7)
    assert (found.profile, found.superelevation, found.equations) == ((), "", ())


def test_numbers_rounded_to_a_thousandth_still_fit(read):
    walked = made.Walk(2231000.0, 445000.0, 0.7, digits=3).line(250.0).curve(400.0, 0.6, 1).line(30.0)
    assert len(read(made.alignment("CL", walked)).pieces) == 3


def test_equations_go_by_what_is_written_and_by_the_length_along(read):
    text = '<StaEquation staBack="1200" staAhead="2000" staInternal="1200"/>'
    text += '<StaEquation staAhead="50" staInternal="1300"/>'
    found = read(made.alignment("CL", way(), text))
    assert [(each.back, each.ahead, each.internal) for each in found.equations] == [
        (1200.0, 2000.0, 1200.0),
        (2100.0, 50.0, 1300.0),
    ]
    for old, new, says in (
        ('staBack="1200"', 'staBack="1201"', r"staBack 1201\.0000, and staInternal 1200\.0000 is 1200\.0000"),
        ('staInternal="1300"', 'staInternal="1100"', r"before the one ahead of it"),
        ('staAhead="50" ', "", r"staAhead"),
    ):
        with pytest.raises(SourceError, match=rf"StaEquation .*{says}"):
            read(made.alignment("CL", way(), text.replace(old, new)))


def test_a_profile_of_parabolas(read):
    text = made.profile(
        "<PVI>1000 50</PVI>",
        '<ParaCurve length="200">1300 56</ParaCurve>',
        '<UnsymParaCurve lengthIn="50" lengthOut="80">1600 53</UnsymParaCurve>',
        "<PVI>1900 59</PVI>",
    )
    found = read(made.alignment("CL", way(), text))
    assert [(each.station, each.elevation, each.curve_in, each.curve_out) for each in found.profile] == [
        (1000.0, 50.0, 0.0, 0.0),
        (1300.0, 56.0, 100.0, 100.0),
        (1600.0, 53.0, 50.0, 80.0),
        (1900.0, 59.0, 0.0, 0.0),
    ]
    assert found.profile_name == "design"


def on_parabolas(pvis, station):
    """Elevation by the grades and parabolas of a profile, worked out here on its own."""
    for at in range(1, len(pvis) - 1):
        one = pvis[at]
        before = (one.elevation - pvis[at - 1].elevation) / (one.station - pvis[at - 1].station)
        after = (pvis[at + 1].elevation - one.elevation) / (pvis[at + 1].station - one.station)
        away = station - one.station
        if -one.curve_in <= away <= one.curve_out and one.curve_in + one.curve_out > 0.0:
            whole = one.curve_in + one.curve_out
            middle = one.curve_in * one.curve_out / (2.0 * whole) * (after - before)
            side, reach = (before, one.curve_in + away) if away <= 0.0 else (after, one.curve_out - away)
            span = one.curve_in if away <= 0.0 else one.curve_out
            return one.elevation + side * away + middle * (reach / span) ** 2
    raise AssertionError(station)


@pytest.mark.parametrize(("radius", "grades"), [(5000.0, (0.03, -0.02)), (2000.0, (-0.05, 0.06)), (800.0, (0.0, 0.08))])
def test_a_vertical_circle_is_a_circle(read, radius, grades):
    first, last = (1000.0, 50.0), None
    corner = 1400.0, 50.0 + 400.0 * grades[0]
    last = 1900.0, corner[1] + 500.0 * grades[1]
    rows = f"<PVI>{first[0]} {first[1]}</PVI>", f"<PVI>{last[0]!r} {last[1]!r}</PVI>"
    curve = f'<CircCurve radius="{radius}">{corner[0]!r} {corner[1]!r}</CircCurve>'
    found = read(made.alignment("CL", way(), made.profile(rows[0], curve, rows[1])))
    enter, leave = (math.atan(each) for each in grades)
    sign = math.copysign(1.0, leave - enter)
    tangent = radius * math.tan(abs(leave - enter) / 2.0)
    start = corner[0] - tangent * math.cos(enter), corner[1] - tangent * math.sin(enter)
    centre = start[0] - sign * radius * math.sin(enter), start[1] + sign * radius * math.cos(enter)
    ends = start[0], corner[0] + tangent * math.cos(leave)
    for station in np.linspace(ends[0] + 1e-6, ends[1] - 1e-6, 57):
        true = centre[1] - sign * math.sqrt(radius**2 - (station - centre[0]) ** 2)
        assert abs(on_parabolas(found.profile, station) - true) < 1e-6


def test_several_profiles_are_asked_about_and_the_proposed_one_is_taken(read):
    rows = "<PVI>1000 50</PVI><PVI>1200 55</PVI>"
    two = made.profile(rows, name="left") + made.profile(rows.replace("55", "58"), name="right")
    with pytest.raises(SourceError, match=r"has the profiles 'left', 'right'; name the one that is built"):
        read(made.alignment("CL", way(), two))
    assert read(made.alignment("CL", way(), two), profile="right").profile[1].elevation == 58.0
    chosen = made.profile(rows, name="old", state="existing") + made.profile(rows, name="new", state="proposed")
    found = read(made.alignment("CL", way(), chosen))
    assert (found.profile_name, found.notes) == ("new", ("other profiles are not read: 'old'",))


def test_superelevation_and_ground_are_said_and_not_used(read):
    banked = '<Superelevation staStart="1000"><FullSuperSta>1100</FullSuperSta></Superelevation>'
    ground = '<Profile><ProfSurf name="EG"><PntList2D>1000 50 1100 51</PntList2D></ProfSurf></Profile>'
    found = read(made.alignment("CL", way(), banked, ground))
    assert "superelevation from line" in found.superelevation
    assert found.notes == ("1 profiles of existing ground (ProfSurf) are not read",)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda text: text.replace('staStart="1000.0"', ""), r"has no staStart"),
        (lambda text: text.replace('staStart="1000.0"', 'staStart="nan"'), r'has staStart="nan"; a number'),
        (lambda text: text.replace('staStart="1000.0"', 'staStart="1" staIncrement="decreasing"'), r"decreasing"),
        (lambda text: text.replace(' length="', ' length="9', 1), r"Alignment 'CL' states length="),
        (lambda text: text.replace("<Line", "<Gap/><Line", 1), r"Gap is not read here"),
        (lambda text: text.replace("CoordGeom", "Feature"), r"has 0 CoordGeom"),
    ],
)
def test_what_is_missing_or_contradicts_is_refused(read, change, says):
    with pytest.raises(SourceError, match=rf"'design\.xml', line \d+: .*{says}"):
        read(change(made.alignment("CL", way())))


def test_elements_that_do_not_follow_each_other_are_refused(read):
    walked = made.Walk(0.0, 0.0, 0.0).line(10.0)
    walked.xml.append(made.Walk(5.0, 500.0, 0.0).line(10.0).xml[0])
    with pytest.raises(SourceError, match=r"do not follow each other"):
        read(made.alignment("CL", walked, length=20.0))


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ("<PVI>1000 50</PVI><PVI>1000 55</PVI>", r"PVI stands at 1000\.0000, not after"),
        ("<PVI>1000</PVI>", r"station and elevation are needed"),
        ("<PVI>1000 nan</PVI>", r"only numbers"),
        ("<PVI>1000 5</PVI><ParaCurve>1100 6</ParaCurve>", r"ParaCurve needs length"),
        ("<PVI>1 5</PVI><ParaCurve length='-5'>11 6</ParaCurve>", r"ParaCurve needs length"),
        ("<CircCurve radius='500'>1000 5</CircCurve>", r"a curve stands between two grades"),
        ("<PVI>1 5</PVI><CircCurve>50 6</CircCurve><PVI>99 5</PVI>", r"needs a radius of 1 or more"),
        ("<PVI>1 5</PVI><CircCurve radius='1e-300'>50 6</CircCurve><PVI>99 5</PVI>", r"needs a radius of 1 or more"),
        ("<PVI>1 5</PVI><CircCurve radius='500' length='9'>50 6</CircCurve><PVI>99 5</PVI>", r"its radius and grades"),
    ],
)
def test_a_profile_that_cannot_be_is_refused(read, rows, says):
    with pytest.raises(SourceError, match=says):
        read(made.alignment("CL", way(), made.profile(rows)))
