"""Design from drawings: every entity that is read, every one that is not, arcs against another implementation."""

import logging
import math

import ezdxf
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import FrameError, SourceError
from geoqa.frames.moving.declared import settle
from geoqa.frames.systems.resolve import resolve
from geoqa.model.quantity import FOOT, METRE, US_SURVEY_FOOT
from geoqa.read.vector.dxf import DesignDrawing
from geoqa.read.vector.linework import SAGITTA, Line, chords, elements_of

HALF = {"layer": "C"}


def told(source, what):
    return [each for each in source.evidence if each.what == what]


def line_of(start, end, bulge):
    return Line(
        name="A",
        kind="k",
        vertices=np.array([start, end], dtype=float),
        elevations=np.array([1.0, 2.0]),
        bulges=np.array([bulge]),
        number=1,
        layer="C",
    )


places = st.tuples(st.floats(-100, 100), st.floats(-100, 100))
bulges = st.floats(0.001, 5.0) | st.floats(-5.0, -0.001)


@given(places, places, bulges)
def test_an_arc_is_the_one_ezdxf_makes_of_the_same_bulge(start, end, bulge):
    from ezdxf.math import bulge_center, bulge_radius

    if math.dist(start, end) < 0.1:
        return
    row = elements_of([line_of(start, end, bulge)]).iloc[0]
    centre = bulge_center(start, end, bulge)
    assert row["shape"] == "arc"
    assert row["sense"] == (-1 if bulge > 0 else 1)
    np.testing.assert_allclose(row["radius"], abs(bulge_radius(start, end, bulge)), rtol=1e-9)
    np.testing.assert_allclose(
        [row["centre_easting"], row["centre_northing"]], [centre.x, centre.y], rtol=1e-7, atol=1e-6
    )
    np.testing.assert_allclose(row["length"], row["radius"] * 4.0 * math.atan(abs(bulge)), rtol=1e-12)


@given(places, places, bulges)
def test_chords_stay_on_the_arc_and_close_to_it(start, end, bulge):
    if math.dist(start, end) < 0.1:
        return
    line = line_of(start, end, bulge)
    row = elements_of([line]).iloc[0]
    drawn = np.asarray(chords(line.vertices, line.bulges).coords)
    away = np.hypot(*(drawn - [row["centre_easting"], row["centre_northing"]]).T)
    np.testing.assert_allclose(away, row["radius"], rtol=1e-7)
    middles = (drawn[1:] + drawn[:-1]) / 2.0
    sagitta = row["radius"] - np.hypot(*(middles - [row["centre_easting"], row["centre_northing"]]).T)
    assert sagitta.max() <= max(SAGITTA, 0.51 * row["radius"] if row["radius"] < 2 * SAGITTA else 0.0) * 1.001 + 1e-7
    steps = np.hypot(*np.diff(drawn, axis=0).T).sum()
    assert steps <= row["length"] * (1 + 1e-9)
    assert steps >= 0.8 * row["length"]


def test_a_quarter_circle_by_hand():
    row = elements_of([line_of((10.0, 0.0), (0.0, 10.0), math.tan(math.pi / 8.0))]).iloc[0]
    np.testing.assert_allclose(
        [row["centre_easting"], row["centre_northing"], row["radius"]], [0.0, 0.0, 10.0], atol=1e-12
    )
    np.testing.assert_allclose(row["length"], 5.0 * math.pi, rtol=1e-12)


def test_every_kind_of_line_is_read(draw):
    def make(space):
        space.add_line((0, 0, 5), (3, 4, 6), dxfattribs={"layer": "LEG"})
        space.add_lwpolyline(
            [(0, 0, 0), (10, 0, 1), (10, 10, 0)], format="xyb", dxfattribs={"layer": "LIGHT", "elevation": 7}
        )
        space.add_polyline2d(
            [(0, 0, 1), (10, 0, 0)], format="xyb", dxfattribs={"layer": "HEAVY", "elevation": (0, 0, 8)}
        )
        space.add_polyline3d([(0, 0, 1), (3, 4, 2), (6, 8, 3)], dxfattribs={"layer": "STRING"})
        space.add_arc((0, 0, 9), 10, 350, 80, dxfattribs={"layer": "ROUND"})

    source = draw(make)
    assert source.troubles == ()
    rows = source.layers["design_elements"].set_index(["line", "sequence"])
    assert rows.loc[("LEG", 0), ["length", "start_elevation", "end_elevation"]].tolist() == [5.0, 5.0, 6.0]
    assert rows.loc["LIGHT", "shape"].tolist() == ["line", "arc"]
    assert rows.loc["LIGHT", "start_elevation"].tolist() == [7.0, 7.0]
    assert rows.loc[("HEAVY", 0), ["shape", "sense", "radius", "end_elevation"]].tolist() == ["arc", -1, 5.0, 8.0]
    assert rows.loc["STRING", "start_station"].tolist() == [0.0, 5.0]
    np.testing.assert_allclose(rows.loc[("ROUND", 0), "length"], 10.0 * math.pi / 2.0)
    np.testing.assert_allclose(
        rows.loc[("ROUND", 0), ["centre_easting", "centre_northing"]].to_list(), [0, 0], atol=1e-12
    )
    assert told(source, "elements")[0].answer == "4 straight, 3 arcs"


def test_a_closed_polyline_comes_back_to_its_start(draw):
    def make(space):
        space.add_lwpolyline([(0, 0), (10, 0), (10, 10)], close=True, dxfattribs=HALF)
        space.add_lwpolyline([(50, 0, 1), (60, 0, 1)], format="xyb", close=True, dxfattribs={"layer": "RING"})

    rows = draw(make).layers["design_elements"].set_index("line")
    assert rows.loc["C", "end_easting"].tolist() == [10.0, 10.0, 0.0]
    assert rows.loc["RING", "end_easting"].tolist() == [60.0, 50.0]
    np.testing.assert_allclose(rows.loc["RING", "length"].sum(), 10.0 * math.pi)


def test_a_polyline_seen_from_below_turns_the_other_way(draw):
    def make(space):
        space.add_lwpolyline(
            [(0, 0, 0.5), (10, 0, 0)], format="xyb", dxfattribs={"layer": "C", "extrusion": (0, 0, -1), "elevation": -3}
        )

    row = draw(make).layers["design_elements"].iloc[0]
    assert (row["end_easting"], row["sense"], row["start_elevation"]) == (-10.0, 1, 3.0)
    np.testing.assert_allclose([row["centre_easting"], row["centre_northing"], row["radius"]], [-5.0, 3.75, 6.25])


def test_points_and_block_insertions_are_points(draw):
    def make(space):
        block = space.doc.blocks.new("RIM")
        block.add_attdef("NAME", (0, 0))
        block.add_circle((0, 0), 1)
        space.add_point((1, 2, 3), dxfattribs={"layer": "VALVE"})
        space.add_blockref("RIM", (3, 4, 5), dxfattribs={"layer": "RIM"}).add_auto_attribs({"NAME": "MH-1"})
        space.add_blockref("RIM", (6, 7, 8), dxfattribs={"layer": "RIM"})

    points = draw(make).layers["design_points"].set_index("point")
    assert points.loc["VALVE", ["easting", "northing", "elevation"]].tolist() == [1.0, 2.0, 3.0]
    assert points.loc["MH-1", "kind"] == "rim"
    assert points.loc["RIM-2", "elevation"] == 8.0


def test_several_on_a_layer_are_numbered_in_the_order_of_their_handles(draw):
    def make(space):
        for each in range(3):
            space.add_line((each, 0), (each, 9), dxfattribs={"layer": "Curb Top"})

    lines = draw(make).layers["design_lines"]
    assert lines["line"].tolist() == ["Curb Top-1", "Curb Top-2", "Curb Top-3"]
    assert lines["kind"].unique().tolist() == ["curb top"]


def test_layers_named_in_the_job_are_the_only_ones_read(draw):
    def make(space):
        space.add_line((0, 0), (0, 9), dxfattribs={"layer": "C-CURB"})
        space.add_line((1, 0), (1, 9), dxfattribs={"layer": "NOTES"})
        space.add_circle((1, 0), 2, dxfattribs={"layer": "NOTES"})

    source = draw(make, layers={"c-curb": "curb-top"})
    assert source.layers["design_lines"][["line", "kind"]].iloc[0].tolist() == ["C-CURB", "curb-top"]
    assert told(source, "layers not read")[0].answer == "NOTES 2"
    assert source.troubles == ()
    with pytest.raises(SourceError, match=r"has no layer C-TOP; its layers are .*c-curb"):
        draw(make, layers={"C-TOP": "curb-top"})


def unread(space):
    space.add_line((0, 0), (0, 9), dxfattribs={"layer": "GOOD"})
    space.add_spline([(0, 0), (1, 1), (2, 0)], dxfattribs=HALF)
    space.add_spline([(0, 5), (1, 6), (2, 5)], dxfattribs=HALF)
    space.add_ellipse((0, 0), (5, 0), 0.5, dxfattribs=HALF)
    space.add_circle((0, 0), 5, dxfattribs=HALF)
    space.add_hatch(dxfattribs=HALF)
    space.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)], dxfattribs=HALF)
    space.add_text("12.50", dxfattribs=HALF)
    space.add_lwpolyline([(0, 0), (1, 1)], dxfattribs=HALF | {"extrusion": (1, 0, 0)})
    space.add_arc((0, 0), 5, 0, 360, dxfattribs=HALF)
    space.add_polymesh((3, 3), dxfattribs=HALF)
    space.add_polyline2d([(0, 0), (1, 1), (2, 0)], dxfattribs=HALF | {"flags": 2})
    space.add_polyline3d([(0, 0), (1, 1), (2, 0)], dxfattribs=HALF | {"flags": 8 | 4})
    space.doc.blocks.new("GRID")
    space.add_blockref("GRID", (0, 0), dxfattribs=HALF | {"row_count": 2, "row_spacing": 5})
    space.doc.add_xref_def("other.dxf", "OTHER")
    space.add_blockref("OTHER", (0, 0), dxfattribs=HALF)


def test_what_is_not_read_is_counted_and_named(draw):
    source = draw(unread)
    assert source.layers["design_lines"]["line"].tolist() == ["GOOD"]
    named = {each.text: each.reason for each in source.troubles}
    usual = "not read: only lines, polylines, arcs, splines, points and block insertions are"
    assert {text for text, reason in named.items() if reason == usual} == {
        "1 ELLIPSE",
        "1 CIRCLE",
        "1 HATCH",
        "1 3DFACE",
        "1 TEXT",
    }
    assert named["1 LWPOLYLINE"] == "not read: it does not lie level"
    assert named["1 ARC"] == "not read: a full circle has no ends"
    reasons = {each.reason for each in source.troubles}
    assert {
        "not read: a spline of fit points alone is drawn differently by every program; it begins at 0.00, 0.00; "
        "draw it as arcs",
        "not read: a mesh",
        "not read: a polyline fitted with a curve",
        "not read: a 3D polyline fitted with a spline",
        "not read: a grid of insertions",
        "not read: block OTHER is another drawing; name that file in the job",
    } <= reasons
    assert all(each.column == "layer C" for each in source.troubles)


def test_paper_space_and_hidden_layers_are_told(draw):
    def make(space):
        space.doc.layers.add("HIDDEN").freeze()
        space.add_line((0, 0), (0, 9), dxfattribs={"layer": "HIDDEN"})
        space.doc.paperspace().add_line((0, 0), (1, 1))

    source = draw(make)
    assert told(source, "hidden layers")[0].answer == "HIDDEN"
    assert told(source, "paper space")[0].answer == "1 entities not read"
    assert source.layers["design_lines"]["line"].tolist() == ["HIDDEN"]


def test_lines_of_the_jobs_layers_inside_blocks_are_told(draw):
    def make(space):
        space.doc.blocks.new("SYMBOL").add_line((0, 0), (1, 1), dxfattribs={"layer": "0"})
        space.doc.blocks.new("SHEET").add_line((0, 0), (1, 1), dxfattribs={"layer": "CURB"})
        space.add_line((0, 0), (0, 9), dxfattribs={"layer": "CURB"})

    assert told(draw(make, layers={"CURB": "curb-top"}), "lines inside blocks, not read")[0].answer == "CURB 1"
    assert told(draw(make), "lines inside blocks, not read") == []


def one(space):
    space.add_line((0, 0), (0, 9), dxfattribs=HALF)


@pytest.mark.parametrize(("code", "unit"), [(2, FOOT), (21, US_SURVEY_FOOT), (6, METRE), (0, None)])
def test_the_unit_of_the_drawing_is_told_with_its_reason(draw, code, unit):
    source = draw(one, unit=code)
    assert source.unit == unit
    assert f"INSUNITS {code}" in told(source, "unit")[0].because


@pytest.mark.parametrize(
    ("code", "word"), [(1, "INSUNITS 1 (inches)"), (4, "INSUNITS 4 (millimetres)"), (8, "INSUNITS 8")]
)
def test_a_unit_that_a_job_cannot_have_is_left_to_the_job(draw, code, word):
    source = draw(one, unit=code)
    assert (source.unit, source.unit_doubt) == (None, word)
    with pytest.raises(FrameError, match=r'plan\.dxf: its unit is not known.*beside the file: unit = "ftUS"'):
        settle(source, frame=resolve("EPSG:6584"), what="plan.dxf")
    for unit in (FOOT, US_SURVEY_FOOT, METRE):
        meaning = settle(source, frame=resolve("EPSG:6584"), what="plan.dxf", unit=unit)
        assert meaning.unit == unit
        assert any(word in each.because and "the job's word stands" in each.because for each in meaning.evidence)


def test_feet_of_a_drawing_are_no_objection_to_survey_feet_of_the_job(draw):
    source, frame = draw(one, unit=2), resolve("EPSG:6584")
    assert frame.unit == US_SURVEY_FOOT
    assert settle(source, frame=frame, what="plan.dxf", unit=US_SURVEY_FOOT).unit == US_SURVEY_FOOT
    alone = settle(source, frame=frame, what="plan.dxf")
    assert alone.unit == FOOT
    (told_first,) = [each for each in alone.evidence if each.first and each.what == "unit"]
    assert 'state unit = "ftUS" beside it' in told_first.because
    with pytest.raises(FrameError, match="unit conflict"):
        settle(draw(one, unit=6), frame=frame, what="plan.dxf", unit=FOOT)


def test_a_drawing_in_plan_has_no_elevations(draw):
    source = draw(one)
    assert source.layers["design_elements"]["start_elevation"].isna().all()
    assert told(source, "elevations")[0].answer == "0 of 1 lines and points have them"
    assert draw(one, elevations="as-drawn").layers["design_elements"]["start_elevation"].tolist() == [0.0]


def test_a_file_that_is_no_drawing_is_refused(design):
    path = design.folder / "x.dxf"
    with pytest.raises(SourceError, match=r"There is no file 'x\.dxf'"):
        DesignDrawing().read(path, source="d")
    for held, message in (
        (b"", "is empty"),
        (b"AC1032\x00\x00more", "its program's own format; save it as DXF"),
        (b"hello\nworld\n", "is no sound DXF drawing"),
        (bytes(range(256)), "is no sound DXF drawing"),
    ):
        path.write_bytes(held)
        with pytest.raises(SourceError, match=message):
            DesignDrawing().read(path, source="d")


@pytest.mark.parametrize("share", [0.1, 0.3, 0.5, 0.7, 0.9, 0.97])
def test_a_drawing_cut_short_is_refused(design, share):
    path = design.dxf()
    held = path.read_bytes()
    path.write_bytes(held[: int(len(held) * share)])
    with pytest.raises(SourceError, match="is no sound DXF drawing"):
        DesignDrawing().read(path, source="d")


def test_a_drawing_of_nothing_readable_is_refused(draw):
    with pytest.raises(SourceError, match=r"(?s)no design line and no design point.*'1 CIRCLE' not read"):
        draw(lambda space: space.add_circle((0, 0), 5, dxfattribs=HALF))


def park(space):
    blocks = space.doc.blocks
    for name in ("HYDRANT-4", "GATE-VALVE"):
        blocks.new(name).add_attdef("NAME", (0, 0))
    blocks.new("STRUCT").add_attdef("TYPE", (0, 0))
    water = {"layer": "C-WATR"}
    space.add_blockref("HYDRANT-4", (1, 1), dxfattribs=water).add_auto_attribs({"NAME": "H-1"})
    space.add_blockref("GATE-VALVE", (2, 1), dxfattribs=water).add_auto_attribs({"NAME": "V-1"})
    space.add_blockref("STRUCT", (3, 1), dxfattribs=water).add_auto_attribs({"TYPE": "inlet rim"})
    space.add_line((0, 0), (9, 0), dxfattribs=water)
    space.add_line((0, 2), (9, 2), dxfattribs={"layer": "C-WALK", "linetype": "DASHED2"})
    space.add_line((0, 3), (9, 3), dxfattribs={"layer": "C-WALK", "color": 3})
    space.add_line((0, 4), (9, 4), dxfattribs={"layer": "V-WALK-EXST", "color": 3})
    space.add_text("note", dxfattribs={"layer": "C-ANNO"})


def kinds_of(source):
    lines, points = source.layers["design_lines"], source.layers["design_points"]
    return dict(zip(lines["line"], lines["kind"], strict=True)) | dict(
        zip(points["point"], points["kind"], strict=True)
    )


def test_a_layer_is_divided_by_block_attribute_linetype_and_colour(draw):
    source = draw(
        park,
        layers={"C-*": "walk-front", "c-watr": "water-top", "*-EXST": "", "C-ANNO": ""},
        blocks={"HYD*": "hydrant", "*VALVE": "valve"},
        values={"*rim": "rim"},
        linetypes={"dashed*": "walk-back"},
        colours={"3": "curb-top"},
    )
    assert kinds_of(source) == {
        "C-WATR-1": "water-top",
        "C-WALK-1": "walk-back",
        "C-WALK-2": "curb-top",
        "H-1": "hydrant",
        "V-1": "valve",
        "STRUCT-1": "rim",
    }
    assert told(source, "not read, by layer")[0].answer == "C-ANNO 1, V-WALK-EXST 1"
    assert source.troubles == ()


def test_blocks_alone_leave_the_rest_unread_and_say_so(draw):
    source = draw(park, blocks={"HYD*": "hydrant", "LAMP*": "lamp"})
    assert kinds_of(source) == {"H-1": "hydrant"}
    assert told(source, "not read, by layer")[0].answer == "C-ANNO 1, C-WALK 2, C-WATR 3, V-WALK-EXST 1"
    assert told(source, "of no use in the job")[0].answer == "blocks LAMP*"


def test_all_layers_are_one_kind_by_a_star_and_a_pattern_that_fits_none_is_refused(draw):
    assert set(kinds_of(draw(one, layers={"*": "curb-top"})).values()) == {"curb-top"}
    with pytest.raises(SourceError, match=r"has no layer B-\*; its layers are .*c"):
        draw(one, layers={"B-*": "curb-top"})


def test_what_is_marked_invisible_is_no_design_and_that_is_told(draw):
    def make(space):
        one(space)
        space.add_line((5, 0), (5, 9), dxfattribs=HALF | {"invisible": 1})
        space.doc.add_xref_def("other.dxf", "OTHER")

    source = draw(make)
    assert len(source.layers["design_lines"]) == 1
    assert told(source, "invisible")[0].answer == "1 not read"
    assert told(source, "external references")[0].answer == "OTHER"


def test_an_insertion_of_a_block_that_is_not_there_has_its_place_all_the_same(draw):
    source = draw(lambda space: space.add_blockref("GONE", (5, 6, 7), dxfattribs=HALF))
    assert source.layers["design_points"][["easting", "elevation"]].iloc[0].tolist() == [5.0, 7.0]
    assert told(source, "blocks that are not there")[0].answer == "GONE 1"


def test_a_spline_is_fitted_by_chords_that_stay_on_it(draw):
    # quadratic Bezier curve with three control points: exactly the parabola y = x - x^2 / 100 between 0 and 100
    def make(space):
        space.add_open_spline([(0, 0, 5), (50, 50, 6), (100, 0, 7)], degree=2, dxfattribs=HALF)

    source = draw(make)
    rows = source.layers["design_elements"]
    x = rows[["start_easting", "end_easting"]].to_numpy()
    y = rows[["start_northing", "end_northing"]].to_numpy()
    np.testing.assert_allclose(y, x - x**2 / 100.0, atol=1e-9)
    sagitta = np.diff(x, axis=1) ** 2 / 100.0 / 4.0  # of a chord of a parabola, by hand; an upper bound of the distance
    assert sagitta.max() <= 0.001
    assert (rows["start_elevation"].iloc[0], rows["end_elevation"].iloc[-1]) == (5.0, 7.0)
    assert "nowhere more than 0.001" in told(source, "splines fitted, chords")[0].because


SOUND = "0\nSECTION\n2\nENTITIES\n0\nLINE\n5\nA1\n8\nC\n10\n0\n20\n0\n11\n9\n21\n0\n{}0\nENDSEC\n0\nEOF\n"
BROKEN = {
    "vertex without a place": "0\nPOLYLINE\n5\nB1\n8\nX\n66\n1\n70\n8\n0\nVERTEX\n5\nB2\n8\nX\n70\n32\n0\nVERTEX\n5\n"
    "B3\n8\nX\n10\n5\n20\n5\n70\n32\n0\nSEQEND\n5\nB4\n8\nX\n",
    "bulge": "0\nLWPOLYLINE\n5\nB1\n100\nAcDbEntity\n8\nX\n100\nAcDbPolyline\n90\n2\n70\n0\n10\n0\n20\n0\n42\n1e308\n"
    "10\n5\n20\n5\n",
    "far": "0\nLINE\n5\nB1\n8\nX\n10\n1e300\n20\n0\n11\n9\n21\n0\n",
    "no end": "0\nLINE\n5\nB1\n8\nX\n10\n1\n20\n0\n",
    "absent block": "0\nINSERT\n5\nB1\n8\nX\n2\nGONE\n10\n1\n20\n2\n",
    "radius": "0\nARC\n5\nB1\n8\nX\n10\n1\n20\n2\n40\n1e308\n50\n0\n51\n90\n",
}


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_entity_ends_nothing_and_the_rest_is_read(tmp_path, case):
    path = tmp_path / "broken.dxf"
    path.write_text(SOUND.format(BROKEN[case]))
    source = DesignDrawing(elevations="as-drawn").read(path, source="d")
    assert "C" in source.layers["design_lines"]["line"].tolist()
    assert np.isfinite(source.layers["design_elements"]["length"]).all()


def test_what_the_library_says_of_a_damaged_drawing_is_one_sentence_of_ours_and_no_line_beside_it(tmp_path, capfd):
    document, path = ezdxf.new("R2010"), tmp_path / "plan.dxf"
    for at in (0, 10, 20):
        document.modelspace().add_line((0, at), (100, at), dxfattribs={"layer": "CURB"})
    document.saveas(path)
    first, second, third = [each.dxf.handle for each in document.modelspace()]
    text = path.read_text(encoding="utf-8")
    for other in (second, third):
        text = text.replace(f"  5\n{other}\n", f"  5\n{first}\n")
    path.write_text(text, encoding="utf-8")
    DesignDrawing().peek(path)
    DesignDrawing().words(path, kinds={}, codes={})
    source = DesignDrawing().read(path, source="plan")
    assert len(source.layers["design_lines"]) == 3
    (told,) = source.troubles
    assert str(told) == (
        f"drawing: 'Found non-unique entity handle #{first}' was found on reading it, and 1 more remark: it is "
        "damaged, and what could be read is taken; audit it and save it again"
    )
    assert told.kept
    assert capfd.readouterr().err == ""
    assert logging.getLogger("ezdxf").propagate


def test_an_insertion_without_the_name_of_its_block_is_told_and_the_rest_is_read(tmp_path):
    document, path = ezdxf.new("R2010"), tmp_path / "plan.dxf"
    document.blocks.new("MH")
    document.modelspace().add_blockref("MH", (5, 5), dxfattribs={"layer": "RIM"})
    document.modelspace().add_line((0, 0), (100, 0), dxfattribs={"layer": "CURB"})
    document.saveas(path)
    path.write_text(path.read_text(encoding="utf-8").replace("AcDbBlockReference\n  2\nMH\n", "AcDbBlockReference\n"))
    source = DesignDrawing().read(path, source="plan")
    assert source.layers["design_lines"]["kind"].tolist() == ["curb"]
    assert any(each.what == "blocks that are not there" for each in source.evidence)


def test_what_a_layer_that_is_left_out_takes_along_is_told(tmp_path):
    document, path = ezdxf.new("R2010"), tmp_path / "plan.dxf"
    document.blocks.new("FH")
    for at in (0, 50):
        document.modelspace().add_blockref("FH", (at, 5), dxfattribs={"layer": "C-SYM"})
    document.modelspace().add_line((0, 0), (100, 0), dxfattribs={"layer": "CURB"})
    document.saveas(path)
    tables = {"layers": {"CURB": "curb-top", "C-SYM": ""}, "blocks": {"FH": "hydrant"}}
    source = DesignDrawing(**tables).read(path, source="plan")
    assert len(source.layers["design_points"]) == 0
    (told,) = source.troubles
    assert told.what.startswith("layer C-SYM: '2 things' left out with their layer, to which layers gives \"\", though")
    assert told.kept
    tables["layers"] = {"CURB": "curb-top", "*": ""}
    assert len(DesignDrawing(**tables).read(path, source="plan").layers["design_points"]) == 2


def test_what_the_library_cannot_work_with_is_refused_in_one_sentence(tmp_path, monkeypatch):
    document, path = ezdxf.new("R2010"), tmp_path / "plan.dxf"
    document.modelspace().add_line((0, 0), (100, 0), dxfattribs={"layer": "CURB"})
    document.saveas(path)

    def stumble(*_, **__):
        raise ezdxf.DXFTypeError("name has to be a string")

    monkeypatch.setattr("geoqa.read.vector.dxf.sketch_of", stumble)
    with pytest.raises(
        SourceError, match=r"'plan.dxf' is no sound DXF drawing: name has to be a string\. Save it again"
    ):
        DesignDrawing().read(path, source="plan")
