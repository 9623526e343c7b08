"""A kind of which one shot decides too little is said once, with what would decide its numbers."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.control.session_shifts import SessionShifts
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.unproven.shifted_verdicts import ShiftedVerdicts
from geoqa.steps.unproven.undecided import Undecided

LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.06, 0.06)]
RISES = [0.0, 0.01, -0.03, 0.05, 0.09, 0.30]


def told(job, rises=RISES, limits=LIMITS, **tables):
    rows = [{"station": 50.0 + 60 * n, "elevation": 100.0 + rise} for n, rise in enumerate(rises)]
    shots = job.prepared(job.shots(rows))
    start = job.layers(
        shots=shots, limits=job.limits(*limits), **tables, **job.design({"A": ("curb-top", 0.0, 0, 900)})
    )
    return job.run(start, MatchLines(), OnePlace(), Offsets(), Elevations(), Undecided())


def test_one_line_a_kind_counts_what_is_open_and_what_would_decide_it(job):
    made = told(job)
    notes = made["notes"]
    assert notes["note"].unique().tolist() == ["undecided"]
    assert notes[["subject", "place"]].drop_duplicates().to_numpy().tolist() == [["curb-top", "elevation"]]
    first = notes.iloc[0]
    # u 0.0283; at 0.0119 the tails are 0.0445 and 0.0055, so that is IN; a perfect place is read within it in 33 of 100
    assert first["second"] == pytest.approx(0.327, abs=0.003)
    assert first["number"] == pytest.approx(np.hypot(0.02, 0.02))
    assert (first["count"], first["total"]) == (2, 1)
    ways = notes.iloc[1:].set_index("variant")["count"]
    assert ways.index.tolist() == ["again", "better"]
    assert 1 <= ways["again"] <= ways["better"] <= 3
    (line,) = note_lines(notes, "ft")
    assert "3 undecided, 1 of them beyond the limit" in line
    again, better = ways["again"], ways["better"]
    assert f"beyond the limit; a second session would decide about {again}, a level reading about {better}." in line
    assert len(line) <= 200


@pytest.mark.long
def test_nothing_is_said_where_most_perfect_work_is_decided_or_nothing_is_open(job):
    assert len(told(job, limits=[*LIMITS[:1], ("curb-top", "elevation", -0.09, 0.09)])["notes"]) == 0
    assert len(told(job, rises=[0.0, 0.3])["notes"]) == 0
    assert len(told(job, limits=[("curb-top", "elevation", -0.06, 0.06, "simple")])["notes"]) == 0


MARKS = {"CP-1": (0.0, 0.0), "CP-2": (400.0, 0.0), "CP-3": (400.0, 400.0), "CP-4": (0.0, 400.0)}


def surveyed(job, seed, *, apply=(), shift=(0.0, 0.03, 0.04), noise=0.01, slope=0.05):
    """Session A shifted as a whole and B not; curbs on a grade shot by both, some places twice, and check shots."""
    control = pd.DataFrame({"mark": list(MARKS), "elevation": 100.0, "held": False, "independent": True})
    control["easting"], control["northing"] = (job.origin + np.array(list(MARKS.values()))).T
    control = conform("control", control.assign(u_h=0.0, u_v=0.0, reference="Sheet 2"))
    rng, rows = np.random.default_rng(seed), []
    for session, off in (("A", np.array(shift)), ("B", np.zeros(3))):
        for mark, (east, north) in list(MARKS.items()) * 2:
            e, n, z = off + rng.normal(0, noise, 3)
            rows.append({"line_id": mark, "session": session, "offset": east + e, "station": north + n,
                         "elevation": 100 + z, "kind": "control", "role": "check"})  # fmt: skip
        for station in np.repeat(np.arange(20.0, 380.0, 24.0 if session == "A" else 36.0), 2 if session == "A" else 1):
            # every other place of A is shot once
            if session == "A" and station % 48 and rng.random() < 0.5:
                continue
            e, n, z = off + rng.normal(0, [0.01, 0.01, 0.03])
            rows.append({"session": session, "offset": e, "station": station + n, "kind": "curb-top",
                         "elevation": 100 + slope * station + z, "role": "feature"})  # fmt: skip
    words = {key: [each.pop(key) for each in rows] for key in ("kind", "role")}
    shots = job.prepared(job.shots(rows), **words)
    shots = shots.assign(u_h_random=0.01, u_v_random=0.015, u_h_common=0.02, u_v_common=0.025)
    shots["time"] = pd.date_range("2026-05-12T12:00Z", periods=len(shots), freq="3h")
    design = job.design({"L": ("curb-top", 0.0, 0, 400)})
    design["design_elements"]["end_elevation"] += slope * 400
    layers = job.layers(shots=shots, control=control, limits=job.limits(*LIMITS), **design)
    return job.run(layers, SessionShifts(apply=apply), MatchLines(), OnePlace(), Offsets(), Elevations(),
                   ShiftedVerdicts(), Undecided())  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize(
    ("seed", "shift"),
    [
        (0, (0.0, 0.03, 0.04)),
        (1, (0.0, 0.3, -0.05)),
        *(pytest.param(seed, (0.0, 0.2, 0.05), marks=pytest.mark.long) for seed in range(2, 6)),
    ],
)
def test_what_the_shift_is_said_to_decide_is_what_the_line_of_the_job_decides(job, seed, shift):
    before, after = (surveyed(job, seed, apply=each, shift=shift) for each in ((), ("A",)))
    notes = before["notes"]
    promised = notes[notes["variant"].eq("shift") & notes["note"].eq("undecided")]
    findings = before["findings"]
    open_now = findings[
        findings["run"].isna() & (findings["verdict"] == "UNDECIDED") & (findings["check"] != "session-shift")
    ]
    then = after["findings"].set_index("finding")["verdict"].reindex(open_now["finding"])
    decided = open_now[then.isin(["IN", "OUT"]).to_numpy()]
    assert promised["place"].tolist() == ["elevation"]
    assert promised["count"].tolist() == [len(decided)]
    assert seed > 1 or decided["shot"].isna().any()  # places of several shots too
    told = [each["notes"].query("note == 'session-shift'")[["written", "proposal"]].to_numpy().tolist()
            for each in (before, after)]  # fmt: skip
    assert told[0] == told[1]


@pytest.mark.long
def test_a_shift_that_no_line_of_the_job_takes_off_decides_nothing(job):
    unproven = surveyed(job, 1, shift=(0.0, 0.0, 0.001))
    assert not unproven["session_shifts"]["proven"].any()
    assert "shift" not in set(unproven["notes"]["variant"])
    done = surveyed(job, 1, apply=("A",))
    assert "shift" not in set(done["notes"].query("note == 'undecided'")["variant"])
