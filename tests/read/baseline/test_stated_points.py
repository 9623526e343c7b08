"""Points of a baseline and its profile in the job file: as from a table, and what cannot be is told at its row."""

import json
from pathlib import Path

import pandas as pd
import pytest

from geoqa.errors import JobError
from geoqa.job.document.load import parse
from geoqa.read.baseline.profile import ProfileTable
from geoqa.read.baseline.table import AlignmentTable

DOCS = Path(__file__).parents[3] / "docs"
HEAD = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6547"\n[[shots]]\nfile = "a.csv"\n'
ALONG = """[baseline]
points = [
  { easting = 2010000, northing = 700000.25, station = "10+00" },   # the first of [three]
  { easting = 2010000, northing = 700500.25, radius = 200, spiral_in = 30, turn = "R" },
  { easting = 2010500, northing = 700700.125 },
]
[profile]
points = [
  { station = "10+00", elevation = 800 },
  { station = 1200, elevation = 786, curve = 100 },
  { station = "16+00", elevation = 786.5 },
]
"""


def test_points_of_the_job_are_those_of_a_table_of_the_same_numbers(tmp_path):
    job = parse(HEAD + ALONG)
    (tmp_path / "cl.csv").write_text(
        "easting,northing,radius,spiral_in,station\n2010000,700000.25,,,10+00\n2010000,700500.25,200,30,\n"
        "2010500,700700.125,,,\n"
    )
    (tmp_path / "pvi.csv").write_text("station,elevation,curve\n10+00,800,\n1200,786,100\n16+00,786.5,\n")
    for table, reader, file in ((job.baseline, AlignmentTable, "cl.csv"), (job.profile, ProfileTable, "pvi.csv")):
        mine = table.reader.read(tmp_path / "points", source="b").layers
        theirs = reader().read(tmp_path / file, source="b").layers
        assert mine.keys() == theirs.keys()
        for name, held in mine.items():
            told = [each for each in ("baseline", "place") if each in held]
            pd.testing.assert_frame_equal(held.drop(columns=told), theirs[name].drop(columns=told), rtol=0, atol=1e-9)
    assert job.profile.reader.read(tmp_path / "points", source="b").layers["baseline_profile"]["place"].iloc[1] == (
        "'points', row 2"
    )


def test_a_job_with_points_is_written_out_and_back():
    job = parse(HEAD + ALONG)
    again = parse(job.to_toml())
    assert "use" not in job.to_toml()
    assert again == job
    changed = parse(HEAD + ALONG.replace("700500.25", "700500.26"))
    prints = [each.baseline.reader.fingerprint() for each in (job, again, changed)]
    assert prints[0] == prints[1] != prints[2]


BAD = [
    ("radius = 200", "radius = -5", r"\[baseline\], points, row 2, radius, line 10: must be greater than 0"),
    ("radius = 200", "radus = 5", r"row 2, radus, line 10: not an option here; did you mean radius\? allowed"),
    ("radius = 200", "radius = 900", r"points, row 2, line 10: it has a curve that overlaps"),
    ("radius = 200", 'radius = "200 ft"', r"row 2, radius, line 10: must be a number without a unit.*it is '200 ft'"),
    ('"R"', '"L"', r"row 2, line 10: turn says L, and the points turn right"),
    ("easting = 2010500, ", "", r"row 3, easting, line 11: missing"),
    ('northing = 700000.25, station = "10+00"', 'northing = 700000.25, station = "10+5"', r"row 1, station, line 9: "),
    ("[baseline]\n", '[baseline]\nfile = "x.csv"\n', r"\[baseline\], line 7: has a file and points of its own"),
    ("1200", "2200", r"\[profile\], points, row 3, line 17: .*does not come after"),
    ("curve = 100", "curve = 1000", r"\[profile\], points, row 2, line 16: .*overlaps"),
    ("786,", "nan,", r"\[profile\], points, row 2, elevation, line 16: must be a finite number"),
    (ALONG, "[baseline]\n", r'\[baseline\], line 7: needs file = "NAME", or points = \[ \{ easting'),
    (ALONG, "[baseline]\npoints = []\n", r"points, line 8: needs two rows at least, and has 0"),
    (ALONG, ALONG[ALONG.index("[profile]") :], r"\[profile\] hangs on .* or with points"),
    (ALONG, "[codes]\npoints = []\n", r"\[codes\], file, line 7: missing"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "said"), BAD)
def test_what_cannot_be_is_told_by_the_job_file_alone_at_its_row(old, new, said):
    with pytest.raises(JobError, match=said):
        parse(HEAD + ALONG.replace(old, new, 1))


def test_rows_in_tables_of_their_own_are_taken_and_found():
    rows = (
        "[baseline]\n[[baseline.points]]\neasting = 1\nnorthing = 2\n[[baseline.points]]\neasting = 1\nnorthing = {}\n"
    )
    assert parse(HEAD + rows.format(90)).baseline.reader.points[1].northing == 90
    with pytest.raises(JobError, match=r"points, row 2, line 11: it is the same place"):
        parse(HEAD + rows.format(2))


def test_the_schema_asks_for_a_file_or_points():
    """The page of the schema is held to be the one that is made."""
    schema = json.loads((DOCS / "job.schema.json").read_text(encoding="utf-8"))
    for role in ("baseline", "profile"):
        assert schema["properties"][role]["oneOf"] == [{"required": ["file"]}, {"required": ["points"]}]
        assert "points" in schema["properties"][role]["properties"]
    assert schema["properties"]["section"]["required"] == ["file"]
    assert {"radius", "spiral"} < set(schema["$defs"]["IntersectionRow"]["properties"])
