"""A reach of a line whose design was changed in the field: judged against the change, and against the design before."""

import pytest

from geoqa.errors import JobError
from geoqa.job.decided import change_path, read_register
from geoqa.job.run import run
from geoqa.review.decide import decide, take_back
from tests.review.files_of_reviewers import item_of, save
from tests.review.job_in_feet import write
from tests.review.job_of_rounds import LOW, STATIONS, curb, valves

pytestmark = pytest.mark.long
OF = {"job": {"name": "Kerb, east", "file": "curb.toml"}}
LINE = "EAST-KERB"
FILES = {"log.csv": curb(STATIONS, first=101, low=LOW) + valves(first=10)}


def saved(job, name, **change):
    given = {"line": LINE, "start": "48.00", "end": "82.5", **change}
    return save(job, name, "A. Reviewer", {LINE: ("field-change", [given])}, facts=OF)


def test_a_lowered_reach_is_a_dated_design_of_its_own_and_its_line_keeps_its_stations(tmp_path):
    job = write(tmp_path, FILES)
    before = run(job)
    out = before.findings[(before.findings["subject"] == LINE) & (before.findings["verdict"] == "OUT")]
    assert set(out["check"]) == {"elevation"}
    item = item_of(job, LINE)
    with pytest.raises(JobError, match=r"the line runs from 0.00 to 200.00"):
        decide(job, [saved(job, "far.json", start="300", end="310", up="-0.1")])
    assert not list(tmp_path.glob("*field_change*"))
    found = decide(job, [saved(job, "low.json", up="-0.1")])
    assert found.changed == (f"curb.field_change_{item}.csv",)
    assert not found.lacking
    lines = change_path(job, item).read_text("utf-8").splitlines()
    assert lines[0] == "line,start_station,sequence,kind,easting,northing,elevation"
    assert lines[2:4] == [
        f"{LINE},0,1,curb,2300045,10000000,100",
        f"{LINE},0,2,curb,2300048,10000000,99.9",
    ]
    assert read_register(job).changes[0].lines == [LINE]
    after = run(job)
    mine = after.findings[(after.findings["subject"] == LINE) & (after.findings["check"] == "elevation")]
    now = mine[~mine["cause"].fillna("").str.contains("before the field change")]
    assert set(now["verdict"]) == {"IN"}
    kept = mine[mine["cause"].fillna("").str.contains("before the field change")]
    assert (kept["verdict"] == "OUT").sum() >= len(LOW)
    assert kept["cause"].str.contains("2026-05-20").all()
    assert after.layers["field_changes"][["name", "dated"]].to_numpy().tolist() == [[LINE, "2026-05-20"]]
    places = after.shots.merge(now[["shot", "station"]], left_on="shot_key", right_on="shot")
    assert (places["easting"] - 2300000 - places["station"]).abs().max() < 0.02
    take_back(job, item)
    assert not change_path(job, item).exists()
    assert "OUT" in set(run(job).findings.set_index("subject").loc[LINE, "verdict"])
