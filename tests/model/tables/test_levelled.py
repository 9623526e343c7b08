"""Which findings rest on a levelled elevation."""

import pandas as pd

from geoqa import testing
from geoqa.model.tables.columns import conform
from geoqa.model.tables.levelled import levelled_in


def test_only_elevations_of_shots_whose_run_was_taken():
    levelled = conform("levelled", pd.DataFrame(
        {"shot_key": ["d/1", "d/2"], "source": "run1", "elevation": 1.0, "u_random": 0.01, "u_common": 0.0,
         "taken": [True, False]}
    ))  # fmt: skip
    layers = testing.layers(shots=testing.shots([{}]), levelled=levelled)
    findings = pd.DataFrame(
        {"shot": ["d/1", "d/1", "d/2", None], "check": ["elevation", "offset", "elevation", "elevation"]}
    )
    assert levelled_in(layers, findings.astype("str").mask(findings.isna())).fillna("").tolist() == ["run1", "", "", ""]


def test_without_level_runs_there_is_none():
    layers = testing.layers(shots=testing.shots([{}]))
    findings = pd.DataFrame({"shot": pd.Series(["d/1"], dtype="str"), "check": "elevation"})
    assert levelled_in(layers, findings).isna().all()
