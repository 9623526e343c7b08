"""A job with readings beside its shots, from files to verdicts."""

import pytest

from bench.walk_shots import CODES, walk_rows
from geoqa.job.document.load import load
from geoqa.job.run import run
from geoqa.testing import ORIGIN

JOB = """
[job]
name = "Readings"
[frame]
horizontal = "EPSG:6547"
vertical = "EPSG:8228"
[[shots]]
file = "shots.csv"
unit = "ft"
[codes]
file = "codes.csv"
[tolerance.walk]
rules = "prowag-2023"
[uncertainty.default]
horizontal_random = "0.02 ft"
vertical_random = "0.02 ft"
horizontal_common = "0 ft"
vertical_common = "0.02 ft"
reference = "repeats"
[[readings]]
file = "level.csv"
what = "cross-slope"
u = "0.1 %"
reference = "4 ft digital level"
[outputs]
pages = []
"""


@pytest.mark.long
def test_a_reading_decides_what_the_shots_cannot(tmp_path):
    rows = ["point,easting,northing,elevation,code,line_id,sequence,time_utc,session,solution"]
    for number, row in enumerate(walk_rows([0, 25, 50], slope=0.019), start=101):
        place = f"{ORIGIN[0] + row['offset']:.3f},{ORIGIN[1] + row['station']:.3f},{row['elevation']:.3f}"
        when = row["time"].strftime("%Y-%m-%dT%H:%M:%SZ")
        rows.append(f"{number},{place},{row['code']},{row['line_id']},{row['sequence'] + 1},{when},A,fixed")
    (tmp_path / "shots.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (tmp_path / "level.csv").write_text("place,value\n101,1.5 %\n102,1:40\n", encoding="utf-8")
    CODES.to_csv(tmp_path / "codes.csv", index=False)
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    findings = run(load(tmp_path / "job.toml"), write=False).layers["findings"]
    mine = findings[findings["check"] == "cross-slope"]
    assert mine.set_index("verdict")["measured"].round(4).to_dict() == {"IN": 0.015, "OUT": 0.025, "UNDECIDED": 0.019}
    assert mine["reference"].str.startswith("numeric limit of rule set PROWAG").all()
    assert not mine["verified"].any()
