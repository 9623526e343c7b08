"""One design as GeoPackage and as LandXML: the same findings, and what is written as LandXML comes back."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from bench import landxml as made
from geoqa.job.run import run
from geoqa.model.tables.shot_flags import once
from geoqa.read.design import DesignVector
from geoqa.read.landxml.points import ShotsLandXML

pytestmark = pytest.mark.long

SAMPLE = Path(__file__).parents[2] / "sample_jobs" / "tannery_lane"


def as_landxml(layers, unit, version):
    """The design of a job as alignments, plan features and points, written from its elements."""
    kinds = dict(zip(layers["design_lines"]["line"], layers["design_lines"]["kind"], strict=True))
    features, alignments = [], []
    for line, mine in layers["design_elements"].groupby("line", sort=False):
        rows = mine.sort_values("sequence").to_dict("records")
        geometry = f"<CoordGeom>{''.join(map(element, rows))}</CoordGeom>"
        if start := rows[0]["start_station"]:
            said = f'name="{line}" desc="{kinds[line]}" staStart="{start!r}" length="{mine["length"].sum()!r}"'
            alignments.append(f"<Alignment {said}>{geometry}</Alignment>")
        else:
            features.append(made.plan_feature(line, geometry, desc=kinds[line]))
    rows = layers["design_points"].to_dict("records")
    points = [made.cg_point(row["point"], placed(row, ""), code=row["kind"]) for row in rows]
    lines = f"<Alignments>{''.join(alignments)}</Alignments>", made.plan_features(*features)
    return made.document(made.cg_points(*points), *lines, version=version, unit=unit)


def placed(row, end):
    place = row[f"{end}easting"], row[f"{end}northing"], row[f"{end}elevation"]
    return place if place[2] == place[2] else place[:2]


def element(row):
    start, end = (made.text_of(placed(row, each)) for each in ("start_", "end_"))
    if row["shape"] == "line":
        return f"<Line><Start>{start}</Start><End>{end}</End></Line>"
    centre = made.text_of((row["centre_easting"], row["centre_northing"]))
    said = f'rot="{"cw" if row["sense"] > 0 else "ccw"}" radius="{row["radius"]!r}" length="{row["length"]!r}"'
    return f"<Curve {said}><Start>{start}</Start><Center>{centre}</Center><End>{end}</End></Curve>"


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    """A job with its design as a GeoPackage, run, and written as LandXML."""
    folder = tmp_path_factory.mktemp("landxml") / "job"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("out"))
    job = folder / "tannery_lane.toml"
    text = job.read_text(encoding="utf-8")
    text = text[: text.index("[outputs]")] + '[outputs]\nlayers = ["landxml"]\npages = []\n'
    job.write_text(text, encoding="utf-8")
    return job, run(job)


def test_a_design_gives_the_same_verdicts_as_landxml_and_as_a_geopackage(judged):
    job, truth = judged
    layers = DesignVector().read(job.with_name("design.gpkg"), source="design").layers
    assert {"line", "arc"} == set(layers["design_elements"]["shape"])
    written = as_landxml(layers, truth.layers.frame.unit.name, "1.1")
    job.with_name("design.xml").write_text(written, encoding="utf-8")
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace('file = "design.gpkg"', 'file = "design.xml"'), encoding="utf-8")
    found = run(job, write=False)
    assert "design.xml" in found.layers["sources"]["path"].tolist()
    keys = ["check", "kind", "subject", "shot", "against"]
    tables = [each.findings.sort_values(keys, kind="stable").reset_index(drop=True) for each in (truth, found)]
    assert len(tables[0]) == len(tables[1]) > 1000
    for column in (*keys, "verdict", "why"):
        assert tables[0][column].fillna("").tolist() == tables[1][column].fillna("").tolist(), column
    for column in ("station", "offset", "design", "measured", "deviation", "u"):
        np.testing.assert_allclose(tables[1][column], tables[0][column], rtol=0.0, atol=1e-6, err_msg=column)
    assert set(tables[0]["verdict"]) >= {"IN", "OUT"}


def test_a_job_writes_landxml_that_comes_back(judged):
    job, results = judged
    shots = ShotsLandXML().read(next(job.parent.rglob("asbuilt.xml")), source="x").layers["shots"]
    wanted = once(results.shots)
    wanted = wanted[wanted["easting"].notna()]
    for column in ("easting", "northing", "elevation"):
        np.testing.assert_array_equal(np.sort(shots[column]), np.sort(wanted[column]))
