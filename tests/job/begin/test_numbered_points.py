"""A number written on a code of points names the thing: the draft says so, and no line is made of it."""

import pytest

from geoqa.job.begin.begin import begin
from geoqa.job.inputs.descriptions import Splitter, previews

HEADED = "Point,Northing,Easting,Elevation,Code\n"
NAMED = HEADED + "".join(
    f"{n},{651300.1 + n},{8212400.1 + n},812.1,{code}\n"
    for n, code in enumerate(["WV2", "WV3 stuck", "CB1", "CB1 end", "CB1"])
)


@pytest.mark.parametrize("codes", ["code,kind,geometry\nWV,valve,point\nCB,curb-back,line\n"])
def test_a_number_on_a_code_of_points_is_no_line_and_init_says_so(tmp_path, codes):
    (tmp_path / "shots.csv").write_text(NAMED, encoding="utf-8")
    (tmp_path / "codes.csv").write_text(codes, encoding="utf-8")
    text = begin(tmp_path).path.read_text(encoding="utf-8")
    said = "# 2 shots of codes of points bear a number: WV2 is WV number 2, the name of the thing; it makes no line"
    assert said in text.splitlines()
    by = Splitter({"WV": ("point", "feature"), "CB": ("line", "feature")})
    assert [str(each) for each in previews(["WV2", "CB1"], by)] == [
        "CB: 1 shot, 1 line (1); e.g. 'CB1' = CB line 1",
        "WV: 1 shot, 1 number (2); e.g. 'WV2' = WV number 2",
    ]
