"""What a job says about its design and its sessions: read from the file, kept in the record, told at the top."""

import json

import numpy as np
import pytest

import geoqa
from geoqa.errors import SourceError
from geoqa.job.document.load import load, parse

EAST, NORTH = 2_228_000.0, 446_000.0
LINES = """
[[steps]]
use = "chorded-curves"
arcs = ["CTB-R"]
[[steps]]
use = "limits-of-work"
stations = { "CTB-L" = [["0 ft", "150 ft"]] }
[[steps]]
use = "session-shifts"
apply = ["A"]
"""


def feature(name, kind, places, shape="LineString"):
    places = [[EAST + e, NORTH + n, 100.0] for e, n in places]
    return {"type": "Feature", "properties": {"name": name, "kind": kind},
            "geometry": {"type": shape, "coordinates": [places] if shape == "Polygon" else places}}  # fmt: skip


def write(folder, steps=LINES, mark="446200.000"):
    """A curve of chords, a straight curb, one far away, limits of work; a session 0.10 ft too high by four marks."""
    at = np.radians(np.arange(0, 91, 30))
    design = [
        feature("CTB-R", "curb-top", [(50, -60), *zip(50 * np.cos(at), 50 * np.sin(at), strict=True), (-60, 50)]),
        feature("CTB-L", "curb-top", [(200, 0), (200, 300)]),
        feature("CTB-FAR", "curb-top", [(2000, 0), (2000, 300)]),
        feature("LIMIT", "limits-of-work", [(-100, -100), (300, -100), (300, 350), (-100, 350), (-100, -100)],
                "Polygon"),
    ]  # fmt: skip
    collection = {"type": "FeatureCollection", "features": design,
                  "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6547"}}}  # fmt: skip
    (folder / "design.geojson").write_text(json.dumps(collection), encoding="utf-8")
    (folder / "codes.csv").write_text(
        "code,kind,geometry,role\nCTB,curb-top,line,feature\nCHK,control,point,check\n", encoding="utf-8"
    )
    marks = [("M1", 0.0, 0.0), ("M2", 200.0, 0.0), ("M3", 200.0, 200.0), ("M4", 0.0, 200.0)]
    rows = [f"{m},{EAST + e:.3f},{NORTH + n:.3f},100.000,0.002,0.002" for m, e, n in marks]
    rows[2] = rows[2].replace("446200.000", mark)
    header = "mark,easting,northing,elevation,u_h,u_v"
    (folder / "control.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    rng, log = np.random.default_rng(3), []
    for nth in range(20):
        mark_name, e, n = marks[nth % 4]
        log.append(("CHK", mark_name, e, n))
    log += [("CTB", "", 50 * np.cos(a), 50 * np.sin(a)) for a in np.linspace(0.1, 1.4, 8)]
    log += [("CTB", "", 200.0, float(n)) for n in range(0, 151, 25)]
    text = ["point,easting,northing,elevation,code,line_id,time,session"]
    for nth, (code, line, e, n) in enumerate(log):
        east, north, up = rng.normal([EAST + e, NORTH + n, 100.10], 0.006)
        time = f"2026-05-{12 + nth // 6:02d}T{10 + nth % 6:02d}:00:00Z"
        text.append(f"{nth + 1},{east:.3f},{north:.3f},{up:.3f},{code},{line},{time},A")
    (folder / "day1.csv").write_text("\n".join(text) + "\n", encoding="utf-8")
    job = f"""
[job]
name = "Lines"
[frame]
horizontal = "EPSG:6547"
vertical = "EPSG:8228"
[[shots]]
file = "day1.csv"
[control]
file = "control.csv"
[codes]
file = "codes.csv"
[[design]]
file = "design.geojson"
[tolerance.curb-top]
horizontal = "0.10 ft"
vertical = "0.08 ft"
spacing = "60 ft"
reference = "C-101"
[uncertainty.default]
horizontal_random = "0.008 ft"
vertical_random = "0.008 ft"
horizontal_common = "0.01 ft"
vertical_common = "0.05 ft"
reference = "crew"
{steps}"""
    (folder / "job.toml").write_text(job, encoding="utf-8")
    return folder / "job.toml"


@pytest.mark.long
def test_the_lines_of_a_job_are_followed_recorded_and_told(tmp_path):
    results = geoqa.run(write(tmp_path), write=False)
    found = results.findings
    offsets = found[found["check"] == "offset"]
    assert set(offsets["verdict"]) == {"IN"}
    assert offsets["deviation"].abs().max() < 0.03
    reaches = found[found["check"] == "coverage"]
    assert set(reaches["subject"]) == {"CTB-R", "CTB-L"}
    assert reaches.loc[reaches["subject"] == "CTB-L", "verdict"].tolist() == ["IN"]
    beyond = results.layers["beyond_limits"].set_index("design")
    assert beyond.loc["CTB-L", ["start_station", "end_station"]].tolist() == pytest.approx([150, 300])
    assert beyond.loc["CTB-FAR", "length"] == pytest.approx(300)
    shifts = results.layers["session_shifts"].set_index("axis")
    assert shifts.loc["elevation", "shift"] == pytest.approx(0.10, abs=0.02)
    assert shifts["applied"].tolist() == shifts["proven"].tolist()
    levels = found[(found["check"] == "elevation") & found["shot"].notna()]
    assert levels["deviation"].abs().max() < 0.03
    assert levels["u_common"].max() == pytest.approx(shifts.loc["elevation", "u_applied"])
    told = "\n".join(results.notes)
    for words in ("judged against their arcs, as the job says: CTB-R", "Beyond the limits of work lie 2", "TAKEN OFF"):
        assert words in told
    options = {each["step"]: each["options"] for each in results.record["steps"]}
    assert options["session-shifts"]["apply"] == ["A"]
    assert options["chorded-curves"]["arcs"] == ["CTB-R"]
    assert "CTB-L" in options["limits-of-work"]["stations"]


def test_the_lines_stand_in_the_text_of_a_job_in_code(tmp_path):
    text = load(write(tmp_path)).job.to_toml()
    again = parse(text)
    assert again.to_toml() == text
    assert [each.name for each in again.steps] == ["chorded-curves", "limits-of-work", "session-shifts"]


def test_a_mark_without_its_decimal_point_stops_the_run_with_its_name(tmp_path):
    with pytest.raises(SourceError, match=r"control.csv: mark M3 has the northing 446200000, .*\(446200\)"):
        geoqa.run(write(tmp_path, "", mark="446200000"), write=False)
