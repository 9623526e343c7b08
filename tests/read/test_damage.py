"""Files with random damage: read or refused in words, and no other ending."""

import json
import logging
import random

import pytest

from geoqa.errors import SourceError
from geoqa.read.control import ControlText
from geoqa.read.design import DesignVector
from geoqa.read.shots import ShotsText
from geoqa.read.vector.dxf import DesignDrawing

ROUNDS = 60
BITS = [b",", b";", b"\t", b'"', b"\n", b"\r", b"\x00", b"\xff", b"1e999", b"NaN", b"-", b"[]", b"{}", b"null", b"\xc3"]


def damaged(held, rng):
    data = bytearray(held)
    for _ in range(rng.choice([1, 2, 5, 20])):
        at, how = rng.randrange(len(data) + 1), rng.randrange(4)
        if how == 0:
            data[at:at] = rng.choice(BITS)
        elif how == 1:
            del data[at : at + rng.choice([1, 3, 20, 200])]
        elif how == 2:
            data[at : at + 1] = bytes([rng.randrange(256)])
        else:
            start = rng.randrange(len(data) + 1)
            data[at:at] = data[start : start + rng.choice([5, 50, 300])]
    return bytes(data)


@pytest.fixture
def whole(design):
    rows = "".join(f'P{n},{2231000 + n}.125,445000.5,1458.25,CTB,"a, b",2026-03-14T14:05:22Z\n' for n in range(30))
    marks = "".join(f"M{n},{2231000 + n}.125,445000.5,1458.25,yes\n" for n in range(5))
    return {
        "shots.csv": (ShotsText, ("point,easting,northing,elevation,code,note,time\n" + rows).encode()),
        "control.csv": (ControlText, ("mark,easting,northing,elevation,held\n" + marks).encode()),
        "design.geojson": (DesignVector, json.dumps(design.collection()).encode()),
        "design.dxf": (DesignDrawing, design.dxf().read_bytes()),
        "design.gpkg": (DesignVector, design.gpkg().read_bytes()),
    }


@pytest.mark.long
@pytest.mark.parametrize("name", ["shots.csv", "control.csv", "design.geojson", "design.dxf", "design.gpkg"])
def test_a_damaged_file_is_read_or_refused_in_words(whole, design, name, caplog):
    # the drawing library logs the damaged bytes themselves; a log of half characters cannot travel between processes
    caplog.set_level(logging.CRITICAL + 1, logger="ezdxf")
    reader, held = whole[name]
    rng = random.Random(f"damage {name}")
    path = design.folder / name
    endings, words = {"read": 0, "refused": 0}, ""
    for _ in range(ROUNDS):
        path.write_bytes(damaged(held, rng))
        try:
            reader().peek(path)
            source = reader().read(path, source="d")
        except SourceError as error:
            words = str(error)
            endings["refused"] += 1
        else:
            assert any(len(table) for table in source.layers.values())
            endings["read"] += 1
    assert sum(endings.values()) == ROUNDS
    assert endings["refused"] > 0
    assert len(words) > 20
