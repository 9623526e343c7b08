"""Hundreds of damaged copies of four sound files: each is read or refused in one sentence; none ends the program."""

import logging
import random
import re
import shutil
from collections import Counter

import geopandas as gpd
import numpy as np
import pytest
import shapely

from geoqa.errors import GeoqaError
from geoqa.read.design import DesignVector
from geoqa.read.vector.dxf import DesignDrawing

pytestmark = pytest.mark.long

COPIES = {"dxf": 150, "geojson": 150, "gpkg": 60, "shp": 60}
ODD = [b"1e300", b"-1e308", b"nan", b"", b"9" * 400, b"\xff\xfe", b"\\ud800", b"null", b"[]", b"0x1F", b"\x00", b"1,5"]


def sound(folder):
    """The four files, of lines with elevations, an arc and points."""
    import ezdxf

    lines = [
        shapely.LineString([(9.0 * n, 5.0, 900.0), (9.0 * n, 70.0, 901.0), (9.0 * n + 4, 90.0, 902.0)])
        for n in range(4)
    ]
    table = gpd.GeoDataFrame({"name": list("abcd"), "kind": ["curb-top"] * 4}, geometry=lines, crs="EPSG:6547")
    for suffix in ("geojson", "gpkg", "shp"):
        table.to_file(folder / f"design.{suffix}")
    document = ezdxf.new("R12")
    space = document.modelspace()
    document.blocks.new("HYD").add_attdef("NAME", (0, 0))
    space.add_line((0, 0, 9), (40, 50, 9), dxfattribs={"layer": "A"})
    space.add_polyline2d([(0, 0, 0.3), (40, 0, 0), (60, 9, 0)], format="xyb", dxfattribs={"layer": "B"})
    space.add_polyline3d([(0, 0, 1), (9, 9, 2), (30, 9, 3)], dxfattribs={"layer": "C"})
    space.add_arc((0, 0), 30, 10, 80, dxfattribs={"layer": "D"})
    space.add_blockref("HYD", (4, 4, 1), dxfattribs={"layer": "E"}).add_auto_attribs({"NAME": "H-1"})
    document.saveas(folder / "design.dxf")


def damaged(draw, data):
    """One of six damages, drawn at random."""
    at = draw.randrange(len(data))
    how = draw.randrange(6)
    if how == 0:
        return data[:at]
    if how == 1:
        return data[:at] + data[at + draw.randrange(1, 60) :]
    if how == 2:
        return data[:at] + draw.randbytes(draw.randrange(1, 9)) + data[at:]
    if how == 3:
        flipped = bytearray(data)
        for _ in range(draw.randrange(1, 12)):
            flipped[draw.randrange(len(data))] = draw.randrange(256)
        return bytes(flipped)
    words = [each.span() for each in re.finditer(rb"[\w.+-]+", data)]
    start, end = draw.choice(words)
    if how == 4:
        return data[:start] + draw.choice(ODD) + data[end:]
    other, last = draw.choice(words)
    return data[:start] + data[other:last] + data[end:]


def outcome(look, path):
    """The refusal in words, or what was found."""
    try:
        return None, look(path)
    except GeoqaError as error:
        return str(error), None


@pytest.mark.parametrize("suffix", COPIES)
def test_a_damaged_copy_is_read_or_refused_in_one_sentence(tmp_path, suffix, caplog):
    caplog.set_level(logging.CRITICAL + 1)  # what the drawing library logs quotes bytes that are no text
    sound(tmp_path)
    draw, counts = random.Random(f"damage {suffix}"), Counter()
    reader = DesignDrawing() if suffix == "dxf" else DesignVector()
    parts = ["shp", "shx", "dbf", "prj", "cpg"] if suffix == "shp" else [suffix]
    for copy in range(COPIES[suffix]):
        folder = tmp_path / str(copy)
        folder.mkdir()
        for part in parts:
            shutil.copy(tmp_path / f"design.{part}", folder)
        part = folder / f"design.{draw.choice(parts)}"
        part.write_bytes(damaged(draw, part.read_bytes()))
        path = folder / f"design.{suffix}"
        for look in (
            reader.peek,
            lambda path: reader.read(path, source="d"),
            lambda path: reader.words(path, kinds={}, codes={}),
        ):
            refusal, found = outcome(look, path)
            counts["refused" if refusal else "read"] += 1
            assert refusal is None or "'design." in refusal
            assert refusal is None or str(folder) not in refusal
            if hasattr(found, "layers") and isinstance(found.layers, dict):
                assert np.isfinite(found.layers["design_elements"]["length"]).all()
                found.layers["design_lines"]["line"].str.encode("utf-8")
    assert counts["read"] > 0.05 * counts.total()
    assert counts["refused"] > 0.05 * counts.total()
