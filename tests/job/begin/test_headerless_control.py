"""A list of marks without a header is control, for init, for a run and for a day: its order is settled or asked."""

import tomllib

import pytest

from geoqa.errors import OrderError, SourceError
from geoqa.job.begin.begin import begin
from geoqa.job.day import DayFiles, day, job_text
from geoqa.job.document.load import LoadedJob, parse
from geoqa.job.inputs.intake import take_in
from geoqa.read.control import ControlText

HEADED = "Point,Northing,Easting,Elevation,Code\n"
SHOTS = HEADED + "".join(
    f"{n},{651300.1 + n},{8212400.1 + n},812.1,{'CK K1' if n < 3 else 'CK K2'}\n" for n in range(6)
)
MARKS = {
    True: "K1,651290.117,8212391.204,811.02,cap\nK2,651310.521,8212433.870,812.44,nail\n",
    False: "K1,8212391.204,651290.117,811.02,cap\nK2,8212433.870,651310.521,812.44,nail\n",
}


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "shots.csv").write_text(SHOTS, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("name", "northing_first"),
    [
        ("list.txt", True),
        *(pytest.param(*each, marks=pytest.mark.long) for each in (("marks.csv", True), ("list.txt", False))),
    ],
)
def test_init_drafts_it_in_the_order_that_the_others_settle(folder, name, northing_first):
    (folder / name).write_text(MARKS[northing_first], encoding="utf-8")
    control = tomllib.loads(begin(folder).path.read_text(encoding="utf-8"))["control"]
    order = ["northing", "easting"] if northing_first else ["easting", "northing"]
    assert control["file"] == name
    assert control["columns"] == ["mark", *order, "elevation", "reference"]


@pytest.mark.long
def test_init_asks_both_readings_where_nothing_settles_them(folder):
    near = "".join(f"{n},{5300.1 + n},{5400.1 + n},812.1,CK K{1 + n % 2}\n" for n in range(6))
    (folder / "shots.csv").write_text(HEADED + near, encoding="utf-8")
    (folder / "list.csv").write_text("K1,5310.2,5350.7,811.0\nK2,5340.2,5320.7,811.0\n", encoding="utf-8")
    text = begin(folder).path.read_text(encoding="utf-8")
    assert (
        '[control]\nfile = "list.csv"\ncolumns = "REQUIRED"   # ["mark", "easting", "northing", "elevation"] or' in text
    )


@pytest.mark.long
def test_alone_with_no_other_shots_a_list_is_shots(tmp_path):
    (tmp_path / "marks.csv").write_text(MARKS[True], encoding="utf-8")
    assert '[[shots]]\nfile = "marks.csv"' in begin(tmp_path).path.read_text(encoding="utf-8")


def test_a_day_reads_it_by_the_shots(folder):
    (folder / "marks.csv").write_text(MARKS[True], encoding="utf-8")
    text = job_text(DayFiles(shots=folder / "shots.csv", control=folder / "marks.csv", frame="EPSG:6559"))
    control = take_in(LoadedJob(folder / "day.toml", text, parse(text, name="day"))).layers["control"]
    assert control["mark"].tolist() == ["K1", "K2"]
    assert control["easting"].tolist() == [8212391.204, 8212433.870]


def test_a_day_that_cannot_tell_names_its_option(folder):
    (folder / "m.csv").write_text("K1,651310.2,651350.7,811.0\nK2,651340.2,651320.7,811.0\n", encoding="utf-8")
    files = DayFiles(shots=folder / "shots.csv", control=folder / "m.csv", frame="EPSG:6559")
    with pytest.raises(
        OrderError, match=r"""--line 'm\.csv: columns = \["mark", "northing", "easting", "elevation"\]'"""
    ):
        day(files)


def test_what_is_no_list_of_marks_is_refused_with_the_line_to_state(tmp_path):
    (tmp_path / "m.csv").write_text("K1,651310.2,8212350.7\nK2,651340.2,8212320.7\n", encoding="utf-8")
    with pytest.raises(SourceError, match=r'State columns = .*"mark", "northing", "easting"'):
        ControlText().read(tmp_path / "m.csv", source="m")
