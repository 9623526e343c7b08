"""An elevation that was reduced with a questioned measure-down waits as the invert does."""

import pandas as pd
import pytest

from geoqa.steps.design.misread_inverts import waiting
from geoqa.steps.utilities.questions import questions
from geoqa.steps.utilities.reduced import reduced_shots


def rows_of_shots(shots):
    return pd.DataFrame({"shot": shots["shot_key"], "measured": shots["elevation"], "why": 0}).assign(deviation=-1.0)


def test_the_reduced_shot_waits_and_no_other(sewer, storm):
    """1.00 long at IN-1: the shot I1 bears that elevation, I2 beside it another, and so does I3 far away."""
    design, shots, rows = storm
    inverts = sewer.rims(("I1", 16.5, 0.0, 1450.40), ("I2", 16.5, 0.0, 1450.52), ("I3", 16.0, 90.0, 1450.40))
    notes = sewer.notes(("IN-1", "P1", "out", 5.47), *rows[1:])
    everything = pd.concat([shots, inverts], ignore_index=True)
    layers = sewer.job.layers(shots=everything, structure_notes=notes, limits=sewer.job.limits(), **design)
    table = reduced_shots(layers, questions(layers))
    assert table["shot_key"].tolist() == ["day1/I1"]
    layers = type(layers)({**layers, "reduced_shots": table}, frame=layers.frame)
    made = waiting(layers, rows_of_shots(everything)).set_index("shot")
    assert made.index[made["why"] != 0].tolist() == ["day1/I1"]
    one = made.loc["day1/I1"]
    assert one["without"] == pytest.approx(0.0)
    assert "1450.40 ft as read, 1451.40 ft if it was misread so" in one["cause"]
    assert one["remedy"].startswith("re-measure: measure-down 5.47 ft at IN-1")


def test_without_a_question_nothing_changes(sewer, storm):
    design, shots, rows = storm
    layers = sewer.job.layers(shots=shots, structure_notes=sewer.notes(*rows), limits=sewer.job.limits(), **design)
    before = rows_of_shots(shots)
    assert waiting(layers, before) is before
