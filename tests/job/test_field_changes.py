"""What a change of the design replaces when files are taken in."""

import datetime
from types import SimpleNamespace

import pandas as pd
import pytest

from geoqa.errors import SourceError
from geoqa.job.inputs.field_changes import gathered_tables

LINES, POINTS = ["line", "kind", "source"], ["point", "kind", "source"]


def file(key, lines=(), points=()):
    layers = {
        "design_lines": pd.DataFrame([(name, "walk-back", key) for name in lines], columns=LINES),
        "design_elements": pd.DataFrame({"line": [name for name in lines for _ in range(2)], "of": key}),
        "design_points": pd.DataFrame([(name, "rim", key) for name in points], columns=POINTS),
    }
    return SimpleNamespace(key=key, layers=layers)


def job(**changes):
    dated = datetime.date(2026, 4, 30)
    return SimpleNamespace(
        design=[SimpleNamespace(source=key, field_change=words, dated=dated) for key, words in changes.items()]
    )


def held(parts, column):
    return sorted(pd.concat(parts)[column])


def test_what_bears_the_same_name_is_replaced_and_kept():
    files = [file("design", ["A", "B"], ["M-1", "M-2"]), file("change", ["B"], ["M-2", "M-3"])]
    made = gathered_tables(job(design="", change="Change 1"), files)
    assert held(made["design_points"], "source") == ["change", "change", "design"]
    assert held(made["replaced_points"], "point") == ["M-2"]
    assert pd.concat(made["design_elements"])[["line", "of"]].drop_duplicates().to_numpy().tolist() == [
        ["A", "design"],
        ["B", "change"],
    ]
    assert held(made["replaced_elements"], "of") == ["design", "design"]
    (told,) = made["field_changes"]
    assert told.set_index("name")["before"].fillna("").to_dict() == {"B": "design", "M-2": "design", "M-3": ""}


def test_without_a_change_nothing_is_touched():
    files = [file("design", ["A"], ["M-1"])]
    made = gathered_tables(job(design=""), files)
    assert set(made) == {"design_lines", "design_elements", "design_points"}
    assert made["design_lines"][0] is files[0].layers["design_lines"]


def test_two_changes_of_one_name_are_refused():
    files = [file("design", points=["M-1"]), file("one", points=["M-1"]), file("two", points=["M-1"])]
    with pytest.raises(SourceError, match="'M-1' is in two field changes, one and two; take"):
        gathered_tables(job(design="", one="Change 1", two="Change 2"), files)
