"""Design lines and points: curves both ways round, spirals, references, states, kinds, pipes, and contradictions."""

import math
from itertools import product

import numpy as np
import pytest
from scipy.special import fresnel

from bench import landxml as made
from geoqa.errors import SourceError
from geoqa.read.landxml.contents import contents
from geoqa.read.landxml.coordgeom import along, drawn, stretches
from geoqa.read.landxml.design import DesignLandXML


@pytest.fixture
def read(written):
    def go(*parts, version="1.2", unit="ft", **options):
        return DesignLandXML(**options).read(written(made.document(*parts, version=version, unit=unit)), source="d")

    return go


def feature(walk, name="A", **attributes):
    return made.plan_features(made.plan_feature(name, walk.geometry(), **attributes))


def told(source, what):
    return [each.answer for each in source.evidence if each.what == what]


def walk(easting=2231000.0, northing=445000.0, azimuth=0.7):
    return made.Walk(easting, northing, azimuth)


@pytest.mark.parametrize("version", ["1.0", "1.1", "1.2"])
def test_a_curve_goes_the_way_it_says_however_it_is_given(read, version):
    cases = list(product((1, -1), (0.02, 1.2, 3.0, 3.5, 5.9), ("centre", "radius", "both")))
    ways = [walk().line(40.0).curve(125.0, angle, sense, by=by) for sense, angle, by in cases]
    features = [made.plan_feature(f"L{at}", way.geometry()) for at, way in enumerate(ways)]
    elements = read(made.plan_features(*features), version=version).layers["design_elements"]
    for at, ((sense, angle, by), way) in enumerate(zip(cases, ways, strict=True)):
        mine = elements[elements["line"] == f"L{at}"]
        row = mine.iloc[1]
        assert (row["shape"], row["sense"], len(mine)) == ("arc", sense, 2), (sense, angle, by)
        np.testing.assert_allclose([row["radius"], row["length"]], [125.0, 125.0 * angle], rtol=1e-8)
        np.testing.assert_allclose(row[["end_easting", "end_northing"]].to_numpy(float), way.ends[2], atol=1e-8)
        np.testing.assert_allclose(row["start_station"], 40.0, atol=1e-8)


def test_a_curve_by_chords_may_count_its_length_by_chords(read):
    radius, angle = 500.0, 1.0
    by_chords = 100.0 * angle / (2.0 * math.asin(50.0 / radius))
    way = walk().curve(radius, angle, 1, definition="chord", stated=by_chords)
    row = read(feature(way)).layers["design_elements"].iloc[0]
    np.testing.assert_allclose(row["length"], radius * angle, rtol=1e-10)
    with pytest.raises(SourceError, match=r'Curve states length="499\.16\d+", and its points give 500\.0000'):
        read(feature(walk().curve(radius, angle, 1, stated=by_chords)))


def test_the_order_of_children_and_elevations_do_not_matter_to_a_curve(read):
    way = walk().curve(80.0, 1.0, -1, by="both", elements="Center End Start")
    row = read(feature(way)).layers["design_elements"].iloc[0]
    np.testing.assert_allclose([row["radius"], row["sense"]], [80.0, -1])
    assert np.isnan(row["start_elevation"])


@pytest.mark.parametrize(("first", "last"), [(math.inf, 300.0), (300.0, math.inf), (900.0, 250.0)])
@pytest.mark.parametrize("sense", [1, -1])
def test_a_spiral_becomes_arcs_that_stay_beside_it(written, read, first, last, sense):
    way = walk().spiral(200.0, first, last, sense)
    text = feature(way)
    held = contents(written(made.document(text)))
    (one,) = stretches(held.of("PlanFeature")[0].find("CoordGeom"), held.places)
    elements = read(text).layers["design_elements"]
    assert set(elements["shape"]) == {"arc"}
    np.testing.assert_allclose(elements["length"].sum(), 200.0, atol=1e-4)
    np.testing.assert_allclose(elements[["end_easting", "end_northing"]].to_numpy()[-1], way.ends[1], atol=1e-7)
    spots = along(one, np.linspace(0.0, 200.0, 4001))
    centre, radius = elements[["centre_easting", "centre_northing"]].to_numpy(), elements["radius"].to_numpy()
    station = elements["start_station"].to_numpy()
    at = np.clip(np.searchsorted(station, np.linspace(0.0, 200.0, 4001), side="right") - 1, 0, len(station) - 1)
    assert np.abs(np.hypot(*(spots - centre[at]).T) - radius[at]).max() < 1e-4


def test_a_spiral_agrees_with_the_integrals_of_fresnel(written):
    length, radius = 180.0, 250.0
    way = made.Walk(0.0, 0.0, math.pi / 2).spiral(length, math.inf, radius, -1)
    held = contents(written(made.document(feature(way))))
    (one,) = stretches(held.of("PlanFeature")[0].find("CoordGeom"), held.places)
    for distance in (10.0, 90.0, 180.0):
        scale = math.sqrt(math.pi * radius * length)
        north, east = fresnel(distance / scale)
        np.testing.assert_allclose(along(one, np.array([distance]))[0], [scale * east, scale * north], atol=1e-9)


def test_ends_of_a_drawn_line_are_the_ends_of_its_elements(written):
    way = walk().line(30.0).spiral(100.0, math.inf, 200.0, 1).curve(200.0, 0.5, 1).spiral(100.0, 200.0, math.inf, 1)
    held = contents(written(made.document(feature(way))))
    places, bulges = drawn(stretches(held.of("PlanFeature")[0].find("CoordGeom"), held.places))
    np.testing.assert_allclose(places[-1, :2], way.ends[-1], atol=1e-7)
    assert len(places) == len(bulges) + 1


def test_irregular_lines_keep_their_elevations_and_gaps_make_parts(read):
    rows = [(0.0, 0.0, 9.0), (3.0, 4.0, 8.0), (3.0, 10.0, 7.0)]
    source = read(made.plan_features(made.plan_feature("W", made.chain(rows), desc="walk-back")))
    elements = source.layers["design_elements"]
    assert elements["start_elevation"].tolist() == [9.0, 8.0]
    assert elements["length"].tolist() == [5.0, 6.0]
    assert source.layers["design_lines"]["kind"].tolist() == ["walk-back"]
    source = read(made.plan_features(made.plan_feature("W", made.chain(rows, flat=True))))
    assert source.layers["design_elements"]["start_elevation"].isna().all()
    both = walk().line(10.0).geometry() + walk(northing=445100.0).line(20.0).geometry()
    source = read(made.plan_features(made.plan_feature("W", both)))
    assert source.layers["design_lines"]["line"].tolist() == ["W-1", "W-2"]


def test_points_by_reference_are_those_points(read):
    points = made.cg_points(made.cg_point("1", (0.0, 0.0, 5.0)), made.cg_point("2", (30.0, 40.0, 6.0)))
    line = '<CoordGeom><Line><Start pntRef="1"/><End pntRef="2"/></Line></CoordGeom>'
    source = read(made.plan_features(made.plan_feature("A", line)), points)
    row = source.layers["design_elements"].iloc[0]
    assert (row["length"], row["start_elevation"], row["end_elevation"]) == (50.0, 5.0, 6.0)
    assert told(source, "CgPoint") == ["2 left out"]


def test_states_are_chosen_and_what_is_left_out_is_said(read):
    both = made.plan_features(
        made.plan_feature("NEW", walk().line(5.0).geometry(), state="proposed"),
        made.plan_feature("OLD", walk().line(9.0).geometry()),
        state="existing",
    )
    source = read(both)
    assert source.layers["design_lines"]["line"].tolist() == ["NEW"]
    assert told(source, "PlanFeature") == ["1 of state existing left out"]
    assert len(read(both, states=("existing", "proposed")).layers["design_lines"]) == 2


def test_kinds_by_pattern_by_code_and_by_description(read):
    points = made.cg_points(
        made.cg_point("V1", (1.0, 2.0, 3.0), code="valve"),
        made.cg_point("H1", (5.0, 2.0, 3.0), desc="Hydrant new"),
        made.cg_point("X1", (9.0, 2.0, 3.0)),
    )
    source = read(points, kinds={"hydrant*": "hydrant"})
    table = source.layers["design_points"]
    assert dict(zip(table["point"], table["kind"], strict=True)) == {"V1": "valve", "H1": "hydrant"}
    assert told(source, "CgPoint") == ["1 left out"]
    assert len(read(points, kinds={"*": "mark"}).layers["design_points"]) == 3
    table = read(points, kinds={"x1": "mark", "v*": ""}).layers["design_points"]
    assert table["point"].tolist() == ["X1"]
    with pytest.raises(SourceError, match=r"no name, code or description that fits kinds = 'hidrant\*'; there are V1"):
        read(points, kinds={"hidrant*": "hydrant"})


def test_an_alignment_without_a_profile_is_a_line_and_one_with_it_is_left_to_the_baseline(read):
    way = walk().line(100.0).curve(200.0, 0.5, 1)
    source = read(made.alignment("ROW", way))
    assert source.layers["design_lines"][["line", "kind"]].to_numpy().tolist() == [["ROW", "alignment"]]
    assert source.layers["design_elements"]["start_station"].tolist() == pytest.approx([1000.0, 1100.0])
    high = made.profile("<PVI>1000 50</PVI><PVI>1200 55</PVI>")
    with pytest.raises(
        SourceError, match=r"(?s)nothing of it is read as design.*'CL', 2 elements, 1000.00 to 1200.00; no design line"
    ):
        read(made.alignment("CL", way, high))
    assert len(read(made.alignment("CL", way, high), kinds={"CL": "centre-line"}).layers["design_lines"]) == 1


PIPES = """<PipeNetworks><PipeNetwork name="storm" pipeNetType="storm"><Structs>
<Struct name="MH1" elevRim="105.5"><Center>100 200</Center><CircStruct diameter="48"/>
<Invert elev="99.5" flowDir="out" refPipe="P1"/><Invert elev="99.8" flowDir="in" refPipe="P0"/></Struct>
<Struct name="MH2" elevRim="104.0"><Center>400 600</Center><Invert elev="97.0" flowDir="in" refPipe="P1"/></Struct>
</Structs><Pipes><Pipe name="P1" refStart="MH1" refEnd="MH2" slope="0.005"><CircPipe diameter="15"/></Pipe></Pipes>
</PipeNetwork></PipeNetworks>"""


def test_a_pipe_lies_between_its_inverts_and_a_structure_at_its_rim(read):
    source = read(PIPES)
    points = source.layers["design_points"].set_index("point")
    assert points.loc["MH1", ["kind", "easting", "northing", "elevation"]].tolist() == ["structure", 200, 100, 105.5]
    assert points.loc["MH1 invert P0 in", ["kind", "elevation"]].tolist() == ["invert", 99.8]
    row = source.layers["design_elements"].iloc[0]
    assert (row["line"], row["length"], row["start_elevation"], row["end_elevation"]) == ("P1", 500.0, 99.5, 97.0)
    assert told(source, "pipe P1") == ["CircPipe diameter 15 (inch) slope 0.005"]
    with pytest.raises(SourceError, match=r"Pipe 'P1' has refEnd=\"MH9\", and no structure"):
        read(PIPES.replace('refEnd="MH2"', 'refEnd="MH9"'))


LINE = "<Line><Start>0 0</Start><End>30 40</End></Line>"
CURVE = '<Curve rot="cw" radius="100"><Start>0 0</Start><Center>0 100</Center><End>100 100</End></Curve>'


@pytest.mark.parametrize(
    ("element", "says"),
    [
        (LINE.replace("<Line>", '<Line length="50.2">'), r'Line states length="50\.2", and its points give 50\.0000'),
        (LINE.replace("<End>30 40</End>", ""), r"Line has no End"),
        (LINE.replace("30 40", "0 0"), r"Line has no length"),
        (LINE.replace("30 40", "NaN 40"), r"only numbers below"),
        (CURVE.replace('"100"', '"90"'), r'Curve states radius="90"'),
        (CURVE.replace('"100"', '"wide"'), r'has radius="wide"; a number is allowed'),
        (CURVE.replace("<End>100 100", "<End>100 110"), r"ends 100\.4988 from its Center and starts 100\.0000"),
        (CURVE.replace('rot="cw"', 'rot="right"'), r'has rot="right"; "cw" \(right\) or "ccw" \(left\)'),
        (CURVE.replace('"100"', '"20"').replace("<Center>0 100</Center>", ""), r"longer than its diameter"),
        (CURVE.replace(' radius="100"', "").replace("<Center>0 100</Center>", ""), r"neither Center nor a radius"),
        (CURVE.replace("<End>100 100", "<End>0 0"), r"begins where it ends"),
        (walk().spiral(90.0, math.inf, 200.0, 1, kind="bloss").xml[0], r'spiType "bloss"; only "clothoid"'),
        (walk().spiral(90.0, math.inf, 200.0, 1).xml[0].replace('"cw"', '"ccw"'), r"Spiral ends 1\d\.\d+ from where"),
        (walk().spiral(90.0, math.inf, 200.0, 1).xml[0].replace("200.0", "210.0"), r"rot, length and radii must fit"),
        (walk().spiral(90.0, math.inf, 200.0, 1).xml[0].replace("200.0", "1e-300"), r"it would turn round itself"),
        ("<Chain>1 2 3</Chain>", r"Chain is not read here; Line, Curve, Spiral and IrregularLine are"),
        (
            "<IrregularLine><Start>0 0</Start><End>1 1</End><PntList3D>0 0 1 1 1</PntList3D></IrregularLine>",
            r"5 numbers",
        ),
    ],
)
def test_what_contradicts_its_points_is_refused_with_its_line(read, element, says):
    with pytest.raises(SourceError, match=rf"'design\.xml', line \d+: .*{says}"):
        read(made.plan_features(made.plan_feature("A", f"<CoordGeom>{element}</CoordGeom>")))


def test_two_lines_of_one_name_are_refused_with_both_places(read):
    twins = made.plan_feature("A", walk().line(5.0).geometry()), made.plan_feature("A", walk().line(9.0).geometry())
    with pytest.raises(SourceError, match=r"names two things 'A'"):
        read(made.plan_features(*twins))


def test_a_first_look_at_a_large_file_is_quick(written):
    grid = [(float(e), float(n), 1.0) for n in range(60) for e in range(60)]
    path = written(made.document(feature(walk().line(5.0)), made.surfaces(made.surface("EG", grid, [(1, 2, 3)]))))
    peek = DesignLandXML().peek(path)
    assert peek.rows[0][:2] == ("PlanFeature", "A")
    assert peek.layers == ("EG",)
