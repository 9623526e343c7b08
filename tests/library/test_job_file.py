"""A job file from code: the results are those of tables in memory, by the same class and the same doors."""

import geopandas
import pandas as pd
import pytest

import geoqa
from geoqa.errors import JobError
from geoqa.job.run import run as run_job
from geoqa.library.assessed import Assessed
from geoqa.library.job_file import run

JOB = """
[job]
name = "Walk"
[frame]
horizontal = "EPSG:6547"
[[shots]]
file = "shots.csv"
[codes]
file = "codes.csv"
[[design]]
file = "design.geojson"
frame = "EPSG:6547"
[tolerance.walk-front]
horizontal = "0.15 ft"
reference = "C-101"
[uncertainty.default]
horizontal_random = "0.02 ft"
vertical_random = "0.02 ft"
reference = "repeats"
[outputs]
folder = "out"
layers = ["csv"]
pages = []
"""


@pytest.fixture
def job(tmp_path):
    line = "LINESTRING (2228000 444000, 2228100 444000)"
    walk = geopandas.GeoDataFrame(
        {"kind": ["walk-front"], "name": ["W-1"]}, geometry=geopandas.GeoSeries.from_wkt([line]), crs="EPSG:6547"
    )
    walk.to_file(tmp_path / "design.geojson")
    (tmp_path / "codes.csv").write_text("code,kind,geometry,role\nWKF,walk-front,line,feature\n", encoding="utf-8")
    log = "shot,easting,northing,elevation,code\n1,2228020,444000.01,100,WKF\n2,2228070,443999.5,100,WKF\n"
    (tmp_path / "shots.csv").write_text(log, encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return tmp_path / "job.toml"


@pytest.mark.long
def test_a_job_file_gives_the_same_class_as_tables_in_memory(job):
    results = run(job, write=False)
    assert type(results) is Assessed
    assert isinstance(results, geoqa.Results)
    assert results.work[["shot", "check", "verdict"]].values.tolist()[0] == ["shots/2", "offset", "OUT"]
    assert not len(results.survey)
    assert "<html" in results.map().html
    assert geoqa.run is run


@pytest.mark.long
def test_nothing_of_a_job_is_changed_by_the_door_it_is_run_through(job):
    ours, theirs = run(job, write=False), run_job(job, write=False)
    assert ours.record == theirs.record
    assert ours.summary == theirs.summary
    for name, table in theirs.layers.items():
        pd.testing.assert_frame_equal(pd.DataFrame(ours.layers[name]), pd.DataFrame(table), check_exact=True)


@pytest.mark.long
def test_a_job_is_written_where_it_says_and_again_where_it_is_told(job, tmp_path):
    results = run(job)
    assert (tmp_path / "out" / "record.json").exists()
    again = results.write(tmp_path / "again")
    assert sorted(path.name for path in again) == sorted(path.name for path in (tmp_path / "out").iterdir())
    for path in again:
        assert path.read_bytes() == (tmp_path / "out" / path.name).read_bytes()


@pytest.mark.long
def test_nothing_is_written_where_it_is_not_wanted(job, tmp_path):
    run(job, write=False)
    assert not (tmp_path / "out").exists()


@pytest.mark.long
def test_files_of_the_job_are_originals_and_the_job_is_one_of_them(job):
    results = run(job, write=False)
    assert {path.name for path in results.originals} == {"job.toml", "shots.csv", "codes.csv", "design.geojson"}
    assert results.text == JOB


@pytest.mark.long
def test_a_job_that_is_loaded_or_made_in_code_runs_too(job, monkeypatch):
    loaded = geoqa.load(job)
    by_file = run(job, write=False)
    pd.testing.assert_series_equal(run(loaded, write=False).work["verdict"], by_file.work["verdict"])
    monkeypatch.chdir(job.parent)
    made = run(loaded.job, write=False)
    pd.testing.assert_series_equal(made.work["verdict"], by_file.work["verdict"])
    assert "job.toml" not in {path.name for path in made.originals}


@pytest.mark.long
def test_stages_are_told_to_whom_the_caller_names(job):
    stages = []
    run(job, progress=lambda stage, done, total: stages.append((stage, done, total)))
    assert "offsets" in [stage for stage, _, _ in stages]
    assert stages[-1] == ("written", 1, 1)


def test_another_word_than_bar_is_refused(job):
    with pytest.raises(JobError, match=r'progress: must be "bar", or a callable .* and is \'rich\'\.'):
        run(job, write=False, progress="rich")
