"""Columns come back from their packed form as they went in; the reader here is written from the description alone."""

import base64
import json
import math
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geoqa.errors import OutputError
from geoqa.present.map.pack import Packer

WHOLE = st.integers(-(2**51), 2**51)
NEAR = st.integers(-200, 200)


def unpacked(packer):
    return zlib.decompress(base64.b64decode(packer.payload()), -15)


def read(packer, data, table, name):
    """Byte planes, lowest first; folded 0, -1, 1 …; one above for none; differences or distances from a base."""
    entry = packer.directory()["tables"][table]
    column, rows = entry["columns"][name], entry["rows"]
    values, last = [], column["base"]
    for row in range(rows):
        code = sum(data[column["at"] + plane * rows + row] << (8 * plane) for plane in range(column["planes"]))
        if column["none"] and code == 0:
            values.append(math.nan)
            continue
        code -= column["none"]
        value = (-(code + 1) // 2 if code % 2 else code // 2) + (last if column["delta"] else column["base"])
        last = value
        values.append(value)
    return values


def texts(packer, data, table, name):
    column = packer.directory()["tables"][table]["columns"][name]
    at, size = column["texts"]
    words = json.loads(data[at : at + size].decode("utf-8"))
    return [None if math.isnan(place) else words[int(place)] for place in read(packer, data, table, name)]


@given(st.lists(st.one_of(st.none(), WHOLE, NEAR), max_size=40), st.booleans())
def test_whole_numbers_come_back_as_they_were(values, delta):
    packer = Packer()
    column = np.array([math.nan if value is None else value for value in values], dtype=float)
    packer.table("t", len(column)).numbers("c", column, delta=delta)
    back = read(packer, unpacked(packer), "t", "c")
    assert [None if math.isnan(value) else value for value in back] == values


@given(st.lists(st.one_of(st.none(), st.text(st.characters(exclude_categories=["Cs"]), max_size=8)), max_size=20))
def test_texts_come_back_as_they_were(values):
    packer = Packer()
    packer.table("t", len(values)).texts("c", values)
    assert texts(packer, unpacked(packer), "t", "c") == values


@pytest.mark.parametrize(
    "name", ["101", "0042", "MH-7", "MH-007", "CP", "", "7a", "12345678901234567890", "0", "00", "Ä ²3", "9" * 15]
)
def test_names_come_back_as_they_were(name):
    packer = Packer()
    packer.table("t", 3).names("c", ["A1", name, "B"])
    data = unpacked(packer)
    number, width = (read(packer, data, "t", f"c.{part}")[1] for part in ("number", "width"))
    stem = texts(packer, data, "t", "c.stem")[1]
    assert stem + ("" if math.isnan(number) else str(int(number)).rjust(int(width), "0")) == name


def test_an_offset_far_beyond_sixteen_bits_is_not_clipped():
    packer = Packer()
    packer.table("t", 4).numbers("c", [10, 12, 2_228_500_123, 11])
    assert read(packer, unpacked(packer), "t", "c") == [10, 12, 2_228_500_123, 11]


def test_what_a_page_cannot_hold_exactly_is_refused():
    packer = Packer()
    with pytest.raises(OutputError, match=r"'c' holds 1e\+17, too large for the map"):
        packer.table("t", 1).numbers("c", [1e17])


def test_a_column_of_another_length_is_refused():
    packer = Packer()
    with pytest.raises(OutputError, match="'c' has 2 rows; its table has 3"):
        packer.table("t", 3).numbers("c", [1, 2])
