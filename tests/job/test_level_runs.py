"""Levelled elevations in a job: they replace those of the shots, and never without proof of the run."""

import json

import numpy as np
import pytest

import geoqa
from geoqa.errors import SourceError

pytestmark = pytest.mark.long

EAST, NORTH = 2_228_000.0, 446_000.0
STATION = np.arange(0.0, 200.0, 20.0)
HIGH = 0.12
"""What the curb was built too high; the limit is 0.08, and a shot alone can prove neither."""


def write(folder, *, reading=0.0, rod=0.0, unit=1.0, levels='closure = "0.05 ft"\nreference = "contract"', notes=None):
    """A curb 0.12 ft too high, shot with a u of 0.04 ft and levelled between two marks."""
    line = [[EAST, NORTH, 100.0], [EAST, NORTH + 200.0, 102.0]]
    collection = {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6547"}},
        "features": [{"type": "Feature", "properties": {"name": "CTB-L", "kind": "curb-top"},
                      "geometry": {"type": "LineString", "coordinates": line}}],
    }  # fmt: skip
    (folder / "design.geojson").write_text(json.dumps(collection), encoding="utf-8")
    (folder / "codes.csv").write_text("code,kind,geometry,role\nCTB,curb-top,line,feature\n", encoding="utf-8")
    marks = f"mark,easting,northing,elevation,u_h,u_v\nM1,{EAST},{NORTH - 50},100,0.01,0.005\n"
    marks += f"M2,{EAST},{NORTH + 250},103,0.01,0.005\n"
    (folder / "control.csv").write_text(marks, encoding="utf-8")
    built = 100 + STATION / 100 + HIGH
    shots = ["point,easting,northing,elevation,code,line_id,session"]
    shots += [f"{at:.0f},{EAST:.3f},{NORTH + at:.3f},{up + 0.03 + rod:.3f},CTB,CTB-L,A"
              for at, up in zip(STATION, built, strict=True)]  # fmt: skip
    (folder / "shots.csv").write_text("\n".join(shots) + "\n", encoding="utf-8")
    run = ["point,backsight,intermediate,foresight,distance"]
    instrument = 106.0
    run += [f"M1,{(instrument - 100) * unit:.6f},,,"]
    run += [f"{at:.0f},,{(instrument - up) * unit:.6f},,{60 * unit:.6f}" for at, up in zip(STATION, built, strict=True)]
    run += [f"M2,,,{(instrument - 103 + reading) * unit:.6f},{300 * unit:.6f}"]
    (folder / "run1.csv").write_text("\n".join(notes or run) + "\n", encoding="utf-8")
    (folder / "job.toml").write_text(
        f"""
[job]
name = "curb"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "shots.csv"
[control]
file = "control.csv"
[codes]
file = "codes.csv"
[[design]]
file = "design.geojson"
[[levels]]
file = "run1.csv"
{levels}
[tolerance.curb-top]
horizontal = "0.10 ft"
vertical = "0.08 ft"
reference = "contract"
[uncertainty.default]
horizontal_random = "0.02 ft"
vertical_random = "0.03 ft"
horizontal_common = "0.01 ft"
vertical_common = "0.03 ft"
reference = "own test"
""",
        encoding="utf-8",
    )
    return folder / "job.toml"


def elevations(job):
    layers = geoqa.run(job, write=False).layers
    findings = layers["findings"]
    rows = findings[(findings["check"] == "elevation") & findings["shot"].notna()]
    return layers, rows.set_index(rows["shot"].str.partition("/")[2])


def test_levelled_elevations_prove_what_shots_cannot(tmp_path):
    layers, rows = elevations(write(tmp_path))
    assert rows["verdict"].eq("OUT").all()
    assert rows["deviation"].to_numpy() == pytest.approx(HIGH, abs=1e-6)
    assert rows["u"].max() < 0.02
    assert rows["label"].str.endswith("levelled, file run1").all()
    assert layers["level_runs"]["taken"].tolist() == [True]
    note = layers["notes"].query("note == 'level-run'").iloc[0]
    assert note["count"] == len(STATION)
    assert note["variant"] == "closed"


def test_a_rod_blunder_of_the_session_does_not_reach_them(tmp_path):
    _, rows = elevations(write(tmp_path, rod=0.656))
    assert rows["deviation"].to_numpy() == pytest.approx(HIGH, abs=1e-6)
    assert rows["verdict"].eq("OUT").all()


def test_a_run_that_misses_is_not_taken(tmp_path):
    layers, rows = elevations(write(tmp_path, reading=0.05))
    assert layers["level_runs"]["taken"].tolist() == [False]
    assert layers["level_runs"]["misclosure"].iloc[0] == pytest.approx(-0.05)
    assert layers["level_runs"]["allowed"].iloc[0] == pytest.approx(0.05 * np.sqrt(300 / 5280))
    assert not rows["label"].str.contains("levelled").any()
    assert layers["notes"].query("note == 'level-run'")["variant"].tolist() == ["over"]


def test_an_open_end_is_not_taken(tmp_path):
    notes = ["point,bs,is,fs,distance", "M1,6.0,,,", "0,,5.88,,60", "20,,5.68,,60"]
    layers, rows = elevations(write(tmp_path, notes=notes))
    assert not layers["levelled"]["taken"].any()
    assert not rows["label"].str.contains("levelled").any()
    assert layers["notes"].query("note == 'level-run'")["variant"].tolist() == ["open"]


def test_metres_are_metres(tmp_path):
    _, rows = elevations(write(tmp_path, unit=0.3048, levels='closure = "12 mm"\nper = "km"\nunit = "m"'))
    assert rows["deviation"].to_numpy() == pytest.approx(HIGH, abs=1e-5)


def test_elevations_reduced_elsewhere(tmp_path):
    notes = ["point,elevation,u_v", "20,100.32,0.004"]
    _, rows = elevations(write(tmp_path, notes=notes, levels=""))
    assert rows.loc["20", "deviation"] == pytest.approx(0.12)
    assert rows.loc["20", "u"] == pytest.approx(0.004)
    assert not rows.loc["40", "label"].endswith("levelled, file run1")


@pytest.mark.parametrize(
    ("notes", "levels", "says"),
    [
        (None, "", r'closure = "0.05 ft" and per'),
        (["point,bs,is,fs", "M1,6.0,,", "M2,,,3.0"], 'closure = "0.05 ft"', "line 3: no distance, and no setup_length"),
        (["point,bs,is,fs,distance", "M1,6.0,,,0", "M2,3.0,,,9"], 'closure = "0.05 ft"', "line 3: a backsight on"),
        (["point,foresight", "M1,2"], 'closure = "0.05 ft"', "neither backsight and foresight, nor elevation"),
        (["point,elevation,u_v", "20,100.32,"], "", "is no 1 sigma of a levelled elevation"),
    ],
)
def test_what_is_missing_is_said(tmp_path, notes, levels, says):
    with pytest.raises(SourceError, match=says):
        geoqa.run(write(tmp_path, notes=notes, levels=levels), write=False)
