"""The same design from four formats is the same design."""

import numpy as np
import pandas as pd
import pytest

from geoqa.kernels.design.elements import Elements
from geoqa.model.quantity import FOOT
from geoqa.read.design import DesignVector
from geoqa.read.vector.dxf import DesignDrawing


def by_line(table):
    return table.sort_values(["line", "sequence"]).reset_index(drop=True)


def test_four_formats_give_equal_elements(design):
    read = {
        "gpkg": DesignVector().read(design.gpkg(), source="d"),
        "geojson": DesignVector().read(design.geojson(), source="d"),
        "shp": DesignVector().read(design.shp("lines"), source="d"),
        "dxf": DesignDrawing(layers=design.layers).read(design.dxf(), source="d"),
    }
    truth = by_line(read["gpkg"].layers["design_elements"])
    assert len(truth) == 4
    assert truth["length"].tolist()[0] == 50.0
    for source in read.values():
        pd.testing.assert_frame_equal(by_line(source.layers["design_elements"]), truth, check_exact=True)
        lines = source.layers["design_lines"].sort_values("line").reset_index(drop=True)
        assert lines["line"].tolist() == ["CFL-L", "CTB-L", "WKF-L"]
        assert lines["kind"].tolist() == ["curb-flow", "curb-top", "walk-front"]
        assert not any(each.has_z for each in lines["geometry"])
        assert source.troubles == ()
    assert [read[each].crs for each in ("gpkg", "geojson", "shp")] == ["EPSG:6547"] * 3
    assert (read["dxf"].crs, read["dxf"].unit) == (None, FOOT)


def test_four_formats_give_equal_points(design):
    tables = [
        DesignVector().read(design.gpkg(), source="d").layers["design_points"],
        DesignVector().read(design.geojson(), source="d").layers["design_points"],
        DesignVector().read(design.shp("points"), source="d").layers["design_points"],
        DesignDrawing(layers=design.layers).read(design.dxf(), source="d").layers["design_points"],
    ]
    for table in tables:
        ordered = table.sort_values("point").reset_index(drop=True)
        assert ordered["point"].tolist() == ["MH-1", "VLV-7"]
        assert ordered["kind"].tolist() == ["rim", "valve"]
        assert ordered[["easting", "northing", "elevation"]].iloc[0].tolist() == [2231010.5, 445020.25, 1457.875]


def test_an_arc_is_the_same_arc_from_a_drawing_and_from_a_table_of_elements(design, curved, draw):
    import geopandas
    import pyogrio
    import shapely

    path = design.folder / "curved.gpkg"
    line = shapely.LineString([(*place, z) for place, z in zip(curved.places, curved.elevations, strict=True)])
    geopandas.GeoDataFrame({"name": ["CFL-R"], "kind": ["curb-flow"]}, geometry=[line], crs="EPSG:6547").to_file(
        path, layer="lines"
    )
    pyogrio.write_dataframe(curved.table, path, layer="elements")
    from_table = DesignVector().read(path, source="d").layers["design_elements"]
    rows = [(*place, bulge) for place, bulge in zip(curved.places, curved.bulges, strict=True)]
    from_drawing = draw(lambda space: space.add_lwpolyline(rows, format="xyb", dxfattribs={"layer": "CFL-R"})).layers[
        "design_elements"
    ]
    flat = ["start_elevation", "end_elevation"]
    pd.testing.assert_frame_equal(from_table.drop(columns=flat), from_drawing.drop(columns=flat), rtol=0, atol=1e-8)
    assert from_table["start_elevation"].tolist() == [1458.0, 1457.5, 1457.25]
    assert from_drawing["start_elevation"].isna().all()


@pytest.mark.parametrize("form", ["gpkg", "geojson", "dxf"])
def test_what_a_reader_gives_is_what_the_kernels_take(design, form):
    reader = DesignDrawing(layers=design.layers) if form == "dxf" else DesignVector()
    table = reader.read(getattr(design, form)(), source="d").layers["design_elements"]

    def pair(name):
        return table[[f"{name}_easting", f"{name}_northing"]].to_numpy(float)

    made = Elements(
        line=pd.factorize(table["line"])[0],
        shape=(table["shape"] == "arc").to_numpy(np.int8),
        start=pair("start"),
        end=pair("end"),
        centre=pair("centre"),
        **{name: table[name].to_numpy(float) for name in ("radius", "start_station", "length")},
        sense=table["sense"].to_numpy(),
        start_elevation=table["start_elevation"].to_numpy(float),
        end_elevation=table["end_elevation"].to_numpy(float),
    )
    assert len(made.line) == 4


def test_reading_a_design_leaves_its_file_as_it_was(design):
    for path, reader in ((design.gpkg(), DesignVector()), (design.dxf(), DesignDrawing())):
        before = path.read_bytes()
        reader.peek(path)
        reader.read(path, source="d")
        assert path.read_bytes() == before
        assert sorted(each.name for each in design.folder.iterdir()) == sorted(
            {each.name for each in design.folder.iterdir()} - {"design.gpkg-wal", "design.gpkg-shm"}
        )


def test_a_peek_lists_layers_and_the_coordinate_system(design):
    seen = DesignVector().peek(design.gpkg())
    assert (seen.layers, seen.columns, seen.crs) == (("lines", "points"), ("name", "kind"), "EPSG:6547")
    seen = DesignVector().peek(design.geojson())
    assert (seen.layers, seen.crs) == (("design",), "EPSG:6547")
    seen = DesignDrawing().peek(design.dxf())
    assert ("CFL-L", "POLYLINE", "1") in seen.rows
    assert seen.evidence[0].answer == "ft"
