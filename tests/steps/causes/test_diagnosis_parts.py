"""A long job in parts: nothing else is named than in each part alone, and a short job is never cut."""

import tracemalloc

import numpy as np
import pandas as pd
import pytest

from bench import make
from geoqa import testing
from geoqa.frames.systems.resolve import resolve
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers, placed
from geoqa.simulate.site import scenario
from geoqa.steps.causes.diagnosis import Diagnose, _in_time
from geoqa.steps.causes.diagnosis_parts import LONGEST_SESSION, measured, parts_of
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.precision.uncertainty import Uncertainty
from geoqa.steps.shots.kinds import Kinds


def ready(layers):
    for step in (Kinds(), Uncertainty(), MatchLines(), MatchPoints()):
        layers = layers.after(step, step.run(layers))
    return layers


def later(shots, days, name):
    """The same crew again: other days, other sessions, other file names."""
    moved = shots.assign(time=shots["time"] + pd.Timedelta(days=days))
    for column in ("session", "initialization", "source", "shot_key"):
        moved[column] = name + moved[column]
    return moved


@pytest.fixture(scope="module")
def two_weeks():
    """A week with a wrong rod, then a sound one, as one job and each alone."""
    frame = resolve("EPSG:6547", scenario.VERTICAL)
    wrong, sound = make(seed=3, plants=("T06",), frame=frame), make(seed=4, plants=(), frame=frame)
    first = pd.DataFrame(wrong.tables["shots"])
    second = later(pd.DataFrame(sound.tables["shots"]), 7, "w2-")
    base = wrong.layers()

    def with_shots(shots):
        return ready(Layers({**base, "shots": placed("shots", shots, frame)}, frame=frame))

    return with_shots(pd.concat([second, first], ignore_index=True)), with_shots(first), with_shots(second)


def hours(checks, features=1):
    """One session: check shots every minute, each followed by feature shots."""
    rows = [{"session": "A", "line_id": "CP-1"}, *[{"session": "A"}] * features] * checks
    shots = testing.prepared(testing.shots(rows), kind="x", role=(["check"] + ["feature"] * features) * checks)
    shots["time"] = pd.date_range("2026-05-12T12:00Z", periods=len(shots), freq="min")
    return testing.layers(shots=shots)


def test_a_session_of_thousands_of_checks_is_cut_into_stretches_of_time():
    """The memory goes with the square of what is weighed together: 4,000 at once would take 20 GB."""
    layers = hours(LONGEST_SESSION + 121)
    shots = layers["shots"]
    parts = list(parts_of(layers, shots, most=120))
    checks = [int((each.shots["role"] == "check").sum()) for each in parts]
    assert checks == [120] * 6 + [1]
    assert pd.concat([each.shots for each in parts])["shot_key"].tolist() == shots["shot_key"].tolist()
    assert [parts[0].name, parts[-1].name] == ["session A stretch 1", "session A stretch 7"]
    assert all((each.shots["session"] == "A").all() for each in parts)


def test_a_session_that_can_be_weighed_together_is_not_cut():
    layers = hours(LONGEST_SESSION, features=0)
    assert len(list(parts_of(layers, layers["shots"], most=120))) == 1


@pytest.mark.long
def test_a_job_is_cut_between_sessions_and_every_shot_and_match_is_in_one_part(two_weeks):
    job = two_weeks[0]
    shots = _in_time(job["shots"])
    parts = list(parts_of(job, shots, most=24))
    assert [each.name for each in parts] == ["sessions A to C", "sessions w2-A to w2-C"]
    for table, key in (("shots", "shot_key"), ("line_matches", "shot_key")):
        found = pd.concat([each.layers[table] for each in parts])
        assert sorted(found[key]) == sorted(job[table][key])
    for each in parts:
        assert set(each.layers["line_matches"]["shot_key"]) <= set(each.layers["shots"]["shot_key"])
    (whole,) = parts_of(job, shots, most=48)
    assert whole.layers is job
    assert whole.name == ""
    assert len(list(parts_of(job, shots, most=1))) == 6  # a session is never cut


@pytest.mark.long
def test_in_parts_the_wrong_rod_is_named_with_the_same_shots_as_alone(two_weeks):
    job, first, _ = two_weeks
    made, alone = Diagnose(together=24).run(job), Diagnose().run(first)
    assert len(alone["cause_shots"]) > 0
    answer = made["causes"][made["causes"]["explanation"] == 1]
    assert list(answer["cause"]) == ["rod"]
    assert answer["words"].str.startswith("sessions A to C: ").all()
    assert set(made["cause_shots"]["shot_key"]) == set(alone["cause_shots"]["shot_key"])
    assert set(made["cause_shots"]["subject"]) == set(answer["subject"])
    assert list(made["findings"]["deviation"]) == list(alone["findings"]["deviation"])
    assert set(made["flags"]["shot_key"]) == set(alone["flags"]["shot_key"])
    assert list(made["causes"]["explanation"]) == sorted(made["causes"]["explanation"])


@pytest.mark.long
def test_where_no_part_has_a_blunder_one_answer_says_so(two_weeks):
    made = Diagnose(together=8).run(two_weeks[2])
    answer = made["causes"][made["causes"]["explanation"] == 1]
    assert list(answer["status"]) == ["none"]
    assert not answer["words"].str.startswith("session").any()
    assert made["cause_shots"].empty
    assert made["findings"].empty


@pytest.mark.long
def test_a_mark_that_only_the_note_names_is_the_same_mark(two_weeks):
    _, first, _ = two_weeks
    check = (first["shots"]["role"] == "check").to_numpy()
    shots = pd.DataFrame(first["shots"].drop(columns="geometry"))
    shots.loc[check, "note"] = shots.loc[check, "line_id"]
    shots.loc[check, "line_id"] = None
    other = Layers({**first, "shots": placed("shots", shots, first.frame)}, frame=first.frame)
    expected, found = Diagnose().run(first), Diagnose().run(other)
    assert len(expected["cause_shots"]) > 0
    pd.testing.assert_frame_equal(found["cause_shots"], expected["cause_shots"])


def test_a_row_without_a_place_is_under_no_cause_and_a_levelled_check_stays():
    nan = np.nan
    places = {"easting": [1.0, nan, nan, nan], "northing": [1.0, nan, nan, nan], "elevation": [1.0, nan, 5.0, nan]}
    rows = pd.DataFrame({"role": ["feature", "feature", "check", "check"], **places})
    assert measured(rows)["elevation"].tolist() == [1.0, 5.0]


@pytest.mark.score
@pytest.mark.parametrize(("checks", "sessions"), [(2_000, 1), (4_000, 10)])
def test_thousands_of_checks_take_little_memory(checks, sessions):
    """2,000 checks took 1.8 GB and 4,000 over 5 GB where all were weighed together."""
    noise = np.random.default_rng(1)
    marks = {f"CP-{number}": noise.uniform(0.0, [3000.0, 2000.0, 20.0]) for number in range(12)}
    rows = []
    for number, mark in zip(range(checks), [*marks] * checks, strict=False):
        place = marks[mark] + noise.normal(0.0, [0.02, 0.02, 0.03])
        session = f"S{number * sessions // checks}"
        at = dict(zip(("easting", "northing", "elevation"), place, strict=True))
        rows.append(at | {"line_id": mark, "session": session})
    shots = testing.prepared(testing.shots(rows), kind="control", role="check")
    u = {"u_h_random": 0.02, "u_v_random": 0.028, "u_h_common": 0.0, "u_v_common": 0.02}
    shots = shots.assign(time=pd.date_range("2026-05-12T12:00Z", periods=checks, freq="min"), **u)
    held = {"u_h": 0.01, "u_v": 0.01, "held": False, "local": False, "independent": True}
    control = [{"mark": mark, "easting": e, "northing": n, "elevation": z} | held for mark, (e, n, z) in marks.items()]
    layers = testing.layers(shots=shots, control=conform("control", pd.DataFrame(control)))
    tracemalloc.start()
    made = Diagnose().run(layers)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert made["causes"]["status"].iloc[0] == "none"
    assert most < 300e6
