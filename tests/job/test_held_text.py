"""Text of a small job is held as Python's own strings while it is judged; every value and file stays what it is."""

from types import SimpleNamespace

import pandas as pd
import pytest

from geoqa.job import held_text
from geoqa.job.held_text import SMALL, text_held_for
from geoqa.model.tables.columns import conform, empty


@pytest.fixture
def shots(monkeypatch):
    """A job with one file of shots."""

    def given(path, *, in_memory=False):
        one = SimpleNamespace(path=path, in_memory=in_memory, role="shots")
        monkeypatch.setattr(held_text, "inputs", lambda loaded: [one])
        return "the job"

    return given


def storage():
    return pd.Series(["a"], dtype="str").dtype.storage


@pytest.mark.parametrize(("size", "in_memory", "held"), [(9, False, "python"), (SMALL + 1, False, "pyarrow"),
                                                         (9, True, "pyarrow")])  # fmt: skip
def test_only_small_files_are_held_so_and_only_meanwhile(shots, tmp_path, size, in_memory, held):
    file = tmp_path / "shots.csv"
    with file.open("wb") as made:
        made.truncate(size)
    before = storage()
    with text_held_for(shots(file, in_memory=in_memory)):
        assert storage() == held
        assert empty("evidence")["role"].dtype.storage == held
    assert storage() == before == "pyarrow"
    assert empty("evidence")["role"].dtype.storage == "pyarrow"


def test_a_table_conforms_however_its_text_is_held(shots, tmp_path):
    table = conform("evidence", pd.DataFrame({"finding": ["F1"], "role": ["shot"], "key": ["7"]}))
    with text_held_for(shots(tmp_path / "none")):
        same = conform("evidence", table)
    assert same.dtypes.tolist() == table.dtypes.tolist()
