"""Lines of one design file that all shots miss by one shift: one matter where the register says it is older."""

import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.older_design import OlderDesign
from geoqa.steps.design.runs import Runs
from geoqa.steps.listing.items import Items

LINES = {"W1": 0.0, "W2": 20.0, "K1": 60.0, "K2": 80.0}
LIMITS = (("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.06, 0.06))
OLDER = {"source": "walk", "known": "sheet C-5, revision A", "newer": "sheet C-5, revision B (file plan)",
         "wanted": "revision B of sheet C-5"}  # fmt: skip


def rows(shift, *, up=0.0, sessions=("A", "B"), more=None, others=0.0):
    """Twelve shots a line, the first six in one session; `more` is what some shots have besides, by line and number."""
    made = []
    for line, east in LINES.items():
        mine = shift if line.startswith("W") else others
        for number in range(12):
            session = sessions[number // 6 % len(sessions)]
            off = mine.get(session, 0.0) if isinstance(mine, dict) else mine
            off += 0.005 * (-1) ** number + (more or {}).get((line, number), 0.0)
            lift = (up if line.startswith("W") else 0.0) + 0.004 * (-1) ** number
            made.append({"shot": f"{line}-{number}", "offset": east + off, "station": 10.0 + 20 * number,
                         "elevation": 100.0 + lift, "session": session, "line_id": line})  # fmt: skip
    return made


def judged(job, shots, register=(OLDER,), file="walk"):
    design = job.design({name: ("curb-top", east, 0.0, 250.0) for name, east in LINES.items()})
    lines = design["design_lines"]
    lines["source"] = lines["source"].mask(lines["line"].str.startswith("W"), file)
    known = {"design_register": conform("design_register", pd.DataFrame(list(register)))} if register else {}
    layers = job.layers(shots=job.prepared(job.shots(shots)), limits=job.limits(*LIMITS), **(design | known))
    return job.run(layers, MatchLines(), OlderDesign(), Runs(), Offsets(), Elevations(), Items())


def out_of(layers):
    findings = layers["findings"]
    return findings[(findings["verdict"] == "OUT") & findings["run"].isna()]


def test_an_older_file_is_one_matter_and_its_numbers_wait_both_ways(job):
    done = judged(job, rows(0.40, up=0.12))
    (one,) = out_of(done).to_dict("records")
    assert (one["check"], one["subject"], one["deviation"]) == ("older-design", "walk", 48)
    assert one["remedy"] == "ask for revision B of sheet C-5, put it in place of walk and run again"
    waits = done["findings"].query("verdict == 'NO_DATA'")
    assert len(waits) == 48
    assert set(waits["why"]) == {"older-design"}
    assert waits["cause"].iloc[0].startswith("waits for: the older design; +0.4")
    assert waits["item"].nunique() == 1
    assert done["older_designs"]["shift"].tolist() == pytest.approx([0.12, 0.40] * 2, abs=0.006)
    (said,) = note_lines(done["notes"], "ft")
    assert "(sheet C-5, revision A) is older than sheet C-5, revision B (file plan). 48 numbers against it" in said
    assert "0.400 ft right and 0.120 ft high, in sessions A and B, where other lines are sound." in said


def test_lines_of_the_file_in_force_are_judged_as_ever_beside_it(job):
    done = judged(job, rows(0.40, more={("K1", 2): 0.09, ("K2", 7): 0.30}))
    told = done["findings"].query("check == 'offset' and subject in ('K1', 'K2')")["verdict"].value_counts()
    assert told.to_dict() == {"IN": 22, "UNDECIDED": 1, "OUT": 1}


@pytest.mark.long
def test_a_defect_beyond_the_shift_stays_out_by_its_own_size(job):
    done = judged(job, rows(0.40, more={("W1", 3): 0.35, ("W2", 8): -0.40}))
    work = out_of(done).query("check == 'offset'")
    assert work["label"].tolist() == ["shot W1-3"]
    assert work["why"].tolist() == ["out-both-ways"]
    assert work["deviation"].iloc[0] == pytest.approx(0.35, abs=0.01)
    # what lies on the older line is out without the shift only: that waits, and says so
    (other,) = done["findings"].query("label == 'shot W2-8' and check == 'offset'").to_dict("records")
    assert (other["verdict"], other["cause"]) == (
        "NO_DATA", "waits for: the older design; +0.005 ft as read, -0.395 ft without it",
    )  # fmt: skip


@pytest.mark.parametrize(
    "shots",
    [
        pytest.param(rows({"A": 0.40}), id="one session is off"),
        pytest.param(rows(0.40, others=0.40), id="other lines are off as well"),
        pytest.param(rows(0.02), id="sound"),
    ],
)
def test_what_is_no_matter_of_the_file_is_judged_as_ever(job, shots):
    done = judged(job, shots)
    assert not len(done["older_designs"])
    assert not len(done["notes"])
    assert not (done["findings"]["verdict"] == "NO_DATA").any()


@pytest.mark.parametrize(
    ("shots", "where"),
    [
        pytest.param(rows(0.40, sessions=("A",)), "in session A, where other lines are sound", id="one session"),
        pytest.param([each for each in rows(0.40, sessions=("A",)) if each["line_id"] > "W"],
                     "in session A, where no other lines were shot", id="alone"),
    ],
)  # fmt: skip
def test_what_the_survey_may_have_made_is_told_and_judged_as_ever(job, shots, where):
    done = judged(job, shots)
    (said,) = note_lines(done["notes"], "ft")
    assert where in said
    assert said.endswith("judged as ever. What to do: ask for revision B of sheet C-5, put it in place of walk and "
                         "run again.")  # fmt: skip
    assert not len(done["older_designs"])
    assert (done["findings"].query("subject in ('W1', 'W2') and check == 'offset'")["verdict"] == "OUT").all()


def test_a_file_in_force_is_not_asked_about(job):
    done = judged(job, rows(0.40), register=(OLDER | {"newer": None, "wanted": None},))
    assert not len(done["notes"])
    assert (out_of(done)["check"] == "offset").all()


@pytest.mark.long
def test_where_the_register_is_silent_it_is_only_asked(job):
    done = judged(job, rows(0.40), register=())
    (said,) = note_lines(done["notes"], "ft")
    assert said.startswith("Design file walk: the 24 shots along W1 and W2 share one shift: 0.400 ft right")
    assert "all is judged as ever: state sheet, revision and dated" in said
    assert (done["findings"].query("subject in ('W1', 'W2') and check == 'offset'")["verdict"] == "OUT").all()
    assert not len(judged(job, rows(0.40), register=(), file="design")["notes"])
