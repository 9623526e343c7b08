"""The drawing, opened again by a drawing library and by GDAL."""

import gc
from itertools import pairwise

import ezdxf
import fiona
import numpy as np
import pandas as pd
import pyogrio
import pytest
from ezdxf.math import bulge_center, bulge_radius

from geoqa.errors import OutputError
from geoqa.model.quantity import METRE, US_SURVEY_FOOT
from geoqa.model.results import Results
from geoqa.model.tables.layer import Layers
from geoqa.write.cad import dxf
from geoqa.write.cad.cad_text import LONGEST, cad_text
from geoqa.write.cad.drawing import drawing_of, layer_name
from geoqa.write.cad.dxf import FILE, Drawing
from geoqa.write.cad.linework import element_paths

LIGHT = Drawing(light_above=3)


@pytest.fixture
def document(results, tmp_path):
    assert Drawing().write(results, tmp_path) == (FILE,)
    return ezdxf.readfile(tmp_path / FILE)


def _in_unit(results, unit):
    from dataclasses import replace

    frame = replace(results.layers.frame, unit=unit)
    layers = Layers(dict(results.layers), frame=frame)
    return Results(title=results.title, layers=layers, summary=results.summary, record=results.record)


def _said(block):
    return dict(tag.value.split("=", 1) for tag in block.get_xdata("GEOQA") if "=" in str(tag.value))


def test_it_passes_the_audit_without_a_fix(document):
    audit = document.audit()
    assert audit.errors == []
    assert audit.fixes == []


# $INSUNITS 2 = feet, 6 = metres, 21 = US survey feet: DXF reference, header variables (value from memory)
@pytest.mark.parametrize(("unit", "code"), [(None, 2), (US_SURVEY_FOOT, 21), (METRE, 6)])
@pytest.mark.parametrize("writer", [Drawing(), LIGHT], ids=["full", "light"])
def test_the_header_names_the_right_foot(results, tmp_path, unit, code, writer):
    told = results if unit is None else _in_unit(results, unit)
    writer.write(told, tmp_path)
    assert ezdxf.readfile(tmp_path / FILE).header["$INSUNITS"] == code
    writer.read_back(told, tmp_path)


def test_shots_are_blocks_on_the_layer_of_their_kind_and_verdict(results, document):
    blocks = {_said(block)["KEY"]: block for block in document.modelspace().query('INSERT[name!="DESIGN-POINT"]')}
    placed = results.shots[results.shots["easting"].notna()]
    high = placed[placed["elevation"].notna()]
    assert len(blocks) == len(high) < len(placed)
    for _, shot in high.iterrows():
        place = blocks[shot["shot_key"]].dxf.insert
        assert (place.x, place.y, place.z) == (shot["easting"], shot["northing"], shot["elevation"])
    named = {_said(text)["KEY"]: text for text in document.modelspace().query("TEXT") if text.has_xdata("GEOQA")}
    assert set(named) == set(placed.loc[placed["elevation"].isna(), "shot_key"])  # in plan, nothing to snap to at 0
    assert all(text.dxf.layer.endswith("_NO-ELEVATION") for text in named.values())
    assert blocks["day1/100"].dxf.layer == "CURB-TOP_IN"
    assert blocks["day1/100"].dxf.name == "SHOT_IN"
    assert blocks["day1/110"].dxf.layer == "CURB-TOP_NOT-CHECKED"
    assert blocks["day1/100"].get_attrib_text("SAYS") == "offset 0.30 ft right (south side), in"
    assert _said(blocks["day1/100"])["FINDINGS"] == "F000000000009"
    shown = {each.dxf.tag for each in blocks["day1/100"].attribs if not each.is_invisible}
    assert shown == {"POINT"}


def test_points_of_the_design_are_blocks_at_their_elevation(results, document, tmp_path):
    found = {
        each.get_attrib_text("POINT"): each for each in document.modelspace().query('INSERT[name=="DESIGN-POINT"]')
    }
    points = results.layers["design_points"]
    high = points[points["elevation"].notna()]
    assert set(found) == set(high["point"])
    for _, row in high.iterrows():
        block = found[row["point"]]
        assert tuple(block.dxf.insert) == (row["easting"], row["northing"], row["elevation"])
        assert block.dxf.layer == layer_name("DESIGN-POINT", row["kind"])
    flat = points.assign(elevation=np.nan)
    layers = Layers({**dict(results.layers), "design_points": flat}, frame=results.layers.frame)
    Drawing().write(Results(title=results.title, layers=layers, summary={}, record=results.record), tmp_path)
    space = ezdxf.readfile(tmp_path / FILE).modelspace()
    assert not space.query('INSERT[name=="DESIGN-POINT"]')
    assert {each.dxf.layer.rpartition("_")[2] for each in space.query('TEXT[layer ? "^DESIGN-POINT.*"]')} == {
        "NO-ELEVATION"
    }


def test_lines_bear_their_names_along_themselves(results, document):
    names = list(document.modelspace().query('TEXT[layer ? "^NAME_DESIGN.*"]'))
    lines = {line for line, _ in element_paths(results.layers["design_elements"])}
    assert {each.dxf.text for each in names} == lines
    assert all(-90.0 < each.dxf.rotation <= 90.0 for each in names)


@pytest.mark.parametrize(("scale", "unit"), [(240, None), (480, None), (500, METRE)])
def test_text_is_as_high_on_the_sheet_as_stated(results, tmp_path, scale, unit):
    told = results if unit is None else _in_unit(results, unit)
    Drawing(sheet_scale=scale).write(told, tmp_path)
    space = ezdxf.readfile(tmp_path / FILE).modelspace()
    metres = 0.3048 if unit is None else 1.0
    heights = {each.dxf.height * metres / scale / 0.0254 for each in space.query("TEXT")}
    assert sorted(heights) == [pytest.approx(0.08)]
    assert {each.dxf.style for each in space.query("TEXT")} == {"Standard"}
    assert f"Text is 0.08 in high on a sheet at 1:{scale}." in next(iter(space.query("MTEXT"))).plain_text()


def test_a_height_of_text_that_the_job_states_goes_before_that_of_the_sheet(results, tmp_path):
    Drawing(text="0.5 ft").write(results, tmp_path)
    space = ezdxf.readfile(tmp_path / FILE).modelspace()
    assert {each.dxf.height for each in space.query("TEXT")} == {0.5}


@pytest.mark.long
def test_no_visible_text_lies_over_another(results, tmp_path):
    """Boxes by the widths of letters that the library itself measures, not by ours."""
    from ezdxf.bbox import extents

    shots, crowd = results.shots, []
    for n in range(12):
        names = {name: shots[name] + f"+{n}" for name in ("shot_key", "shot")}
        crowd.append(shots.assign(easting=shots["easting"] + n, **names))
    layers = Layers({**dict(results.layers), "shots": pd.concat(crowd, ignore_index=True)}, frame=results.layers.frame)
    Drawing().write(Results(title=results.title, layers=layers, summary={}, record=results.record), tmp_path)
    document = ezdxf.readfile(tmp_path / FILE)
    off = {layer.dxf.name for layer in document.layers if layer.is_off()}
    space = document.modelspace()
    shown = [each for each in space.query("TEXT") if each.dxf.layer not in off and not each.dxf.invisible]
    names = [tag for block in space.query("INSERT") for tag in block.attribs]
    shown += [tag for tag in names if not tag.is_invisible]
    boxes = [extents([each]) for each in shown]
    flat = [(one.extmin.x, one.extmin.y, one.extmax.x, one.extmax.y) for one in boxes]
    assert len(flat) > 20
    assert any(tag.is_invisible and tag.dxf.tag == "POINT" for tag in names)
    over = [
        (one, other)
        for at, one in enumerate(flat)
        for other in flat[at + 1 :]
        if one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
    ]
    turned = {box for box, each in zip(flat, shown, strict=True) if each.dxf.rotation % 90.0}
    assert not [pair for pair in over if not turned & set(pair)]


def test_a_member_of_a_run_is_drawn_with_the_verdict_of_the_run(results, tmp_path):
    findings = results.findings.copy()
    findings.loc[findings["finding"] == "F000000000007", "finding"] = "F000000000042"  # the run's own, undecided
    layers = Layers({**dict(results.layers), "findings": findings}, frame=results.layers.frame)
    Drawing().write(Results(title=results.title, layers=layers, summary={}, record={}), tmp_path)
    blocks = {
        _said(each)["KEY"]: each for each in ezdxf.readfile(tmp_path / FILE).query('INSERT[name!="DESIGN-POINT"]')
    }
    assert blocks["day1/101"].dxf.layer == "CURB-TOP_UNDECIDED"


def test_an_arc_of_the_design_stays_an_arc(results, document):
    line = next(iter(document.modelspace().query('LWPOLYLINE[layer=="DESIGN_CURB-TOP"]')))
    points = line.get_points("xyb")
    arc = results.layers["design_elements"].iloc[1]
    start, end, bend = points[1][:2], points[2][:2], points[1][2]
    assert bend < 0  # it curves right
    assert bulge_radius(start, end, bend) == pytest.approx(arc["radius"], abs=1e-8)
    centre = bulge_center(start, end, bend)
    assert (centre.x, centre.y) == pytest.approx((arc["centre_easting"], arc["centre_northing"]), abs=1e-7)
    assert [point[2] for point in points[::2]] == [0.0, 0.0]


@pytest.mark.parametrize("sense", [1, -1])
@pytest.mark.parametrize("degrees", [1.0, 90.0, 200.0, 300.0, 360.0])
def test_every_point_of_a_drawn_arc_is_a_radius_from_its_centre(results, degrees, sense):
    elements = results.layers["design_elements"].iloc[1:2].copy()
    angle, radius, centre = np.radians(degrees), 100.0, np.array([2_228_700.0, 445_900.0])
    place = [centre + radius * np.array([np.sin(a), np.cos(a)]) for a in (0.0, sense * angle)]
    elements[["start_easting", "start_northing"]], elements[["end_easting", "end_northing"]] = place
    elements["length"], elements["sense"] = radius * angle, sense
    ((_, vertices),) = element_paths(elements)
    swept = 0.0
    for start, end in pairwise(vertices):
        middle = bulge_center(start[:2], end[:2], start[2])
        assert (middle.x, middle.y) == pytest.approx(centre, abs=1e-6)
        assert np.sign(start[2]) == -sense
        swept += 4.0 * np.arctan(abs(start[2]))
    assert swept == pytest.approx(angle)


@pytest.mark.long
def test_gdal_finds_the_design_arc_on_its_circle(document, results, tmp_path):
    found = pyogrio.read_dataframe(tmp_path / FILE)
    line = found[found["Layer"] == "DESIGN_CURB-TOP"].geometry.iloc[0]
    xy = np.array(line.coords)[:, :2]
    apart = np.hypot(*(xy - [2_228_700.0, 445_900.0]).T)
    on_arc = (xy[:, 0] >= 2_228_700.0) & (xy[:, 1] >= 445_900.0)
    assert on_arc.sum() > 10
    assert apart[on_arc] == pytest.approx(100.0, abs=1e-6)
    with fiona.open(tmp_path / FILE) as source:
        assert {record.properties["Layer"] for record in source} == set(found["Layer"])


def test_a_difference_arrow_starts_at_the_design_and_is_as_long_as_the_note_says(results, tmp_path):
    Drawing(exaggeration=50).write(results, tmp_path)
    space = ezdxf.readfile(tmp_path / FILE).modelspace()
    arrows = list(space.query('LWPOLYLINE[layer=="DIFFERENCE-X50_IN"]'))
    shot = results.shots.set_index("shot_key").loc["day1/100"]
    # the line runs east (azimuth 90), so right is south: 0.16 ft right means the design is 0.16 ft north
    start, tip = arrows[0].get_points("xy")[:2]
    assert start == pytest.approx((shot["easting"], shot["northing"] + 0.16), abs=1e-9)
    assert tip == pytest.approx((shot["easting"], shot["northing"] + 0.16 - 50 * 0.16), abs=1e-9)
    assert "Difference arrows are drawn 50 times" in next(iter(space.query("MTEXT"))).plain_text()


def test_an_arrow_that_would_be_too_long_ends_and_says_so(results, tmp_path):
    Drawing(exaggeration=50, longest_arrow="2 ft").write(results, tmp_path)
    space = ezdxf.readfile(tmp_path / FILE).modelspace()
    capped = list(space.query('LWPOLYLINE[layer=="DIFFERENCE-X50_IN_CAPPED"]'))
    shot = results.shots.set_index("shot_key").loc["day1/100"]
    start, tip = capped[0].get_points("xy")[:2]
    assert start == pytest.approx((shot["easting"], shot["northing"] + 0.16), abs=1e-9)
    assert tip == pytest.approx((shot["easting"], shot["northing"] + 0.16 - 2.0), abs=1e-9)
    assert "longer than 2.00 ft ends there" in next(iter(space.query("MTEXT"))).plain_text()


def test_labels_and_arrows_of_undecided_ones_are_switched_off(document):
    off = {layer.dxf.name for layer in document.layers if layer.is_off()}
    assert "LABEL_UNDECIDED" in off
    kept = [name for name in off if not name.endswith("_COVERED") and not name.startswith("BAND_")]
    assert all("UNDECIDED" in name and name.startswith(("LABEL", "DIFFERENCE")) for name in kept)
    assert not [layer.dxf.name for layer in document.layers if layer.is_off() and layer.dxf.name.startswith("ASBUILT")]


def test_what_is_switched_off_is_off_in_the_plain_form_too(results, tmp_path):
    LIGHT.write(results, tmp_path)
    document = ezdxf.readfile(tmp_path / FILE)
    assert "LABEL_UNDECIDED" in {layer.dxf.name for layer in document.layers if layer.is_off()}
    used = {each.dxf.layer for each in document.modelspace()}
    assert used <= {layer.dxf.name for layer in document.layers}


def test_shots_of_a_tilt_test_are_counted_and_not_drawn(results):
    shots = results.shots.assign(kind=["tilt-test", *results.shots["kind"].tolist()[1:]])
    layers = Layers({**dict(results.layers), "shots": shots}, frame=results.layers.frame)
    told = Results(title=results.title, layers=layers, summary={}, record={})
    before, after = (drawing_of(each, spacing=1.0, exaggeration=20) for each in (results, told))
    assert len(after.marks) == len(before.marks) - 1
    assert "1 shot of a tilt test is not drawn." in after.note
    assert not [line for line in after.note if "without a place" in line and line not in before.note]


def test_frame_code_foot_and_review_are_in_the_properties_and_in_the_note(document):
    said = dict(document.header.custom_vars.properties)
    assert said["geoqa horizontal"] == "EPSG:6547"
    assert said["geoqa unit_metres"] == "0.3048"
    assert said["geoqa vertical"] == "EPSG:8228"
    note = next(iter(document.modelspace().query("MTEXT"))).plain_text()
    assert "PRELIMINARY" in note
    assert "1 ft = 0.3048 m" in note
    assert "there arcs are chords, which leave them by 0.01 ft at the most." in note
    assert "…" not in note
    assert "not a certification" in note
    assert "811" in note


def test_out_and_undecided_items_are_labelled(document):
    texts = {text.dxf.layer.removesuffix("_COVERED"): text.dxf.text for text in document.modelspace().query("TEXT")}
    assert "CP-1" in texts["LABEL_OUT"] or "control-position" in texts["LABEL_OUT"]
    assert texts["LABEL_UNDECIDED"]
    assert not [text for text in texts.values() if set(text) & set("▲◆●×")]  # plain fonts have no such signs


def test_every_item_that_is_not_judged_has_a_label_once_as_the_note_counts_them(results, tmp_path):
    findings = results.layers["findings"]
    asked = findings.assign(
        item=[str(1 + n // 2) for n in range(len(findings))], verdict="NO_DATA", why="code-in-question"
    )
    told = Results(
        title=results.title, layers=Layers({**dict(results.layers), "findings": asked}, frame=results.layers.frame),
        summary=results.summary, record=results.record,
    )  # fmt: skip
    reported = told.reported[told.reported["easting"].notna()]
    labels = [each for each in drawing_of(told, spacing=1.0, exaggeration=10).labels if each.at]
    assert {each.layer for each in labels} == {"LABEL_NO-DATA"}
    assert {each.item for each in labels} == set(reported["item"])
    assert len(labels) == len(reported)
    assert all(each.text.endswith(" not judged") for each in labels)
    Drawing().write(told, tmp_path)
    document = ezdxf.readfile(tmp_path / FILE)
    shown = [text.dxf.text.partition(".")[0] for text in document.modelspace().query('TEXT[layer=="LABEL_NO-DATA"]')]
    assert len(set(shown)) == len(shown) > 0
    note = next(iter(document.modelspace().query("MTEXT"))).plain_text()
    assert f"cross: not judged: {len(told.reported)} findings" in note.replace("\n", " ")


def test_hostile_text_is_shown_and_not_obeyed(document):
    for block in document.modelspace().query("INSERT"):
        for attribute in block.attribs:
            text = attribute.dxf.text
            assert len(text) <= LONGEST
            assert "%%" not in text
            assert all(ord(each) >= 32 for each in text)


@pytest.mark.parametrize(
    ("text", "shown"),
    [("a\nb", "a / b"), ("%%%%d", "% % % %d"), ("^J^M", "^ J^ M"), ("x" * 300, "x" * 249 + "…"), ("nul\x00", "nul␀")],
)
def test_control_sequences_are_taken_apart(text, shown):
    assert cad_text(text) == shown


def test_layer_names_hold_capitals_digits_and_hyphens_only():
    assert layer_name("<script>|=,;", "NO_DATA") == "SCRIPT_NO-DATA"
    assert layer_name("雪") == "UNNAMED"


def test_above_the_limit_points_take_the_place_of_blocks(results, tmp_path):
    LIGHT.write(results, tmp_path)
    document = ezdxf.readfile(tmp_path / FILE)
    assert document.audit().errors == []
    assert len(document.query("INSERT")) == 0
    assert len(document.query("POINT")) > 0
    placed = results.shots[results.shots[["easting", "elevation"]].notna().all(axis=1)].sort_values("shot_key")
    shots = [point for point in document.query("POINT") if not point.dxf.layer.startswith("DESIGN-POINT")]
    points = [point.dxf.location for point in shots]
    assert [point.x for point in points] == pytest.approx(placed["easting"].tolist(), abs=1e-6)
    found = pyogrio.read_dataframe(tmp_path / FILE)
    assert (found.geometry.geom_type == "Point").sum() >= len(placed)
    assert LIGHT.read_back(results, tmp_path)[FILE]["light"] is True


def test_the_order_of_a_set_inside_the_library_does_not_reach_the_file(results, tmp_path, monkeypatch):
    from ezdxf.entitydb import EntityDB

    honest, written = EntityDB.dxf_types_in_use, []
    for turned in (False, True):
        monkeypatch.setattr(EntityDB, "dxf_types_in_use", lambda base, t=turned: sorted(honest(base), reverse=t))
        Drawing().write(results, tmp_path)
        written.append((tmp_path / FILE).read_bytes())
    assert written[0] == written[1]


def test_the_setting_that_holds_the_dates_is_put_back(results, tmp_path):
    Drawing().write(results, tmp_path)
    assert ezdxf.options.write_fixed_meta_data_for_testing is False


def test_a_drawing_whose_points_moved_is_found_out(results, tmp_path, monkeypatch):
    honest = dxf.drawing_of

    def spoil(*given, **options):
        from dataclasses import replace

        sheet = honest(*given, **options)
        sheet.marks = [replace(mark, easting=mark.northing, northing=mark.easting) for mark in sheet.marks]
        return sheet

    monkeypatch.setattr(dxf, "drawing_of", spoil)
    Drawing().write(results, tmp_path)
    monkeypatch.setattr(dxf, "drawing_of", honest)
    with pytest.raises(OutputError, match="first apart"):
        Drawing().read_back(results, tmp_path)


def test_a_drawing_in_the_other_foot_is_found_out(results, tmp_path, monkeypatch):
    monkeypatch.setitem(dxf.UNIT_CODES, "ft", 21)
    Drawing().write(results, tmp_path)
    monkeypatch.undo()
    with pytest.raises(OutputError, match="unit 21; international foot was written"):
        Drawing().read_back(results, tmp_path)


def test_a_label_says_where_beside_the_baseline_its_finding_is(results):
    findings = results.layers["findings"]
    said = findings.assign(baseline_place=[f"{n}+00.00, 3.00 ft left" for n in range(len(findings))])
    layers = Layers({**dict(results.layers), "findings": said}, frame=results.layers.frame)
    beside = Results(title=results.title, layers=layers, summary=results.summary, record=results.record)
    plain = [each.text for each in drawing_of(results, spacing=1.0, exaggeration=10).labels if each.at]
    labels = [each.text for each in drawing_of(beside, spacing=1.0, exaggeration=10).labels if each.at]
    assert plain
    assert len(set(labels)) == len(plain) == len(labels)
    for one, other in zip(plain, labels, strict=True):
        assert other.startswith(f"{one} (")
        assert other.endswith("+00.00, 3.00 ft left)")


def test_what_is_unused_is_collected_again_once_a_drawing_is_written_or_refused(results, tmp_path):
    Drawing().write(results, tmp_path)
    assert gc.isenabled()
    (tmp_path / FILE).write_text("no drawing", encoding="utf-8")
    with pytest.raises(OutputError):
        Drawing().read_back(results, tmp_path)
    assert gc.isenabled()


@pytest.mark.parametrize("light", [False, True])
def test_a_single_number_that_changed_on_disk_is_found_out(results, tmp_path, light):
    writer, coding = (LIGHT, "cp1252") if light else (Drawing(), "utf-8")
    writer.write(results, tmp_path)
    text = (tmp_path / FILE).read_text(encoding=coding)
    shot = text.index("\nPOINT\n" if light else "\nINSERT\n", text.index("ENTITIES"))
    tag = "\n30\n" if light else "\n 30\n"
    begins = text.index(tag, shot) + len(tag)
    ends = text.index("\n", begins)
    moved = repr(float(text[begins:ends]) + 0.01)
    (tmp_path / FILE).write_text(text[:begins] + moved + text[ends:], encoding=coding)
    with pytest.raises(OutputError, match="first apart"):
        writer.read_back(results, tmp_path)


def test_a_drawing_in_which_its_library_finds_an_error_is_not_written(results, tmp_path, monkeypatch):
    from ezdxf.document import Drawing as Document

    honest = Document.audit

    def audit(document):
        found = honest(document)
        found.add_error(1, "planted")
        return found

    monkeypatch.setattr(Document, "audit", audit)
    with pytest.raises(OutputError, match="does not pass its audit: planted"):
        Drawing().write(results, tmp_path)
    assert not (tmp_path / FILE).exists()
