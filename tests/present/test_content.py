"""What goes into the map."""

import json
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from geoqa.model import words
from geoqa.model.note_line import NoteLine
from geoqa.model.results import Results
from geoqa.model.tables.columns import conform
from geoqa.model.tables.finding import VERDICTS
from geoqa.model.tables.layer import Layers
from geoqa.present.map.content import content
from geoqa.present.map.judged import twins, worst_first
from geoqa.present.map.places import NOT_ASKED, worst_verdicts


def shots_and(*verdicts, use=True):
    shots = pd.DataFrame({"shot_key": ["a", "b"], "use": [use, True]})
    findings = pd.DataFrame({"shot": ["a"] * len(verdicts), "verdict": pd.Series(list(verdicts), dtype="str")})
    return findings, shots


@pytest.mark.parametrize(
    ("verdicts", "worst"),
    [
        (("IN", "OUT", "UNDECIDED"), "OUT"),
        (("IN", "NO_DATA", "UNDECIDED"), "UNDECIDED"),
        (("IN", "NO_DATA"), "NO_DATA"),
        (("IN", "IN"), "IN"),
    ],
)
def test_a_shot_is_drawn_with_its_worst_verdict(verdicts, worst):
    assert worst_verdicts(*shots_and(*verdicts))[0] == VERDICTS.index(worst)


def test_a_shot_no_check_asks_about_is_neither_in_nor_out():
    assert worst_verdicts(*shots_and("IN"))[1] == NOT_ASKED


def test_a_rejected_shot_without_a_finding_is_not_judged():
    findings, shots = shots_and(use=False)
    assert worst_verdicts(findings, shots)[0] == VERDICTS.index("NO_DATA")


def test_the_list_is_worst_first_without_members_of_runs_and_without_what_is_in():
    findings = pd.DataFrame(
        {
            "finding": ["f1", "f2", "f3", "f4", "f5", "f6"],
            "verdict": ["UNDECIDED", "OUT", "OUT", "IN", "OUT", "NO_DATA"],
            "run": [None, None, None, None, "f3", None],
            "excess": [0.5, 2.0, 9.0, -3.0, 99.0, np.nan],
        }
    )
    assert findings["finding"][worst_first(findings)].tolist() == ["f3", "f2", "f1", "f6"]


def test_a_finding_finds_the_one_before_it_about_the_same_shot():
    assert twins(np.array([4, -1, 4, 2, -1, 4])).tolist() == [-1, -1, 0, -1, -1, 2]


def about(results):
    return json.loads(content(results).about)


def test_the_counts_are_those_of_the_summary(street):
    summary = {"reported": {"OUT": 41, "IN": 7}}
    changed = Results(title=street.title, layers=street.layers, summary=summary, record={})
    assert about(changed)["reported"] == {"NO_DATA": 0, "IN": 7, "UNDECIDED": 0, "OUT": 41}


def test_the_warning_of_buried_lines_shows_only_where_there_are_some(street):
    assert about(street)["buried"] == words.BURIED
    kept = {name: street.layers[name] for name in ("findings", "evidence", "design_lines", "design_elements")}
    shots = street.shots
    layers = Layers(
        kept | {"shots": shots[shots["kind"] != "invert"].reset_index(drop=True)}, frame=street.layers.frame
    )
    dry = Results(title=street.title, layers=layers, summary=street.summary, record={})
    assert about(dry)["buried"] == ""


def test_layers_that_no_step_made_leave_a_map_without_them(street):
    kept = {name: street.layers[name] for name in ("shots", "findings", "evidence", "design_lines")}
    bare = Results(title=street.title, layers=Layers(kept, frame=street.layers.frame), summary={}, record={})
    tables = about(bare)["data"]["tables"]
    assert tables["shots"]["rows"] == len(street.shots)
    assert tables["lines"]["rows"] == len(street.layers["design_lines"])
    assert "bands" not in tables


@pytest.mark.long
def test_the_page_knows_where_each_part_of_an_uncertainty_comes_from(street):
    rows = [
        ("curb-top", "h", "random", "Job file"),
        ("curb-top", "h", "tilt", "assumed"),
        ("curb-top", "h", "all", "root"),
        ("curb-top", "v", "common", "the log"),
        (None, "v", "random", "typical"),
        ("walk", "v", "random", "typical"),
    ]
    budget = pd.DataFrame(rows, columns=["kind", "axis", "part", "source"]).assign(shots=3, u=0.02, largest=0.02)
    tables = {name: street.layers[name] for name in street.layers} | {"budget": conform("budget", budget)}
    changed = Results(title=street.title, layers=Layers(tables, frame=street.layers.frame), summary={}, record={})
    told = about(changed)["budget"]
    curb = {
        "h": [["of its own", "Job file"], ["lean, where the rod leans", "assumed"]],
        "v": [["shared by the session", "the log"]],
    }
    any_kind = {"v": [["of its own", "typical"]]}
    assert {kind: told["entries"][number] for kind, number in told["of"].items()} == {
        "curb-top": curb,
        "": any_kind,
        "walk": any_kind,
    }
    assert len(told["entries"]) == 2
    del tables["budget"]
    bare = Results(title=street.title, layers=Layers(tables, frame=street.layers.frame), summary={}, record={})
    assert about(bare)["budget"] == {"of": {}, "entries": []}


def test_a_note_opens_on_demand_and_a_plain_one_stands_alone(street):
    long = NoteLine("CP-3 moved; 4 shots. Do not hold it.", short="CP-3 moved.", more="4 shots.")
    changed = Results(title=street.title, layers=street.layers, summary={}, record={}, notes=(long, "plain"))
    assert about(changed)["notes"] == [["CP-3 moved.", "4 shots."], ["plain", ""]]


@pytest.mark.long
def test_one_far_shot_does_not_move_the_origin(street):
    shots = street.shots.copy()
    shots.loc[0, ["easting", "northing"]] = [0.0, 0.0]
    tables = {name: street.layers[name] for name in street.layers} | {"shots": shots}
    moved = Results(title=street.title, layers=Layers(tables, frame=street.layers.frame), summary={}, record={})
    assert about(moved)["origin"] == about(street)["origin"]


def test_every_word_a_reader_sees_for_a_verdict_comes_from_the_signs(street):
    from geoqa.model.signs import SIGNS

    for said in about(street)["verdicts"]:
        sign = SimpleNamespace(**said)
        assert (sign.text, sign.colour, sign.shape) == (
            SIGNS[sign.verdict].text,
            SIGNS[sign.verdict].colour,
            SIGNS[sign.verdict].shape,
        )
