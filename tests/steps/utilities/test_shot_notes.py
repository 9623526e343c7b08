"""Measure-downs written in the notes of shots: read in any unit, paired with their pipe, and tested for whole feet."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.pipes import Pipes
from geoqa.steps.utilities.shot_notes import measure_down_of, structure_of
from geoqa.steps.utilities.structures import Structures

RIMS = {"IN-1": (16.0, 0.0, 1455.87), "MH-1": (-4.0, 0.0, 1456.19), "MH-2": (-4.0, 251.0, 1457.22)}
DOWN = [("IN-1", "out", 4.47), ("MH-1", "in", 4.99), ("MH-1", "out", 5.09), ("MH-2", "in", 7.124)]
LIMITS = (("invert", "invert", -0.30, 0.30), ("storm-pipe", "pipe-slope", 0.003, np.inf))


def noted(sewer, storm, write, *, down=DOWN):
    """The storm sewer with rims as shots, inverts as reduced shots that bear the note, and no file of notes."""
    design = storm[0]
    rows = [{"shot": f"{name} rim", "line_id": f"{name} rim", "offset": off, "station": at, "elevation": level,
             "code": "RIM", "kind": "rim", "note": "frame set"} for name, (off, at, level) in RIMS.items()]  # fmt: skip
    for name, way, deep in down:
        off, at, level = RIMS[name]
        rows.append({"shot": f"{name} {way}", "line_id": f"{name} {way}", "offset": off + 0.1, "station": at,
                     "elevation": level - deep, "code": "INV", "kind": "invert", "note": write(deep)})  # fmt: skip
    kinds = [row.pop("kind") for row in rows]
    shots = sewer.job.prepared(sewer.job.shots(rows), kind="rim", u_v_random=0.02, u_v_common=0.03, u_h_random=0.02,
                               u_h_common=0.02).assign(kind=pd.Series(kinds, dtype="str"))  # fmt: skip
    layers = sewer.job.layers(shots=shots, limits=sewer.job.limits(*LIMITS), **design)
    return sewer.job.run(layers, Structures(), Pipes())


WAYS = {
    "plain": lambda deep: f"MD {deep:.3f}",
    "words": lambda deep: f"lid off, measure-down {deep:.3f} ft, mud",
    "colon": lambda deep: f"md: {deep:.3f}",
    "metres": lambda deep: f"MD {deep * 0.3048:.4f} m",
}


@pytest.mark.parametrize("way", WAYS)
def test_a_note_is_an_end_of_its_pipe_with_the_slope_of_both(sewer, storm, way):
    done = noted(sewer, storm, WAYS[way])
    assert dict(zip(done["pipes"]["pipe"], done["pipes"]["slope"].round(5), strict=True)) == {"P1": 0.01, "P2": 0.004}
    assert sewer.told(done, "pipe-slope") == {"P1": ("IN", "proven"), "P2": ("IN", "proven")}
    schedule = done["structures"].set_index(["structure", "direction"])
    assert schedule.loc[("MH-1", "out"), "invert"] == pytest.approx(1451.10, abs=1e-3)
    assert schedule["pipe"].tolist() == ["P1", "P1", "P2", "P2"]
    assert not len(done["findings"].query("check == 'structure-record'"))


@pytest.mark.long
@pytest.mark.parametrize("slip", [1.0, 2.0, -1.0])
def test_a_whole_foot_in_a_note_is_named_and_waits(sewer, storm, slip):
    """An end that makes water run uphill: IN-1 read too long, MH-1 too short at the lower end."""
    at = 0 if slip > 0 else 1
    wrong = [(name, way, deep + (slip if nth == at else 0)) for nth, (name, way, deep) in enumerate(DOWN)]
    done = noted(sewer, storm, WAYS["plain"], down=wrong)
    told = done["findings"].query("check == 'invert-reading'")
    assert told["why"].tolist() == ["misread"]
    assert (told["deviation"] - slip).abs().max() < 0.06
    assert sewer.told(done, "pipe-slope")["P1"][0] == "NO_DATA"
    assert len(done["reduced_shots"]) == 1


def test_what_a_file_says_of_a_structure_stands_and_its_notes_are_not_read_again(sewer, storm):
    design, shots, rows = storm
    noted_shots = shots.assign(note=pd.Series(["MD 9.99"] * 3, dtype="str"))
    done = sewer.done(noted_shots, sewer.notes(*rows), Structures(), Pipes(), limits=LIMITS, **design)
    assert sorted(done["structures"]["measure_down"].round(3)) == [4.47, 4.99, 5.09, 7.124]


def test_an_end_without_a_rim_or_a_pipe_says_so(sewer, storm):
    rows = [{"shot": "X out", "line_id": "X out", "offset": 90.0, "station": 90.0, "elevation": 1450.0, "code": "INV",
             "note": "MD 5.42"}]  # fmt: skip
    shots = sewer.job.prepared(sewer.job.shots(rows), kind="invert", u_v_random=0.02)
    done = sewer.job.run(
        sewer.job.layers(shots=shots, limits=sewer.job.limits(*LIMITS), **storm[0]), Structures(), Pipes()
    )
    assert done["structures"]["why"].tolist() == ["no-rim"]
    assert ("X", "no-pipe") in {(row["subject"], row["why"]) for row in done["findings"].to_dict("records")}


def test_the_unit_of_a_bare_number_is_that_of_its_file(sewer, storm):
    design = storm[0]
    sources = conform("sources", pd.DataFrame([{"source": "day1", "role": "shots", "path": "day1.csv", "sha256": "",
                                                "reader": "-", "version": "", "unit": "m"}]))  # fmt: skip
    rows = [{"shot": "MH-1", "line_id": "MH-1", "offset": -4.0, "station": 0.0, "elevation": 1456.19, "code": "RIM",
             "note": "MD P1 in 1.5210"}]  # fmt: skip
    shots = sewer.job.prepared(sewer.job.shots(rows), kind="rim", u_v_random=0.02)
    made = sewer.job.run(
        sewer.job.layers(shots=shots, sources=sources, limits=sewer.job.limits(*LIMITS), **design), Structures()
    )
    (row,) = made["structures"].to_dict("records")
    assert (row["pipe"], row["direction"]) == ("P1", "in")
    assert row["measure_down"] == pytest.approx(1.5210 / 0.3048)


@pytest.mark.parametrize("note", ["", "shot on the pipe", "MD", "MDF 3", "field change 2", "commanded 4"])
def test_notes_that_say_no_measure_down_are_none(note):
    assert measure_down_of(note) is None


def test_names_of_structures_lose_what_the_shot_is_of():
    assert structure_of("OF-1 inv") == ("OF-1", "")
    assert structure_of("MH 7") == ("MH 7", "")
