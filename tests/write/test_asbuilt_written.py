"""As-built lines on disk: in space where their elevations are known, arcs kept, and read back."""

from dataclasses import replace

import ezdxf
import numpy as np
import pandas as pd
import pyogrio
import pytest
import shapely

from geoqa import testing
from geoqa.errors import OutputError
from geoqa.model.tables.layer import Layers
from geoqa.read.landxml.design import DesignLandXML
from geoqa.steps.linework.asbuilt_lines import AsBuiltLines
from geoqa.write.cad.dxf import Drawing
from geoqa.write.cad.landxml import LandXML
from geoqa.write.gis.geopackage import GeoPackage


def _string(name, places, **more):
    return [
        {"offset": e, "station": n, "elevation": z, "line_id": name, "sequence": nth, "shot": f"{name}{nth}"}
        | ({"line_word": word[0]} if word else {}) | more
        for nth, (e, n, z, *word) in enumerate(places)
    ]  # fmt: skip


@pytest.fixture
def lined(results):
    """The results, with a line that curves, a closed one, and one that lacks an elevation."""
    at = np.radians([180.0, 150.0, 120.0, 90.0])
    bend = [(25 + 25 * np.cos(a), 100 + 25 * np.sin(a), 10.0 + nth, "arc") for nth, a in enumerate(at)]
    rows = _string("1", [(0, 60, 9.0), *bend, (60, 125, 14.0)])
    rows += _string("2", [(100, 0, 5.0), (140, 0, 6.0), (140, 40, 7.0), (100, 40, 8.0, "close")])
    rows += _string("3", [(200, 0, 5.0), (200, 25, np.nan), (200, 50, 5.0)])
    done = testing.run(testing.layers(shots=testing.judged_shots(rows)), AsBuiltLines())
    names = ("asbuilt_lines", "asbuilt_areas", "asbuilt_elements", "asbuilt_members")
    design = testing.design({"CURB": ("curb-top", 300.0, 0.0, 50.0)})["design_elements"]
    tables = {**dict(results.layers), **{name: done[name] for name in names}}
    tables["design_elements"] = pd.concat([tables["design_elements"], design], ignore_index=True)
    return replace(results, layers=Layers(tables, frame=results.layers.frame))


@pytest.mark.long
def test_the_geopackage_has_lines_in_space_only_where_all_elevations_are_known(lined, tmp_path):
    writer = GeoPackage()
    writer.write(lined, tmp_path)
    writer.read_back(lined, tmp_path)
    found = pyogrio.read_dataframe(tmp_path / "checked.gpkg", layer="asbuilt_lines").set_index("line")
    assert found.geometry.has_z.to_dict() == {"CTB 1": True, "CTB 2": True, "CTB 3": False}
    bend = shapely.get_coordinates(found.geometry["CTB 1"], include_z=True)
    assert bend[[0, 1, -1], 2].tolist() == [9.0, 10.0, 14.0]
    assert (np.diff(bend[:, 2]) > 0).all()
    assert shapely.get_coordinates(found.geometry["CTB 2"], include_z=True)[:, 2].tolist() == [5.0, 6.0, 7.0, 8.0, 5.0]
    assert found.geometry["CTB 2"].is_ring
    areas = pyogrio.read_dataframe(tmp_path / "checked.gpkg", layer="asbuilt_areas").set_index("line")
    assert areas.index.tolist() == ["CTB 2"]
    assert areas.geometry["CTB 2"].geom_type == "Polygon"
    assert areas.geometry["CTB 2"].has_z
    # 40 by 40
    assert areas.loc["CTB 2", "area"] == pytest.approx(1600.0)
    assert areas.geometry["CTB 2"].area == pytest.approx(1600.0)


def test_the_drawing_keeps_arcs_in_plan_and_draws_lines_and_design_in_space(lined, tmp_path):
    writer = Drawing()
    writer.write(lined, tmp_path)
    assert writer.read_back(lined, tmp_path)["checked.dxf"]["lines in space"] >= 2
    space = ezdxf.readfile(tmp_path / "checked.dxf").modelspace()
    flat = [each for each in space.query("LWPOLYLINE") if each.dxf.layer == "ASBUILT_CURB-TOP"]
    assert len(flat) == 3
    bulges = [point[4] for each in flat for point in each.get_points()]
    assert sum(abs(bulge) > 0 for bulge in bulges) == 3
    assert min(bulges) == pytest.approx(-np.tan(np.radians(30) / 4))
    raised = [each for each in space.query("POLYLINE") if each.dxf.layer == "ASBUILT_3D_CURB-TOP"]
    assert [len(each) > 4 for each in raised] == [True, True]
    assert list(raised[1].points())[2].z == 7.0
    assert [each for each in space.query("POLYLINE") if each.dxf.layer.startswith("DESIGN_3D")]


def test_a_line_in_space_that_changed_on_disk_is_found_out(lined, tmp_path):
    writer = Drawing()
    writer.write(lined, tmp_path)
    text = (tmp_path / "checked.dxf").read_text(encoding="utf-8")
    begins = text.index("\n 30\n", text.index("\nAcDb3dPolylineVertex\n")) + 5
    ends = text.index("\n", begins)
    moved = text[:begins] + repr(float(text[begins:ends]) + 0.01) + text[ends:]
    (tmp_path / "checked.dxf").write_text(moved, encoding="utf-8")
    with pytest.raises(OutputError, match="or moved"):
        writer.read_back(lined, tmp_path)


def test_a_line_in_space_that_moved_is_found_out(lined, tmp_path):
    Drawing().write(lined, tmp_path)
    document = ezdxf.readfile(tmp_path / "checked.dxf")
    line = next(each for each in document.modelspace().query("POLYLINE") if each.is_3d_polyline)
    line.vertices[1].dxf.location += (0, 0, 0.5)
    document.saveas(tmp_path / "checked.dxf")
    with pytest.raises(OutputError, match="in space"):
        Drawing().read_back(lined, tmp_path)


def test_landxml_keeps_arcs_with_their_elevations(lined, tmp_path):
    writer = LandXML()
    writer.write(lined, tmp_path)
    writer.read_back(lined, tmp_path)
    reader = DesignLandXML(states=("existing",), kinds={"CTB *": "curb-top", "*": ""})
    found = reader.read(tmp_path / "asbuilt.xml", source="x").layers["design_elements"]
    bend = found[found["line"] == "CTB 1"]
    assert bend["shape"].tolist() == ["line", "arc", "arc", "arc", "line"]
    assert bend["radius"].dropna().to_numpy() == pytest.approx(np.full(3, 25.0))
    assert bend["sense"].tolist() == [0, 1, 1, 1, 0]
    assert bend["end_elevation"].tolist() == [10.0, 11.0, 12.0, 13.0, 14.0]
    text = (tmp_path / "asbuilt.xml").read_text(encoding="utf-8").replace("<Center>", "<Center>1", 1)
    (tmp_path / "asbuilt.xml").write_text(text, encoding="utf-8")
    with pytest.raises(OutputError, match="lines"):
        writer.read_back(lined, tmp_path)
