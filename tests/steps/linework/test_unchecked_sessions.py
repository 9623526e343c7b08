"""Sessions that no check shot tells of, between whose shots and those of others the whole of a shift may lie."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.work import ELEVATION
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.findings import findings_of
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import observed

EACH = 4
"""Shots of a session on each line."""
BUILT = [0.004, -0.006, 0.002, -0.001]


def layers_of(job, high, *, aside=0.0, lines=3, checked=("A",)):
    """Session A on the design, session B `high` above it and `aside` east of it, on as many lines each."""
    rows, matches = [], []
    for session, up, east in (("A", 0.0, 0.0), ("B", high, aside)):
        for line in range(lines):
            for place in range(EACH):
                rise = up + BUILT[(place + line) % EACH]
                rows.append({"session": session, "elevation": 100.0 + rise, "offset": line * 10 + east,
                             "station": 20.0 * place})  # fmt: skip
                across = {"azimuth": 90.0 * (line % 2), "offset": east * (line % 2 == 0), "along": 0.0}
                match = {"design": f"{session} {line}", "chosen": True, "ambiguous": False, "design_elevation": 100.0}
                matches.append(match | across)
    shots = job.prepared(job.shots(rows))
    table = conform("line_matches", pd.DataFrame(matches).assign(shot_key=shots["shot_key"]))
    row = {"shift": 0.0, "u": 0.01, "u_applied": np.nan, "applied": False, "shots": 4, "marks": 4, "tests": 3,
           "proven": False}  # fmt: skip
    rows = [row | {"session": name, "axis": axis} for name in checked for axis in ("easting", "northing", "elevation")]
    known = conform("session_shifts", pd.DataFrame(rows))
    return job.layers(shots=shots, limits=job.limits(), line_matches=table, session_shifts=known)


def common(layers, one, other, axis="elevation"):
    number = np.array([0.0])
    made = derived_rows(layers, np.array([[one, other]]), {axis: np.array([[-1.0, 1.0]])}, number, show=str)
    return made["u_common"].iloc[0]


A, B = 0, 3 * EACH


def test_between_an_unchecked_session_and_another_its_shift_is_open_and_within_it_is_not(job):
    layers = layers_of(job, 0.09)
    assert common(layers, A, B) == pytest.approx(np.hypot(0.02 * np.sqrt(2), 0.09), abs=0.002)
    assert common(layers, B, B + 1) == common(layers, A, A + 1) == pytest.approx(0.0, abs=1e-12)


def test_of_one_shot_alone_it_says_no_more_than_was_stated(job):
    layers = layers_of(job, 0.09)
    alone = derived_rows(layers, np.array([[B]]), {"elevation": np.ones((1, 1))}, np.zeros(1), show=str)
    assert alone["u_common"].tolist() == pytest.approx([0.02])


@pytest.mark.parametrize("options", [{"high": 0.09, "checked": ("A", "B")}, {"high": 0.03}, {"high": 0.09, "lines": 2}])
def test_nothing_is_open_where_checks_tell_where_it_is_noise_and_where_few_lines_share_it(job, options):
    lines = options.get("lines", 3)
    assert common(layers_of(job, **options), A, lines * EACH) == pytest.approx(0.02 * np.sqrt(2))


def test_in_plan_too(job):
    layers = layers_of(job, 0.0, aside=0.12)
    assert observed(layers)["loose_easting"].iloc[B] == pytest.approx(0.12, abs=0.001)
    assert common(layers, A, B, "easting") == pytest.approx(0.12, abs=0.002)
    assert observed(layers)["loose_elevation"].tolist() == [0.0] * 6 * EACH


def test_a_number_across_sessions_names_the_one_it_hangs_on_and_is_read_without_its_shift(job):
    layers = layers_of(job, 0.09)
    row = {"session": "B", "shots": 12, "lines": 3, "shift": 0.09, "u": 0.004, "least": 0.02, "steps": 0,
           "least_plan": 0.0}  # fmt: skip
    shots = layers["shots"].loc[layers["shots"]["session"] == "B", ["shot_key", "session"]].assign(elevation=0.09)
    tables = {"loose_sessions": pd.DataFrame([row]), "loose_shots": shots.reset_index(drop=True)}
    loose = {name: conform(name, table) for name, table in tables.items()}
    layers = Layers({**dict(layers), **loose}, frame=layers.frame)
    members, weight = np.array([[A, B], [B, B + 1], [A, A + 1], [B, -1]]), np.array([[-1.0, 1.0]] * 3 + [[1.0, 0.0]])
    made = derived_rows(layers, members, {"elevation": weight}, np.array([0.10, 0.01, 0.01, 0.12]), show=str)
    assert made["of_session"].fillna(0.0).tolist() == pytest.approx([0.09, 0.0, 0.0, 0.09])
    assert made["hangs_on"].fillna("").tolist() == ["B", "", "", "B"]
    asked = made.assign(kind="walk", subject="-", source="-", shot=None, limit=-1, lower=-0.05, upper=0.05,
                        rule="guarded", u_random=0.01, u_common=0.0)  # fmt: skip
    told = findings_of(asked, check=ELEVATION, limits=job.limits(), unit="ft", keys=[["a"], ["b"], ["c"], ["d"]])
    assert told["verdict"].tolist() == ["UNDECIDED", "IN", "IN", "UNDECIDED"]
    assert told["hangs_on"].fillna("").tolist() == ["B", "", "", "B"]
    assert told["cause"].fillna("").tolist()[:2] == [
        "hangs on session B, of which no shot is checked: 0.10 ft high as read, 0.01 ft high without what the session "
        "may be off by",
        "",
    ]


def test_between_checked_sessions_a_number_is_read_without_what_their_checks_say_too(job):
    layers = layers_of(job, 0.0, checked=("A", "B"))
    table = layers["session_shifts"]
    high = (table["session"] == "B") & (table["axis"] == "elevation")
    table = table.assign(shift=table["shift"].mask(high, 0.08))
    layers = Layers({**dict(layers), "session_shifts": table}, frame=layers.frame)
    members, weight = np.array([[A, B], [B, B + 1], [B, -1]]), np.array([[-1.0, 1.0], [-1.0, 1.0], [1.0, 0.0]])
    made = derived_rows(layers, members, {"elevation": weight}, np.array([0.10, 0.01, 0.01]), show=str)
    assert made["of_session"].fillna(0.0).tolist() == pytest.approx([0.08, 0.0, 0.0])
    assert made["hangs_on"].fillna("").tolist() == ["B", "", ""]
    asked = made.assign(kind="walk", subject="-", source="-", shot=None, limit=-1, lower=-0.05, upper=0.05,
                        rule="guarded", u_random=0.01, u_common=0.0)  # fmt: skip
    told = findings_of(asked, check=ELEVATION, limits=job.limits(), unit="ft", keys=[["a"], ["b"], ["c"]])
    assert told["verdict"].tolist() == ["UNDECIDED", "IN", "IN"]
    assert told["why"].iloc[0] == "between-sessions"
    assert told["cause"].iloc[0].startswith("hangs on what session B is off by against the other: 0.10 ft high as read")
    taken = table.assign(applied=high)
    layers = Layers({**dict(layers), "session_shifts": taken}, frame=layers.frame)
    assert "of_session" not in derived_rows(layers, members, {"elevation": weight}, np.full(3, 0.1), show=str)
