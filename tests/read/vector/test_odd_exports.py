"""Vector files as exports leave them: each is read, or refused in one sentence that says what to do."""

import json
import shutil
import struct
import warnings

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
import shapely
from shapely import GeometryCollection, LineString, MultiLineString, MultiPolygon, Point, Polygon

from geoqa.errors import GeoqaError
from geoqa.job.begin.begin import begin
from geoqa.job.check import check
from geoqa.read.design import DesignVector

EAST, NORTH = 2_010_000.0, 700_000.0
LEG = [[EAST, NORTH], [EAST + 30.0, NORTH + 40.0]]
LINE = {"type": "LineString", "coordinates": LEG}
SLOPING = Polygon([(EAST, NORTH, 5), (EAST + 10, NORTH, 6), (EAST + 10, NORTH + 10, 7)])
BESIDE = shapely.transform(SLOPING, lambda places: places + 50, include_z=True)
WORK = "limits-of-work"


def collection(*shapes, name="A", kind="curb-top"):
    features = [{"type": "Feature", "properties": {"name": f"{name}{n}", "kind": kind}, "geometry": shape}
                for n, shape in enumerate(shapes)]  # fmt: skip
    return json.dumps({"type": "FeatureCollection", "features": features}).encode()


def drawn(path, shapes, kinds):
    names = [f"A{n}" for n in range(len(shapes))]
    gpd.GeoDataFrame({"name": names, "kind": kinds}, geometry=shapes, crs="EPSG:6543").to_file(path)


def multipatch(path):
    """One triangle strip (shape type 31), by the published layout of the format."""
    spots = [(EAST, NORTH, 1.0), (EAST, NORTH + 10, 2.0), (EAST + 10, NORTH, 3.0)]
    low, high = [min(each) for each in zip(*spots, strict=True)], [max(each) for each in zip(*spots, strict=True)]
    record = struct.pack("<i4d2i2i", 31, *low[:2], *high[:2], 1, 3, 0, 0)
    record += b"".join(struct.pack("<2d", *each[:2]) for each in spots)
    record += struct.pack("<5d", low[2], high[2], *(each[2] for each in spots))
    content = struct.pack(">2i", 1, len(record) // 2) + record

    def head(size):
        bounds = (*low[:2], *high[:2], low[2], high[2], 0.0, 0.0)
        return struct.pack(">7i", 9994, 0, 0, 0, 0, 0, size // 2) + struct.pack("<2i8d", 1000, 31, *bounds)

    path.write_bytes(head(100 + len(content)) + content)
    path.with_suffix(".shx").write_bytes(head(108) + struct.pack(">2i", 50, len(record) // 2))
    table = pd.DataFrame({"name": ["A"], "kind": ["curb-top"]})
    pyogrio.write_dataframe(table, path.with_suffix(".dbf"), driver="ESRI Shapefile", layer=path.stem)


def alone(path):
    drawn(path.with_name("whole.shp"), [SLOPING], [WORK])
    shutil.copy(path.with_name("whole.shp"), path)


TABLE = pd.DataFrame({"a": [1]})
READ = {
    "ring.geojson": lambda path: path.write_bytes(
        collection({"type": "Polygon", "coordinates": [[*LEG, [EAST, NORTH + 40]]]}, LINE, kind=WORK)
    ),
    "empty.geojson": lambda path: path.write_bytes(collection({"type": "LineString", "coordinates": []}, None, LINE)),
    "polygons.shp": lambda path: drawn(path, [SLOPING, MultiPolygon([BESIDE])], [WORK, WORK]),
    "nulls.shp": lambda path: drawn(path, [LineString(LEG), None, LineString(LEG)], ["curb-top", "curb-top", None]),
    "parts.shp": lambda path: drawn(path, [MultiLineString([LEG, [[EAST + 99, NORTH], [EAST + 130, NORTH]]])], ["a"]),
    "mixed.gpkg": lambda path: drawn(path, [LineString(LEG), Point(EAST, NORTH), SLOPING, None], ["a", "b", WORK, "a"]),
}  # fmt: skip
HELD = {"type": "GeometryCollection", "geometries": [LINE]}
NAMELESS = {"type": "FeatureCollection", "features": [{"type": "Feature", "properties": None, "geometry": LINE}]}
GATHERED = GeometryCollection([LineString(LEG), Point(EAST, NORTH)])
ONLY = "only lines and points are read"


def holds(data):
    """A file of these bytes; of a shapefile its index too."""
    return lambda path: [
        each.write_bytes(data) for each in ([path, path.with_suffix(".shx")] if path.suffix == ".shp" else [path])
    ]


def package_by_another_name(path):
    drawn(path.with_suffix(".gpkg"), [LineString(LEG)], ["a"])
    path.with_suffix(".gpkg").rename(path)


REFUSED = {
    "collection.geojson": (holds(collection(HELD)), "is a GeometryCollection; only lines and points"),
    "bare.geojson": (holds(json.dumps(HELD).encode()), "Export the design as features"),
    "none.geojson": (holds(collection()), "holds no feature. Export it again"),
    "nameless.geojson": (holds(json.dumps(NAMELESS).encode()), "State the attribute that holds the kind"),
    "zero.geojson": (holds(b""), "is empty; export it again"),
    "zero.shp": (holds(b""), "is empty; export it again"),
    "zero.gpkg": (holds(b""), "is empty; export it again"),
    "json.gpkg": (holds(collection(LINE)), "no whole GeoPackage .* Export it again"),
    "json.shp": (holds(collection(LINE)), "does not begin as one. Export it again"),
    "alone.shp": (alone, "'alone.shx' is not beside it. Copy the files"),
    "patch.shp": (multipatch, ONLY),
    "gathered.gpkg": (lambda path: drawn(path, [GATHERED], ["a"]), ONLY),
    "table.gpkg": (lambda path: pyogrio.write_dataframe(TABLE, path, layer="t"), r"its tables \(t\) draw nothing. Exp"),
    "package.geojson": (package_by_another_name, "is a database file, perhaps a GeoPackage"),
}  # fmt: skip


def made(folder, name, make):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the writers, who know that such files are odd
        make(folder / name)
    return folder / name


@pytest.mark.parametrize("name", READ)
def test_what_can_be_read_is_read_and_the_rest_is_told(tmp_path, name):
    source = DesignVector().read(made(tmp_path, name, READ[name]), source="d")
    held = len(source.layers["design_lines"]) + len(source.layers["design_points"])
    assert held >= 1
    odd = {"ring.geojson": 1, "empty.geojson": 2, "polygons.shp": 0, "nulls.shp": 2, "parts.shp": 0, "mixed.gpkg": 1}
    assert len(source.troubles) == odd[name]


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_read_is_refused_with_its_name_and_what_to_do(tmp_path, name):
    make, said = REFUSED[name]
    with pytest.raises(GeoqaError, match=f"(?s)^'{name.split('.')[0]}.*{said}"):
        DesignVector().read(made(tmp_path, name, make), source="d")


@pytest.mark.long
def test_a_folder_of_them_all_is_listed_and_its_draft_is_no_crash(tmp_path):
    for name, make in {**READ, **{name: make for name, (make, _) in REFUSED.items()}}.items():
        made(tmp_path, name, make)
    rows = "".join(f"{n},{EAST + 3 * n},{NORTH + 4 * n},100,CT\n" for n in range(9))
    (tmp_path / "day.csv").write_text("point,easting,northing,elevation,code\n" + rows)
    text = begin(tmp_path, frame="EPSG:6543").path.read_text(encoding="utf-8")
    for name in (*READ, *REFUSED):
        assert f"#   {name}: " in text
    (tmp_path / "job.toml").write_text(text.replace('"REQUIRED"', '"codes_draft.csv"', 1), encoding="utf-8")
    check(tmp_path / "job.toml")


def test_a_vertex_out_of_all_proportion_is_told_and_the_line_is_read(tmp_path):
    at = [(2_228_000.0 + 40 * step, 446_000.0) for step in range(5)]
    stray = [*at[:2], (at[2][0], 2_446_000.0), *at[3:]]
    path = tmp_path / "lines.gpkg"
    table = {"kind": ["curb", "curb", "row"], "name": ["A", "B", "C"]}
    far = [(2_000_000.0, 400_000.0), (2_100_000.0, 400_000.0), (2_200_000.0, 410_000.0)]
    gpd.GeoDataFrame(table, geometry=[*map(LineString, (at, stray, far))], crs="EPSG:6547").to_file(path)
    source = DesignVector().read(path, source="lines")
    assert len(source.layers["design_lines"]) == 3
    (told,) = source.troubles
    assert (told.text, told.kept) == ("B", True)
    assert told.reason.startswith("has its vertex 3 2,000,000 from the next one, the others no more than 40; read as")
