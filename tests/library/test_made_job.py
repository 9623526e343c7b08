"""A job made in code: what may stand where a file would, and the sentence for each thing that may not."""

import pandas as pd
import pytest

import geoqa
from geoqa.errors import JobError
from geoqa.job.document.load import parse

HEAD = {"job": {"name": "A"}, "frame": {"horizontal": "EPSG:6547"}}


def _log() -> pd.DataFrame:
    return pd.DataFrame({"shot": ["1"], "easting": [2228000.0], "northing": [444000.0], "code": ["WKF"]})


def test_one_table_is_a_list_of_one():
    one, listed = (geoqa.Job(**HEAD, shots=given) for given in (_log(), [_log()]))
    assert one.to_toml() == listed.to_toml()
    assert len(one.shots) == len(listed.shots) == 1


@pytest.mark.long
def test_a_path_is_a_file_of_the_job(tmp_path):
    _log().to_csv(tmp_path / "day.csv", index=False)
    job = geoqa.Job(**HEAD, shots=tmp_path / "day.csv")
    assert job.to_toml() == parse(job.to_toml()).to_toml()
    assert geoqa.run(job, write=False).shots["shot_key"].tolist() == ["day/1"]


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({}, "shots: missing, and it has no default"),
        ({"shots": []}, "shots: names none; give at least one table, path, or keys with file."),
        ({"shots": None}, 'shots: must be a GeoDataFrame, a DataFrame, a path, or {"file": "…"} with options; '),
        ({"shots": [3]}, "it is of type int."),
        ({"control": 4}, 'control: must be a GeoDataFrame, a DataFrame, a path, or {"file": "…"} with options; '),
        ({"frame": {"horizontal": "EPSG:6547", "geiod": 1}}, 'frame["geiod"]: not an option here; did you mean geoid?'),
        ({"frame": {"horizontal": "EPSG:4326"}}, "EPSG:4326"),
        (
            {"tolerance": {"rim": {"vertical": 0.3, "reference": "C-1"}}},
            'tolerance["rim"]["vertical"]: 0.3 has no unit; write it as text with its unit, for example "0.10 ft"',
        ),
        (
            {"decision": {"rule": "strict"}},
            'decision["rule"]: must be guarded, simple, or guard R, such as "guard 1.5"',
        ),
        ({"steps": ["runz"]}, "steps[0]: No step named 'runz'. Did you mean runs? Installed: "),
        (
            {"outputs": {"layers": ["gpkgg"]}},
            "outputs[\"layers\"][0]: No writer named 'gpkgg'. Did you mean gpkg? Installed: ",
        ),
        ({"shots": {"file": "a.csv", "skip": -1}}, 'shots[0]["skip"]: must be greater than or equal to 0 (it is -1)'),
        ({"shots": {"file": "a.csv", "id": "a b"}}, 'shots[0]["id"]: stands in keys of shots; use letters, digits'),
    ],
    ids=lambda given: str(given)[:50],
)
def test_what_cannot_stand_is_one_sentence_in_the_words_of_the_call(given, sentence):
    tables = HEAD | ({} if given == {} else {"shots": [_log()]}) | given
    with pytest.raises(geoqa.GeoqaError) as refused:
        geoqa.run(geoqa.Job(**tables), write=False)
    assert sentence in str(refused.value)
    assert "[[" not in str(refused.value)


def test_every_problem_is_told_at_once():
    with pytest.raises(JobError) as refused:
        geoqa.Job(job={"name": ""}, frame={"horizontal": ""}, shots=[_log()], tilt={"heading_deg": 1.0})
    assert str(refused.value).startswith("Job has 5 problems:\n")


@pytest.mark.long
def test_the_tables_given_are_not_changed():
    log = _log()
    geoqa.run(geoqa.Job(**HEAD, shots=log), write=False)
    pd.testing.assert_frame_equal(log, _log())
