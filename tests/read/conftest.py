"""One invented design, written to every format a design can come in."""

import json
import math
from types import SimpleNamespace

import numpy as np
import pytest

LINES = {
    "CFL-L": (
        "curb-flow",
        [(2231000.0, 445000.0, 1458.0), (2231030.0, 445040.0, 1457.5), (2231060.0, 445040.0, 1457.25)],
    ),
    "CTB-L": ("curb-top", [(2231003.0, 445000.0, 1458.5), (2231033.0, 445040.0, 1458.0)]),
    "WKF-L": ("walk-front", [(2231008.0, 445000.5, 1458.625), (2231038.25, 445040.0, 1458.125)]),
}
POINTS = {"MH-1": ("rim", (2231010.5, 445020.25, 1457.875)), "VLV-7": ("valve", (2231020.5, 445022.25, 1457.75))}
WIDE = math.tan(math.radians(30.0) / 4.0)
"""Bulge of an arc of 30 degrees, to the left."""


class Design:
    """Writes the design; a file name comes back."""

    def __init__(self, folder):
        self.folder = folder

    def frame(self, what):
        import geopandas
        import shapely

        held = LINES if what == "lines" else POINTS
        shape = shapely.LineString if what == "lines" else shapely.Point
        return geopandas.GeoDataFrame(
            {"name": list(held), "kind": [kind for kind, _ in held.values()]},
            geometry=[shape(place) for _, place in held.values()],
            crs="EPSG:6547",
        )

    def gpkg(self):
        path = self.folder / "design.gpkg"
        self.frame("lines").to_file(path, layer="lines")
        self.frame("points").to_file(path, layer="points")
        return path

    def shp(self, what):
        path = self.folder / f"{what}.shp"
        self.frame(what).to_file(path)
        return path

    def collection(self):
        def feature(name, kind, shape, place):
            return {
                "type": "Feature",
                "properties": {"name": name, "kind": kind},
                "geometry": {"type": shape, "coordinates": place},
            }

        features = [feature(name, kind, "LineString", place) for name, (kind, place) in LINES.items()]
        features += [feature(name, kind, "Point", place) for name, (kind, place) in POINTS.items()]
        crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6547"}}
        return {"type": "FeatureCollection", "crs": crs, "features": features}

    def geojson(self, held=None):
        path = self.folder / "design.geojson"
        path.write_text(json.dumps(held or self.collection()), encoding="utf-8")
        return path

    def dxf(self):
        document = drawing()
        for name, (_, place) in LINES.items():
            document.modelspace().add_polyline3d(place, dxfattribs={"layer": name})
        block = document.blocks.new("MARK")
        block.add_attdef("NAME", (0, 0))
        for name, (kind, place) in POINTS.items():
            mark = document.modelspace().add_blockref("MARK", place, dxfattribs={"layer": kind})
            mark.add_auto_attribs({"NAME": name})
        return saved(document, self.folder)

    @property
    def layers(self):
        return {name: kind for name, (kind, _) in LINES.items()} | {kind: kind for kind, _ in POINTS.values()}


def drawing(unit=2):
    import ezdxf

    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = unit
    return document


def saved(document, folder):
    path = folder / "design.dxf"
    document.saveas(path)
    return path


@pytest.fixture
def design(tmp_path):
    return Design(tmp_path)


@pytest.fixture
def draw(tmp_path):
    """Draw with a function of the model space and read it back."""
    from geoqa.read.vector.dxf import DesignDrawing

    def go(make, *, unit=2, **options):
        document = drawing(unit)
        make(document.modelspace())
        return DesignDrawing(**options).read(saved(document, tmp_path), source="d")

    return go


def curved_elements():
    """A tangent, an arc of 30 degrees to the left and a tangent, as a table of elements, with its bulges."""
    import pandas as pd

    centre, radius, turn = np.array([2231100.0, 445200.0]), 100.0, math.radians(30.0)
    first = centre - np.array([0.0, radius])
    second = centre + radius * np.array([math.sin(turn), -math.cos(turn)])
    ahead = np.array([math.cos(turn), math.sin(turn)])
    places = [first - [50.0, 0.0], first, second, second + 40.0 * ahead]
    elevations = [1458.0, 1457.5, 1457.25, 1457.0]
    lengths = [50.0, radius * turn, 40.0]
    arc = [False, True, False]
    table = pd.DataFrame(
        {
            "line": "CFL-R",
            "sequence": [0, 1, 2],
            "shape": ["arc" if each else "line" for each in arc],
            "start_easting": [each[0] for each in places[:-1]],
            "start_northing": [each[1] for each in places[:-1]],
            "end_easting": [each[0] for each in places[1:]],
            "end_northing": [each[1] for each in places[1:]],
            "centre_easting": [centre[0] if each else np.nan for each in arc],
            "centre_northing": [centre[1] if each else np.nan for each in arc],
            "radius": [radius if each else np.nan for each in arc],
            "sense": [-1 if each else 0 for each in arc],
            "start_station": [0.0, lengths[0], lengths[0] + lengths[1]],
            "length": lengths,
            "start_elevation": elevations[:-1],
            "end_elevation": elevations[1:],
        }
    )
    return SimpleNamespace(table=table, places=places, elevations=elevations, bulges=[0.0, WIDE, 0.0, 0.0])


@pytest.fixture
def curved():
    return curved_elements()
