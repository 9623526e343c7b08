"""The simulated job as files: what the readers make of them is what was simulated."""

import json
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rasterio
import shapely

from geoqa import simulate
from geoqa.job.document.load import load
from geoqa.job.inputs.intake import take_in
from geoqa.simulate.picture import GRASS, PICTURE_FILE, STREET, WALK
from geoqa.simulate.site import scenario

SAMPLE = Path(__file__).resolve().parents[2] / "sample_jobs" / "tannery_lane"


ZONES = [zone if not place else pytest.param(zone, marks=pytest.mark.long) for place, zone in enumerate(scenario.ZONES)]


@pytest.fixture(scope="module", params=ZONES)
def written(request, tmp_path_factory):
    made = simulate.make(seed=1, zone=request.param)
    return made, simulate.write(made, tmp_path_factory.mktemp("job"))


def plain(table):
    return pd.DataFrame(table).drop(columns="geometry", errors="ignore").reset_index(drop=True)


@pytest.mark.long
def test_reading_the_folder_gives_the_simulated_tables(written):
    made, path = written
    intake = take_in(load(path))
    assert intake.troubles == ()
    in_memory = made.layers()
    for name in in_memory:
        if name != "sources":
            pd.testing.assert_frame_equal(plain(intake.layers[name]), plain(in_memory[name]))
    # the centre line is for those who read the outputs, and in the files alone
    sources = intake.layers["sources"]
    sources = sources[~sources["role"].isin(["baseline", "profile"])]
    assert sources["role"].tolist() == in_memory["sources"]["role"].tolist()
    assert sources["source"].tolist() == in_memory["sources"]["source"].tolist()


def test_drawn_lines_in_memory_follow_the_elements(written):
    lines = written[0].layers()["design_lines"]
    elements = written[0].tables["design_elements"].groupby("line", sort=False)["length"].sum()
    # chords of 5 ft fall short of an arc of radius 474 ft or more by 0.0005 % of their length
    assert lines.geometry.length.to_numpy() == pytest.approx(elements.loc[lines["line"]].to_numpy(), rel=1e-5)


def test_there_is_exactly_one_job_file(written):
    assert [each.name for each in written[1].parent.rglob("*.toml")] == ["tannery_lane.toml"]


def test_the_truth_is_plain_json_with_every_shot(written):
    made, path = written
    truth = json.loads((path.parent / "truth.json").read_text(encoding="utf-8"))
    assert truth["zone"] == made.zone.code
    assert set(truth["plants"]) == set(made.plants)
    assert len(truth["shots"]["rows"]) == len(made.tables["shots"])
    assert {len(row) for row in truth["shots"]["rows"]} == {len(truth["shots"]["columns"])}
    for item in truth["items"]:
        if item["chances"]:
            assert sum(item["chances"].values()) == pytest.approx(1.0, abs=1e-5)


def test_writing_twice_gives_the_same_bytes(written, tmp_path):
    made, path = written
    simulate.write(made, tmp_path)
    for file in sorted(path.parent.rglob("*.*")):
        assert (tmp_path / file.relative_to(path.parent)).read_bytes() == file.read_bytes(), file.name


@pytest.mark.long
def test_the_sample_job_is_what_the_simulator_writes(tmp_path):
    simulate.write(simulate.make(), tmp_path)
    names = sorted(str(each.relative_to(tmp_path)) for each in tmp_path.rglob("*") if each.is_file())
    kept = sorted(
        str(each.relative_to(SAMPLE)) for each in SAMPLE.rglob("*") if each.is_file() and "out" not in each.parts
    )
    assert kept == names
    for name in names:
        # the container of the design depends on the version of its library; its content is compared below
        # so does that of the picture
        if not name.endswith((".gpkg", ".tif")):
            assert (SAMPLE / name).read_text(encoding="utf-8") == (tmp_path / name).read_text(encoding="utf-8"), name
    sample, fresh = (take_in(load(folder / "tannery_lane.toml")).layers for folder in (SAMPLE, tmp_path))
    for name in ("design_lines", "design_elements", "design_points"):
        pd.testing.assert_frame_equal(plain(sample[name]), plain(fresh[name]))
    pictures = [rasterio.open(folder / PICTURE_FILE) for folder in (SAMPLE, tmp_path)]
    assert pictures[0].transform == pictures[1].transform
    assert pictures[0].crs == pictures[1].crs
    assert pictures[0].colormap(1) == pictures[1].colormap(1)
    assert np.array_equal(pictures[0].read(1), pictures[1].read(1))


def test_the_picture_shows_the_ground_the_design_lines_bound(written):
    lines = written[0].layers()["design_lines"].set_index("line").geometry
    with rasterio.open(written[1].parent / PICTURE_FILE) as picture:
        values = picture.read(1)

        def under(first, second, share):
            """Values at places between two lines, at every 20 ft of the first."""
            one = lines[first].interpolate(np.arange(10.0, lines[first].length - 10.0, 20.0))
            two = lines[second].interpolate(lines[second].project(one))
            east, north = (1 - share) * shapely.get_coordinates(one).T + share * shapely.get_coordinates(two).T
            rows, columns = rasterio.transform.rowcol(picture.transform, east, north)
            return set(values[rows, columns].tolist())

        for side in "LR":
            for part in "12":
                assert under(f"WKF-{side}-{part}", f"WKB-{side}-{part}", 0.5) == {WALK}
                assert under(f"WKF-{side}-{part}", f"WKB-{side}-{part}", 0.12) == {WALK}
                assert under(f"CFL-{side}-{part}", f"WKF-{side}-{part}", 0.5) == {GRASS}
        for part in "12":
            assert under(f"CFL-L-{part}", f"CFL-R-{part}", 0.02) == {STREET}
            assert under(f"CFL-L-{part}", f"CFL-R-{part}", 0.5) == {STREET}
        assert f"EPSG:{picture.crs.to_epsg()}" == written[0].zone.code
    assert (written[1].parent / PICTURE_FILE).stat().st_size < 50_000


def test_every_number_of_the_sample_job_file_has_its_unit():
    job = tomllib.loads((SAMPLE / "tannery_lane.toml").read_text(encoding="utf-8"))
    for tolerance in job["tolerance"].values():
        assert all(
            tolerance[name].endswith(" ft") for name in ("horizontal", "vertical", "spacing") if name in tolerance
        )
        assert tolerance["reference"]
