"""Ground shots against a LandXML surface, a whole job in two kinds of feet: findings, surface, volume and raster."""

import csv
import json

import numpy as np
import pytest
import rasterio

from bench import landxml as made
from geoqa.job.run import run
from geoqa.read.landxml.contents import surfaces_of

pytestmark = pytest.mark.long

PLACES = {
    "ft": ("EPSG:6547", "EPSG:8228", (2_228_000.0, 446_000.0)),
    "ftUS": ("EPSG:6543", "EPSG:6360", (2_100_000.0, 740_000.0)),
}
JOB = """
[job]
name = "Pad"
date = 2026-05-15
[frame]
horizontal = "{plan}"
vertical = "{height}"
[[shots]]
file = "shots.csv"
unit = "{unit}"
[codes]
file = "codes.csv"
[[design]]
file = "design.xml"
surfaces = ["FG"]
[tolerance.ground]
surface = "0.10 {unit}"
reference = "Sheet C-2 (invented)"
[uncertainty.default]
horizontal_random = "0.02 {unit}"
vertical_random = "0.02 {unit}"
horizontal_common = "0 {unit}"
vertical_common = "0.02 {unit}"
reference = "Crew's repeats (invented)"
[outputs]
folder = "out"
layers = ["csv", "gpkg", "landxml", "tif", "sheets"]
pages = ["map"]
"""
HIGH = 0.5


def design(east, north):
    return 1400 + 0.01 * east + 0.02 * north


def folder_of(tmp_path, unit):
    plan, height, origin = PLACES[unit]
    origin = np.array(origin)
    corners = np.array([(-50.0, -50.0), (150.0, -50.0), (150.0, 150.0), (-50.0, 150.0)])
    points = [(*(origin + corner), design(*corner)) for corner in corners]
    # faces of the file count their points from 1
    text = made.document(made.surfaces(made.surface("FG", points, [(1, 2, 3), (1, 3, 4)])), unit=unit)
    (tmp_path / "design.xml").write_text(text, encoding="utf-8")
    (tmp_path / "codes.csv").write_text("code,kind,geometry,role\nGND,ground,point,other\n", encoding="utf-8")
    with (tmp_path / "shots.csv").open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["point", "easting", "northing", "elevation", "code", "session", "time_utc", "solution"])
        number = 100
        for east in range(0, 101, 20):
            for north in range(0, 101, 20):
                number += 1
                high = HIGH if east >= 80 else 0.0
                level = f"{design(east, north) + high:.3f}"
                place = [f"{origin[0] + east:.3f}", f"{origin[1] + north:.3f}", level]
                rows.writerow([number, *place, "GND", "A", f"2026-05-14T14:{number - 100:02d}:00Z", "fixed"])
        off = [f"{origin[0] + 400:.3f}", f"{origin[1]:.3f}", "1404.000"]
        rows.writerow([999, *off, "GND", "A", "2026-05-14T15:00:00Z", "fixed"])
    (tmp_path / "job.toml").write_text(JOB.format(plan=plan, height=height, unit=unit), encoding="utf-8")
    return tmp_path / "job.toml"


@pytest.mark.parametrize("unit", list(PLACES))
def test_a_pad_built_high_on_one_side(tmp_path, unit):
    job = folder_of(tmp_path, unit)
    if unit != "ft":  # every output is written once
        text = job.read_text(encoding="utf-8")
        job.write_text(text[: text.index("layers = [")] + 'layers = ["landxml", "tif"]\npages = []\n', encoding="utf-8")
    results = run(job)
    found = results.layers["findings"]
    found = found[found["check"] == "surface"]
    high = found["label"].isin([f"shot {number}" for number in range(125, 137)])
    assert set(found.loc[high, "verdict"]) == {"OUT"}
    np.testing.assert_allclose(found.loc[high, "deviation"], HIGH, atol=0.001)
    off = found["label"] == "shot 999"
    assert found.loc[off, ["verdict", "why"]].values.tolist() == [["NO_DATA", "off-surface"]]
    assert set(found.loc[~high & ~off, "verdict"]) == {"IN"}
    assert "surface-not-compared" not in set(results.layers["notes"]["note"])

    out = tmp_path / "out"
    back = {each.name: each for each in surfaces_of(out / "asbuilt.xml")}
    assert set(back) == {"FG", "as-built"}
    assert len(back["as-built"].faces) == 50
    quantities = results.layers["quantities"].set_index("measure")
    # half a wedge of 20 ft from E = 60 to 80, and a slab of 20 ft beyond
    assert quantities.loc["net", "value"] == pytest.approx(HIGH * (10 + 20) * 100, rel=1e-3)
    assert quantities.loc["net", "unit"] == f"cu {unit}"
    assert (out / "surface_difference.tif").exists()
    cells = results.layers["surface_difference"]
    assert len(cells) == 100 * 100
    assert cells["difference"].max() == pytest.approx(HIGH, abs=0.001)

    if unit != "ft":
        return
    first = {path.name: path.read_bytes() for path in sorted(out.iterdir()) if path.is_file()}
    run(job)
    again = {path.name: path.read_bytes() for path in sorted(out.iterdir()) if path.is_file()}
    assert [name for name in first if first[name] != again[name]] == []
    assert "surface" in json.dumps(json.loads(first["record.json"]))


def test_the_same_design_as_a_raster_gives_the_same_deviations(tmp_path):
    job = folder_of(tmp_path, "ft")
    east, north = np.meshgrid(np.arange(-45, 150, 10.0), np.arange(145, -50, -10.0))
    origin = PLACES["ft"][2]
    with rasterio.open(
        tmp_path / "FG.tif", "w", driver="GTiff", width=20, height=20, count=1, dtype="float64", crs="EPSG:6547",
        transform=rasterio.Affine(10, 0, origin[0] - 50, 0, -10, origin[1] + 150),
    ) as raster:  # fmt: skip
        raster.write(design(east, north), 1)
    text = job.read_text(encoding="utf-8").replace('"design.xml"\nsurfaces = ["FG"]', '"FG.tif"\nunit = "ft"')
    text = text[: text.index("layers = [")] + 'layers = ["csv"]\npages = []\n'
    job.write_text(text, encoding="utf-8")
    found = run(job).layers["findings"]
    found = found[found["check"] == "surface"]
    high = found["label"].isin([f"shot {number}" for number in range(125, 137)])
    assert set(found["subject"]) == {"FG"}
    np.testing.assert_allclose(found.loc[high, "deviation"], HIGH, atol=0.001)
    assert found["verdict"].value_counts().to_dict() == {"IN": 24, "OUT": 12, "NO_DATA": 1}
