"""The four files of points on the page of the first day hold the same shots, and are judged alike."""

import pandas
import pytest

import geoqa
from bench.pages import DOCS, Reader, blocks

pytestmark = pytest.mark.long

JOB = """\
[job]
name = "Four shapes"
[frame]
horizontal = "EPSG:6547"
vertical = "EPSG:8228"
[[shots]]
file = "{file}"
[control]
file = "my_job/control.csv"
[codes]
file = "codes.csv"
[[design]]
file = "my_job/design.csv"
[tolerance.curb-top]
horizontal = "0.10 ft"
vertical = "0.08 ft"
reference = "Drawing C-101, note 4"
"""
FILES = ("my_job/shots.txt", "with_heading/shots.csv", "with_tabs/shots.txt", "workbook/shots.xlsx")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shapes")
    reader = Reader(folder)
    for block in blocks(DOCS / "first_day.md"):
        if block.title and not block.title.startswith("in "):
            reader.do(block)
    (folder / "workbook").mkdir()
    pandas.read_csv(folder / FILES[1]).to_excel(folder / FILES[3], index=False)
    (folder / "codes.csv").write_text("code,kind,role\nCTB,curb-top,feature\nCHK,control,check\n", encoding="utf-8")
    return folder


def test_all_four_are_judged_alike(folder):
    judged = []
    for file in FILES:
        (folder / "job.toml").write_text(JOB.format(file=file), encoding="utf-8")
        findings = geoqa.run(folder / "job.toml", write=False).findings
        judged.append(findings.sort_values(["check", "station", "easting"])[["check", "deviation", "u", "verdict"]])
    assert len(judged[0]) > 20
    for other in judged[1:]:
        pandas.testing.assert_frame_equal(judged[0].reset_index(drop=True), other.reset_index(drop=True))
