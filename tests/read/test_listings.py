"""Control, codes and screening."""

import numpy as np
import pytest

from geoqa.errors import SourceError
from geoqa.model.quantity import US_SURVEY_FOOT
from geoqa.read.codes import CodesText
from geoqa.read.control import ControlText
from geoqa.read.screening import ScreeningText


@pytest.fixture
def read(tmp_path):
    def go(reader, text, **options):
        path = tmp_path / "list.csv"
        path.write_text(text, encoding="utf-8")
        return reader(**options).read(path, source="d")

    return go


def test_control_marks_come_with_what_is_known_of_them(read):
    source = read(
        ControlText,
        "mark,easting,northing,elevation,u_h,u_v,held,independent,reference\n"
        "001,2231543.123,445566.777,1458.104,0.01,0.02,yes,no,sheet 3\n"
        "CP-2,2231544.5,445567.5,,,,FALSE,1,\n",
    )
    control = source.layers["control"]
    assert control["mark"].tolist() == ["001", "CP-2"]
    np.testing.assert_array_equal(control["elevation"], [1458.104, np.nan])
    np.testing.assert_array_equal(control["u_h"], [0.01, np.nan])
    assert control["held"].tolist() == [True, False]
    assert control["independent"].tolist() == [False, True]
    assert control["reference"].isna().tolist() == [False, True]
    assert source.troubles == ()


def test_control_without_held_and_independent_says_what_it_takes(read):
    source = read(ControlText, "name;e_usft;n_usft\nA;1,25;2000,5\n")
    assert source.layers["control"][["held", "independent"]].iloc[0].tolist() == [False, False]
    assert source.layers["control"]["easting"].tolist() == [1.25]
    assert source.unit == US_SURVEY_FOOT
    assert [each.answer for each in source.evidence if each.what in ("held", "independent")] == [
        "no, for every mark"
    ] * 2


def test_codes_take_their_usual_geometry_and_role(read):
    source = read(
        CodesText,
        'code,kind,geometry,role,pairs_with,meaning\nCTB,curb-top,Line,,CFL,"top, back of curb"\n'
        "CFL,curb-flow,line,feature,,\nCHK,control,,check,,\n",
    )
    codes = source.layers["codes"]
    assert codes["geometry"].tolist() == ["line", "line", "point"]
    assert codes["role"].tolist() == ["feature", "feature", "check"]
    assert codes["pairs_with"].fillna("").tolist() == ["CFL", "", ""]
    assert codes["meaning"][0] == "top, back of curb"


def test_screening_keeps_limits_as_written(read):
    source = read(
        ScreeningText, "kind,field,worst,action,reference\n,solution,fixed|float,reject,\ncurb-top,tilt,15 deg,,x\n"
    )
    screening = source.layers["screening"]
    assert screening["kind"].tolist() == ["*", "curb-top"]
    assert screening["worst"].tolist() == ["fixed|float", "15 deg"]
    assert screening["action"].tolist() == ["reject", "warn"]
    assert screening["reference"].tolist() == ["not stated", "x"]


def test_a_small_table_without_a_header_can_be_named_by_the_job(read):
    source = read(CodesText, "CTB,curb-top\nCFL,curb-flow\n", columns=("code", "kind"))
    assert source.layers["codes"]["kind"].tolist() == ["curb-top", "curb-flow"]


def test_a_small_table_may_lose_rows_only_if_the_job_says_so(read):
    source = read(CodesText, "code,kind,geometry\nA,a,area\nB,b,line\n", bad_rows=1)
    assert source.layers["codes"]["code"].tolist() == ["B"]
    assert [str(each) for each in source.troubles] == ["line 2, geometry: 'area' is none of line, point"]


def test_screening_takes_solutions_as_logs_write_them_and_refuses_a_word_that_nobody_knows(read):
    source = read(ScreeningText, "field,worst\nsolution,RTK Fixed | RTK-Float\nsolution,Other\n")
    assert source.layers["screening"]["worst"].tolist() == ["fixed|float", "other"]
    with pytest.raises(SourceError, match="allows a solution that nobody knows; known are fixed, float"):
        read(ScreeningText, "field,worst\nsolution,fixd\n")


def test_a_code_of_checks_needs_no_kind(read):
    source = read(CodesText, "code,kind,geometry,role\nCTB,curb-top,line,feature\nCHK,,point,check\n")
    assert source.layers["codes"][["code", "kind", "role"]].to_numpy().tolist() == [
        ["CTB", "curb-top", "feature"], ["CHK", "control", "check"],
    ]  # fmt: skip
