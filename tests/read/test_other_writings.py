"""Limits and sizes in files whose numbers have commas; quantities of more figures than any number has."""

import pytest

from geoqa.errors import QuantityError, SourceError
from geoqa.model.quantity import Slope
from geoqa.read.screening import ScreeningText
from geoqa.read.slope_readings import ReadingsText
from geoqa.read.structures import StructuresText

HEAD = "structure,rim shot,pipe,direction,measure_down,size\n"


def read(reader, path, text):
    path.write_text(text, encoding="utf-8")
    return reader().read(path, source="a")


def test_limits_with_decimal_commas_are_numbers(tmp_path):
    rows = "kind;field;worst\n*;pdop;2,5\n*;reported_v;0,06 ft\n*;solution;fixed\n"
    worst = read(ScreeningText, tmp_path / "a.csv", rows).layers["screening"]["worst"]
    assert worst.tolist() == ["2.5", "0.06 ft", "fixed"]


def test_sizes_with_decimal_commas_are_sizes(tmp_path):
    rows = HEAD.replace(",", ";") + "MH-1;101;P-1;out;8,31;7,5 in\nMH-2;102;P-1;in;9,02;8 in\n"
    source = read(StructuresText, tmp_path / "a.csv", rows)
    assert source.layers["structure_notes"]["diameter"].tolist() == pytest.approx([7.5 * 0.0254, 8 * 0.0254])
    assert source.troubles == ()


def test_a_size_with_a_comma_among_points_is_told(tmp_path):
    rows = HEAD + 'MH-1,101,P-1,out,8.31,"7,5 in"\nMH-2,102,P-1,in,9.02,8.5 in\n'
    source = read(StructuresText, tmp_path / "a.csv", rows)
    assert source.layers["structure_notes"]["diameter"].isna().tolist() == [True, False]
    ((line, column),) = [(each.line, each.column) for each in source.troubles]
    assert (line, column) == (2, "size")


@pytest.mark.parametrize("text", ["9" * 400 + " %", "1:" + "9" * 400, "9" * 400 + ":1"])
def test_a_slope_of_hundreds_of_figures_is_none(tmp_path, text):
    with pytest.raises(QuantityError):
        Slope.parse(text)
    with pytest.raises(SourceError, match="line 2"):
        read(ReadingsText, tmp_path / "a.csv", f"place,value\n101,{text}\n102,1.5 %\n")
