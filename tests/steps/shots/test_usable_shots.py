import pandas as pd

from geoqa.model.tables.columns import conform
from geoqa.steps.shots.usable_shots import UsableShots


def test_flags_are_drawn_together_sorted_and_once(job):
    rows = [
        ("day1/102", "pdop", False),
        ("day1/102", "tilt", True),
        ("day1/102", "pdop", False),
        ("day1/103", "b", False),
    ]
    flags = pd.DataFrame(rows, columns=["shot_key", "flag", "reject"]).assign(reason="x", step="y")
    shots = job.shots([{}, {}, {}])
    made = job.run(job.layers(shots=shots, flags=conform("flags", flags)), UsableShots())["shots"]
    assert made["use"].tolist() == [True, False, True]
    assert made["flags"].tolist() == ["", "pdop;tilt", "b"]


def test_without_flags_every_shot_is_used(job):
    made = job.run(job.layers(shots=job.shots([{}, {}])), UsableShots())["shots"]
    assert made["use"].all()
    assert made["flags"].tolist() == ["", ""]
