"""What design lines called top draw, as the inverts of their pipes tell."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.judging.drawn_at import ASKED, INVERT, TOP, drawn_at, lines_without_tops, questions_of_design
from geoqa.steps.utilities.structures import Structures

LIMIT = ("invert", "invert", -0.10, 0.10)
SIZES = {"P1": {"diameter": 0.3048, "wall": 0.0508}, "P2": {"diameter": 0.4572, "wall": 0.0508}}
DEPTH = {"P1": 14 / 12, "P2": 20 / 12}


@pytest.fixture
def drawn(sewer, storm):
    """Layers of the small sewer, drawn above its inverts by `lift` times size and wall, as built but for `off`."""

    def made(*, lift, off=(0.0, 0.0, 0.0, 0.0), **tables):
        _, shots, rows = storm
        high = {name: lift * depth for name, depth in DEPTH.items()}
        design = sewer.design(
            P1=("storm-top", (16.0, 0.0, 1451.40 + high["P1"]), (-4.0, 0.0, 1451.20 + high["P1"])),
            P2=("storm-top", (-4.0, 0.0, 1451.10 + high["P2"]), (-4.0, 251.0, 1450.096 + high["P2"])),
        )
        notes = [(*row[:3], row[3] - d, SIZES[row[1]]) for row, d in zip(rows, off, strict=True)]
        return sewer.done(shots, sewer.notes(*notes), Structures(), limits=[LIMIT], **design, **tables)

    return made


def at(layers):
    return dict(zip(drawn_at(layers)["line"], drawn_at(layers)["at"], strict=True))


def test_inverts_on_the_line_itself_are_one_question(sewer, drawn):
    done = drawn(lift=0.0, off=(0.03, -0.02, 0.01, 0.0))
    assert at(done) == {"P1": ASKED, "P2": ASKED} == lines_without_tops(done)
    assert set(sewer.told(done, "invert").values()) == {("NO_DATA", "top-or-invert")}
    assert done["findings"]["remedy"].str.contains('pipes_drawn_at = "invert"', regex=False).any()
    (fact,) = questions_of_design(done)
    assert (fact["subject"], fact["count"], fact["total"]) == ("storm-top", 4, 4)
    assert (done["notes"]["note"] == "pipes-drawn-at").sum() == 1


@pytest.mark.long
def test_one_pipe_laid_wrong_hides_the_question_from_nobody(drawn):
    assert set(at(drawn(lift=0.0, off=(0.0, 0.0, 0.0, -0.35))).values()) == {ASKED}


def test_tops_are_tops_with_the_arithmetic_told(sewer, drawn):
    done = drawn(lift=1.0, off=(0.0, 0.0, 0.0, -0.437))
    assert set(at(done).values()) == {TOP}
    assert sewer.told(done, "invert")["MH-2, P2 in"] == ("OUT", "proven")
    label = done["findings"].query("check == 'invert'").set_index("subject")["label"]["MH-2, P2 in"]
    assert label == "rim shot MH-2 less 7.56 ft; design top 1451.76 ft less 18 in and wall 2 in"
    assert not questions_of_design(done)


@pytest.mark.parametrize("off", [0.6, 1.0, 2.5])
def test_pipes_high_by_another_amount_are_no_question(drawn, off):
    assert set(at(drawn(lift=1.0, off=(off,) * 4)).values()) == {TOP}


@pytest.mark.parametrize(("word", "verdict"), [("invert", "IN"), ("top", "OUT")])
def test_the_job_settles_it(sewer, drawn, word, verdict):
    said = conform("drawn_at", pd.DataFrame([{"source": "design", "at": word}]))
    done = drawn(lift=0.0, drawn_at=said)
    assert set(at(done).values()) == {INVERT if word == "invert" else TOP}
    assert {each for each, _ in sewer.told(done, "invert").values()} == {verdict}


def test_one_invert_alone_asks_nothing(sewer, storm):
    _, shots, rows = storm
    design = sewer.design(P1=("storm-top", (16.0, 0.0, 1451.40), (-4.0, 0.0, 1451.20)))
    notes = sewer.notes((*rows[0], SIZES["P1"]), (*rows[1][:3], np.nan))
    done = sewer.done(shots, notes, Structures(), limits=[LIMIT], **design)
    assert at(done) == {"P1": TOP}
    assert sewer.told(done, "invert")["IN-1, P1 out"] == ("OUT", "proven")
