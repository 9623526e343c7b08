"""Lines of an older design show no survey blunder; those of a design in force do."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.causes.older_lines import files_older, without_older_lines
from geoqa.steps.design.match_lines import MatchLines


@pytest.mark.parametrize(("newer", "left"), [("revision B", {"K"}), (None, {"K", "W1", "W2"})])
def test_matches_of_lines_that_an_older_file_shifts_are_left_out(job, newer, left):
    lines = {"W1": 0.0, "W2": 20.0, "K": 60.0}
    shots = [
        {"shot": f"{line}-{n}", "offset": east + 0.4 * line.startswith("W"), "station": 10.0 + 20 * n,
         "elevation": 100.0, "session": "AB"[n // 6]}
        for line, east in lines.items() for n in range(12)
    ]  # fmt: skip
    design = job.design({name: ("curb-top", east, 0.0, 250.0) for name, east in lines.items()})
    table = design["design_lines"]
    table["source"] = table["source"].mask(table["line"] != "K", "walk")
    said = pd.DataFrame([{"source": "walk", "known": "revision A", "newer": newer, "wanted": newer}])
    layers = job.layers(
        shots=job.prepared(job.shots(shots)), limits=job.limits(("curb-top", "offset", -0.10, 0.10)),
        design_register=conform("design_register", said), **design,
    )  # fmt: skip
    assert files_older(layers) == ({"walk"} if newer else set())
    layers = job.run(layers, MatchLines())
    kept = without_older_lines(layers, layers["shots"], np.zeros((len(shots), 3)))
    assert set(kept["line_matches"]["design"]) == left
    # a shift that is explained already is no matter of the design
    explained = np.where(layers["shots"]["shot"].str.startswith("W").to_numpy()[:, None], [0.4, 0.0, 0.0], 0.0)
    assert without_older_lines(layers, layers["shots"], explained) is layers
