"""The score of field faults can fail: each thing it looks at, spoiled in turn, is seen."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from bench import make
from bench.faulted import FAULTS, clean_row, held_against, read_back
from bench.faulted_text import headline, tables, told_right
from bench.said import Said
from bench.single_shots import steps_of_single_shots
from geoqa.job.execute import execute

pytestmark = pytest.mark.long

(NAME_TWICE,) = (fault for fault in FAULTS if fault.plant == "T17")
LEFT_OUT = frozenset({"tilt-study", "field-procedure", "capability", "bands", "accuracy", "repeats"})


@pytest.fixture(scope="module")
def said():
    steps = [step for step in steps_of_single_shots() if step.name not in LEFT_OUT]
    jobs = {plants: make(seed=3, plants=plants) for plants in (("T17",), ())}
    layers = {plants: execute(made.layers(), steps) for plants, made in jobs.items()}
    return Said(simulated=jobs["T17",], layers=layers["T17",], clean=layers[()])


def right(said):
    return bool(told_right(pd.DataFrame([held_against(NAME_TWICE, said)]))[0])


def spoiled(said, name, change):
    return dataclasses.replace(said, layers={**said.layers, name: change(pd.DataFrame(said.layers[name]).copy())})


def test_what_is_told_right_is_right(said):
    assert right(said)


def test_a_missed_shot_is_seen(said):
    less = spoiled(said, "flags", lambda flags: flags.iloc[1:])
    assert held_against(NAME_TWICE, less)["found"] == 1
    assert not right(less)


def test_a_shot_flagged_beyond_is_seen(said):
    def more(flags):
        return pd.concat([flags, flags.iloc[:1].assign(shot_key="day1/1001")], ignore_index=True)

    assert held_against(NAME_TWICE, spoiled(said, "flags", more))["beyond"] == 1
    assert not right(spoiled(said, "flags", more))


@pytest.mark.parametrize(
    "wrong", [{"number": 999.0}, {"place": "day1"}, {"count": 3}, {"written": "1188"}, {"flag": "spike"}]
)
def test_a_wrong_number_word_or_flag_is_seen(said, wrong):
    assert not right(spoiled(said, "flags", lambda flags: flags.assign(**wrong)))


def test_a_defect_that_only_the_fault_makes_is_seen(said):
    def defect(findings):
        findings.loc[0, ["finding", "verdict"]] = ["Fnew", "OUT"]
        return findings

    assert "is OUT" in held_against(NAME_TWICE, spoiled(said, "findings", defect))["said"]
    assert not right(spoiled(said, "findings", defect))


def test_a_cause_that_is_named_is_seen(said):
    named = spoiled(said, "causes", lambda causes: causes.assign(status="named", cause="rod"))
    assert held_against(NAME_TWICE, named)["said"].startswith("cause named: rod")


@pytest.mark.parametrize("change", [{"use": False}, {"code": "XXX"}, {"elevation": np.nan}])
def test_a_row_that_is_lost_or_changed_is_seen(said, change):
    assert not right(spoiled(said, "shots", lambda shots: shots.assign(**change)))


def test_flags_of_a_clean_job_are_false_alarms(said):
    row = clean_row(said.simulated, {**said.clean, "flags": said.layers["flags"]})
    assert (row["beyond"], row["strange"]) == (2, "duplicate-name (2)")
    rows = pd.DataFrame([{"shots": 949, **row}, {"shots": 949, **held_against(NAME_TWICE, said)}])
    assert headline(rows)["alarms"] == pytest.approx(2000 / 949)
    assert headline(rows)["recall"] == headline(rows)["precision"] == 1.0
    assert "| 2 of 2 | 0 |" in tables(rows).splitlines()[-1]


def test_a_number_read_wrong_is_seen(said):
    given = said.simulated.tables["shots"]
    assert read_back(given, given)["found"] == len(given)
    read = given.assign(northing=given["northing"].mask(given["shot"] == "1187", 0.0))
    row = read_back(given, read)
    assert (len(given) - row["found"], row["numbers"] - row["right"]) == (2, 2)
    assert row["said"] == "northing read wrong"
