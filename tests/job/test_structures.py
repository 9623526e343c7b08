"""Structures and pipes in a job file: notes in their own unit, three frames, and what is said where they are wrong."""

import json

import numpy as np
import pytest

import geoqa
from geoqa.errors import GeoqaError

pytestmark = pytest.mark.long

FRAMES = {
    "EPSG:6547": (2_228_000.0, 446_000.0, 1.0),  # international feet
    "EPSG:2277": (3_100_000.0, 10_070_000.0, 1200 / 3937 / 0.3048),  # US survey feet
    "EPSG:26914": (600_000.0, 3_350_000.0, 1 / 0.3048),  # metres
}
FEET = {"IN-1": (16.0, 0.0, 1455.87), "MH-1": (-4.0, 0.0, 1456.19), "MH-2": (-4.0, 251.0, 1457.22)}
PIPES = {"P1": ("IN-1", 1451.40, "MH-1", 1451.20), "P2": ("MH-1", 1451.10, "MH-2", 1450.096)}
NOTES = """structure,rim shot,pipe,direction,measure_down (international ft),size,wall (in),material,type
IN-1,1,P1,out,4.47,12 in,2,RCP,inlet
MH-1,2,P1,in,4.99,12 in,2,RCP,manhole
MH-1,2,P2,out,5.09,15 in,,,
MH-2,3,P2,in,7.124,,,,manhole
"""


def write(folder, system="EPSG:6547", *, notes=NOTES, more=""):
    """Rims as designed; lengths of the notes are feet whatever the frame."""
    east, north, per = FRAMES[system]

    def place(name, level=None):
        off, at, rim = FEET[name]
        return [east + off / per, north + at / per, (rim if level is None else level) / per]

    features = [
        {"type": "Feature", "properties": {"name": name, "kind": "storm-pipe"},
         "geometry": {"type": "LineString", "coordinates": [place(a, high), place(b, low)]}}
        for name, (a, high, b, low) in PIPES.items()
    ]  # fmt: skip
    crs = {"type": "name", "properties": {"name": f"urn:ogc:def:crs:EPSG::{system[5:]}"}}
    whole = {"type": "FeatureCollection", "crs": crs, "features": features}
    (folder / "design.geojson").write_text(json.dumps(whole), encoding="utf-8")
    (folder / "codes.csv").write_text("code,kind,geometry,role\nRIM,rim,point,feature\n", encoding="utf-8")
    shots = ["point,easting,northing,elevation,code,line_id,session"]
    shots += [
        f"{n},{','.join(f'{each:.4f}' for each in place(name))},RIM,{name},A" for n, name in enumerate(FEET, start=1)
    ]
    (folder / "shots.csv").write_text("\n".join(shots) + "\n", encoding="utf-8")
    (folder / "storm.csv").write_text(notes, encoding="utf-8")
    (folder / "job.toml").write_text(
        f"""
[job]
name = "storm"
[frame]
horizontal = "{system}"
[[shots]]
file = "shots.csv"
[codes]
file = "codes.csv"
[[design]]
file = "design.geojson"
[[structures]]
file = "storm.csv"
[tolerance.storm-pipe]
pipe_slope = {{ least = "0.30 %" }}
reference = "Sheet 3"
[tolerance.invert]
vertical = "0.15 ft"
reference = "Sheet 3"
[uncertainty.default]
horizontal_random = "0.02 ft"
vertical_random = "0.02 ft"
vertical_common = "0.03 ft"
reference = "field test"
{more}
""",
        encoding="utf-8",
    )
    return folder / "job.toml"


@pytest.mark.parametrize("system", FRAMES)
def test_the_same_pipes_in_every_frame(tmp_path, system):
    job = write(tmp_path, system)
    layers = geoqa.run(job).layers
    per = FRAMES[system][2]
    table = layers["structures"].sort_values(["structure", "pipe"])
    assert (table["invert"] * per).tolist() == pytest.approx([1451.40, 1451.20, 1451.10, 1450.096], abs=0.002)
    assert (table["diameter"].dropna() * per).tolist() == pytest.approx([1.0, 1.0, 1.25, 1.25])
    pipes = layers["pipes"].set_index("pipe")
    assert pipes.loc["P2", "slope"] == pytest.approx(0.004, abs=2e-5)
    # two shots and two tapes of 0.02 ft
    assert pipes.loc["P2", "u_slope"] == pytest.approx(0.04 / 251, rel=1e-3)
    found = layers["findings"].query("check in ['invert', 'pipe-slope']")
    assert set(found["verdict"]) == {"IN"}
    # the size is noted once for a pipe; its material is not
    missing = layers["findings"].query("check == 'structure-record'")["label"].tolist()
    assert sorted(missing) == ["material not recorded"] * 2
    # what was noted at both ends is as-built evidence, and a tolerance of inverts judges something
    assert not len(layers["findings"].query("check == 'coverage'"))
    assert "unused-tolerance" not in set(layers["notes"]["note"])
    assert (tmp_path / "out" / "map.html").exists()


def test_notes_in_metres_in_a_job_in_feet(tmp_path):
    metres = NOTES.replace("(international ft)", "(m)")
    for feet in ("4.47", "4.99", "5.09", "7.124"):
        metres = metres.replace(feet, f"{float(feet) * 0.3048:.5f}")
    table = geoqa.run(write(tmp_path, notes=metres), write=False).layers["structures"]
    assert np.sort(table["invert"]).tolist() == pytest.approx([1450.096, 1451.10, 1451.20, 1451.40], abs=0.001)


@pytest.mark.parametrize(
    ("notes", "says"),
    [
        (NOTES.replace("P1,out", "P1,up"), "is neither in nor out"),
        (NOTES.replace("4.99", "five"), "five"),
        (NOTES.partition("\n")[0] + "\n", "has a header and no rows"),
        ("pipe,size\nP1,8 in\n", "structure"),
    ],
)
def test_what_cannot_be_read_is_named(tmp_path, notes, says):
    with pytest.raises(GeoqaError, match=says):
        geoqa.run(write(tmp_path, notes=notes), write=False)


def test_a_sign_or_a_missing_unit_costs_its_own_row(tmp_path):
    """The end with the sign says rim-below, the size without a unit is not noted, and all else is judged."""
    notes = NOTES.replace("4.99", "-4.99").replace("15 in", "15")
    layers = geoqa.run(write(tmp_path, notes=notes), write=False).layers
    found = layers["findings"].query("check in ['invert', 'pipe-slope']").set_index("subject")
    assert found.loc["MH-1, P1 in", "why"] == found.loc["P1", "why"] == "rim-below"
    assert set(found.loc[["IN-1, P1 out", "MH-1, P2 out", "MH-2, P2 in", "P2"], "verdict"]) == {"IN"}
    assert layers["structures"].query("pipe == 'P2'")["diameter"].isna().all()
    told = " ".join(layers["notes"].query("note == 'row-trouble'")["written"])
    assert "'-4.99' is below 0" in told
    assert "'15' is a number without its unit" in told


@pytest.mark.parametrize(("wide", "verdict"), [(40.0, "IN"), (10.0, "OUT")])
def test_a_right_of_way_as_supplied(tmp_path, wide, verdict):
    """A polygon 40 ft to either side holds the inlet at 16 ft, one of 10 ft does not."""
    east, north, _ = FRAMES["EPSG:6547"]
    ring = [[east + a * wide, north + b] for a, b in ((-1, -50), (-1, 300), (1, 300), (1, -50), (-1, -50))]
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::6547"}}
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    whole = {"type": "FeatureCollection", "crs": crs, "features": [feature]}
    (tmp_path / "row.geojson").write_text(json.dumps(whole), encoding="utf-8")
    more = '[right_of_way]\nfile = "row.geojson"\n'
    with pytest.raises(GeoqaError, match="reference"):
        geoqa.load(write(tmp_path, more=more))
    layers = geoqa.run(write(tmp_path, more=more + 'reference = "Plat 12, the licensee"'), write=False).layers
    found = layers["findings"].query("check == 'right-of-way'")
    assert len(found) == 3
    assert found.set_index("shot").loc["shots/1", "verdict"] == verdict
    assert set(found["reference"]) == {"Plat 12, the licensee"}


def test_a_second_file_of_one_name_is_asked_for_an_id(tmp_path):
    with pytest.raises(GeoqaError, match=r"two \[\[structures\]\] tables are called storm"):
        geoqa.load(write(tmp_path, more='[[structures]]\nfile = "storm.csv"'))


def test_check_says_what_will_be_judged(tmp_path):
    expected = geoqa.check(write(tmp_path))
    told = "\n".join(map(str, getattr(expected, "lines", [expected])))
    assert "to be judged: 4 ends of 2 pipes by the notes of structures" in told
    assert "[tolerance.invert] judges nothing" not in told
