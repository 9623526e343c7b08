"""The design register: which sheet, revision and date stands behind each verdict, and which is superseded."""

import json

import pandas as pd
import pytest

import geoqa
from geoqa.errors import GeoqaError
from geoqa.model.tables.register import compared_with, register
from geoqa.write.sheets.lists import findings_list

pytestmark = pytest.mark.long

EAST, NORTH = 2_228_000.0, 446_000.0


def write(folder, *, second="", name="CTB-R"):
    for file, line, easting in (("plan", "CTB-L", EAST), ("older", name, EAST + 30)):
        text = (
            f"line,kind,easting,northing\n{line},curb-top,{easting},{NORTH}\n{line},curb-top,{easting},{NORTH + 200}\n"
        )
        (folder / f"{file}.csv").write_text(text, encoding="utf-8")
    rows = "".join(f"{at},{EAST + 0.3:.2f},{NORTH + at:.2f},CTB\n" for at in range(10, 200, 20))
    (folder / "shots.csv").write_text("point,easting,northing,code\n" + rows, encoding="utf-8")
    (folder / "codes.csv").write_text("code,kind,geometry,role\nCTB,curb-top,line,feature\n", encoding="utf-8")
    (folder / "job.toml").write_text(
        f"""
[job]
name = "curb"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "shots.csv"
[codes]
file = "codes.csv"
[[design]]
file = "plan.csv"
sheet = "C-4"
revision = "2 <b>"
dated = 2026-03-02
{second}
[tolerance.curb-top]
horizontal = "0.10 ft"
reference = "contract"
""",
        encoding="utf-8",
    )
    return folder / "job.toml"


SECOND = '[[design]]\nfile = "older.csv"\nsheet = "C-4"\nrevision = "1"\ndated = 2026-01-15\n'


def test_sheet_revision_and_date_stand_beside_each_verdict(tmp_path):
    results = geoqa.run(write(tmp_path))
    assert register(results.layers["sources"]) == {"plan": "sheet C-4, revision 2 <b>, 2026-03-02"}
    listed = findings_list(results)
    assert listed.loc[listed["check"] == "offset", "design"].eq("sheet C-4, revision 2 <b>, 2026-03-02").all()
    assert listed["check"].eq("offset").any()
    page = (tmp_path / "out" / "map.html").read_text(encoding="utf-8")
    assert json.dumps("sheet C-4, revision 2")[1:-1] in page
    assert "revision 2 <b>" not in page


def test_two_revisions_of_one_sheet_are_noticed(tmp_path):
    results = geoqa.run(write(tmp_path, second=SECOND), write=False)
    (note,) = results.layers["notes"].query("note == 'design-revisions'").to_dict("records")
    assert note["written"] == "older (sheet C-4, revision 1, 2026-01-15); plan (sheet C-4, revision 2 <b>, 2026-03-02)"
    known = results.layers["design_register"].set_index("source")["newer"]
    assert known["older"] == "sheet C-4, revision 2 <b>, 2026-03-02 (file plan)"
    assert pd.isna(known["plan"])
    assert any("take the [[design]] that no longer holds out of the job" in line for line in results.notes)


def test_a_line_of_two_revisions_is_refused_with_both(tmp_path):
    with pytest.raises(GeoqaError, match=r"older: sheet C-4, revision 1.*plan: sheet C-4.*older revision of the other"):
        geoqa.run(write(tmp_path, second=SECOND, name="CTB-L"), write=False)


def test_nothing_is_said_where_nothing_is_stated(tmp_path):
    results = geoqa.run(write(tmp_path, second='[[design]]\nfile = "older.csv"\n'), write=False)
    assert "older" not in register(results.layers["sources"])
    assert compared_with(["job; older"], results.layers["sources"]) == [None]


def test_a_file_older_than_the_revision_of_the_job_is_one_matter_in_every_output(tmp_path):
    job = write(tmp_path, second='[[design]]\nfile = "older.csv"\nsheet = "C-5"\nrevision = "1"\ndated = 2026-01-15\n')
    text = job.read_text(encoding="utf-8").replace('name = "curb"', 'name = "curb"\nrevision = "Rev. 2, 2026-03-02"')
    job.write_text(text, encoding="utf-8")
    rows = "".join(
        f"{session}{line}{at},{EAST + off:.2f},{NORTH + at + 5 * (session == 'B'):.2f},CTB,{session}\n"
        for session in "AB" for line, off in enumerate((0.02, 30.41)) for at in range(10, 190, 20)
    )  # fmt: skip
    (tmp_path / "shots.csv").write_text("point,easting,northing,code,session\n" + rows, encoding="utf-8")
    results = geoqa.run(job)
    (one,) = results.layers["findings"].query("verdict == 'OUT'").to_dict("records")
    assert (one["check"], one["subject"]) == ("older-design", "older")
    listed = (tmp_path / "out" / "findings.csv").read_text(encoding="utf-8")
    asked = "ask for revision 2, 2026-03-02 of sheet C-5, put it in place of older and run again"
    assert asked in listed
    assert "waits for: the older design; +0.410 ft as read, 0.000 ft without it" in listed
    assert any(asked in line for line in results.notes)
    assert asked in (tmp_path / "out" / "map.html").read_text(encoding="utf-8")
