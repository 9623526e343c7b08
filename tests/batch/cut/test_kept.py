"""Tables on disk, exactly as they were; what cannot be read is taken away, so that it is made again."""

import pandas as pd
import pytest

from geoqa import testing
from geoqa.batch.cut.kept import LIST, batches_of, columns_of, names_of, read_tables, rows_of, write_tables
from geoqa.errors import SourceError


@pytest.fixture
def tables():
    layers = testing.layers(shots=testing.shots([{"shot": "7"}, {"shot": None, "easting": float("nan")}]))
    return layers.frame, {"shots": layers["shots"], "few": pd.DataFrame({"a": [1, 2], "b": ["x", None]}).iloc[:0]}


def test_what_is_read_is_what_was_written(tables, tmp_path):
    frame, made = tables
    write_tables(made, tmp_path / "place")
    found = read_tables(tmp_path / "place", frame)
    assert list(found) == list(made)
    for name, table in made.items():
        pd.testing.assert_frame_equal(pd.DataFrame(found[name]), pd.DataFrame(table).reset_index(drop=True))
    assert found["shots"].crs == made["shots"].crs
    assert list(read_tables(tmp_path / "place", frame, ["few"])) == ["few"]
    assert rows_of(tmp_path / "place", "shots") == 2
    assert names_of(tmp_path / "place") == list(made)
    assert columns_of(tmp_path / "place", "few") == ["a", "b"]


def test_rows_are_read_some_at_a_time_and_without_their_points(tables, tmp_path, monkeypatch):
    monkeypatch.setattr("geoqa.batch.cut.kept.BATCH", 1)
    _, made = tables
    write_tables(made, tmp_path / "place")
    batches = list(batches_of(tmp_path / "place", "shots"))
    assert [len(each) for each in batches] == [1, 1]
    bare = pd.DataFrame(made["shots"].drop(columns="geometry"))
    pd.testing.assert_frame_equal(pd.concat(batches, ignore_index=True), bare.reset_index(drop=True))


def test_what_stands_is_not_written_again(tables, tmp_path):
    frame, made = tables
    write_tables(made, tmp_path / "place")
    write_tables({"few": pd.DataFrame({"a": [5]})}, tmp_path / "place")
    assert len(read_tables(tmp_path / "place", frame, ["shots"])["shots"]) == 2
    assert [each.name for each in tmp_path.iterdir()] == ["place"]


@pytest.mark.parametrize("torn", [LIST, "0.arrow"])
def test_what_cannot_be_read_is_named_and_taken_away(tables, tmp_path, torn):
    frame, made = tables
    write_tables(made, tmp_path / "part-0001" / "start")
    (tmp_path / "part-0001" / "start" / torn).write_bytes(b"torn")
    with pytest.raises(SourceError, match=r"^part-0001/start cannot be read"):
        read_tables(tmp_path / "part-0001" / "start", frame)
    assert not (tmp_path / "part-0001" / "start").exists()
