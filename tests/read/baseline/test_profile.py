"""The profile and the section from tables, and what is refused with its line."""

import numpy as np
import pytest

from geoqa.errors import SourceError
from geoqa.read.baseline.profile import ProfileTable
from geoqa.read.baseline.section import SectionTable


def read(reader, tmp_path, text):
    file = tmp_path / "file.csv"
    file.write_text(text)
    return reader().read(file, source="section")


def test_points_with_equal_and_unequal_curves(tmp_path):
    text = "PVI,elev,curve,curve_in,curve_out\n10+00,100,,,\n14+00,92,300,,\n20+00,96,,100,160\n25+00,90,,,\n"
    rows = read(ProfileTable, tmp_path, text).layers["baseline_profile"]
    assert rows["station"].tolist() == [1000, 1400, 2000, 2500]
    assert rows[["curve_in", "curve_out"]].to_numpy().tolist() == [[0, 0], [150, 150], [100, 160], [0, 0]]


@pytest.mark.parametrize(("text", "said"), [
    ("10+00,100,\n14+00,92,\n13+00,96,\n", "line 4: this point of the profile does not come after the one before it"),
    ("10+00,100,\n14+00,92,300\n15+00,96,200\n20+00,96,\n", "line 4: .*overlaps the one before it by 150.00"),
    ("10+00,100,200\n14+00,92,\n", "line 2: .*first or last"),
    ("10+00,100,\n14+5,92,\n", r"line 3: station '14\+5' is none; write 12\+50.25"),
])  # fmt: skip
def test_a_profile_that_cannot_be_is_refused(tmp_path, text, said):
    with pytest.raises(SourceError, match=f"'file.csv', {said}"):
        read(ProfileTable, tmp_path, "station,elevation,curve\n" + text)


def test_points_after_stated_equations_are_left_to_the_baseline(tmp_path):
    rows = read(ProfileTable, tmp_path, "station,elevation\n14+00,92\n13+00 (after equation 1),96\n").layers[
        "baseline_profile"
    ]
    assert rows["equation"].tolist()[1] == 1


def test_a_section_with_slopes_of_every_kind(tmp_path):
    text = ("line,kind,from,to,after,width,slope,rise\nFL,curb-flow,10+00,20+00,,-16,-2 %,\n"
            "TB,curb-top,10+00,20+00,FL,-0.5,,0.5\n"
            "WF,walk-front,10+00,20+00,TB,-5,1:48,\n"
            "WB,walk-back,10+00,20+00 (after equation 1),WF,-5,0.015,\n")  # fmt: skip
    rows = read(SectionTable, tmp_path, text).layers["section"]
    np.testing.assert_allclose(rows["slope"], [-0.02, 0, 1 / 48, 0.015])
    assert rows["rise"].tolist() == [0, 0.5, 0, 0]
    assert rows["to_equation"].isna().tolist() == [True, True, True, False]


@pytest.mark.parametrize(("row", "said"), [
    ("FL,curb-flow,10+00,20+00,-16,steep", "line 2: slope 'steep' is none"),
    ("FL,curb-flow,10+00,20+00,-16,-200", "line 2: slope '-200' is none"),
    ("FL,curb-flow,here,20+00,-16,", "line 2: from_station 'here' is none"),
    (",curb-flow,10+00,20+00,-16,", "1 row cannot be read whole"),
    ("FL,curb-flow,10+00,20+00,wide,", "cannot be read whole"),
])  # fmt: skip
def test_a_section_that_cannot_be_is_refused(tmp_path, row, said):
    with pytest.raises(SourceError, match=said):
        read(SectionTable, tmp_path, f"line,kind,from,to,width,slope\n{row}\n")


def test_superelevation_is_said_not_to_be_used(tmp_path):
    text = "line,kind,from,to,width,superelevation\nFL,curb-flow,10+00,20+00,-16,4 %\n"
    source = read(SectionTable, tmp_path, text)
    assert "superelevation: not used (banked" in "; ".join(str(each) for each in source.evidence)
    assert source.layers["section"]["left_out"].tolist() == ["superelevation"]
