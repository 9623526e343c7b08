"""Of what is out, so many stand together."""

import numpy as np
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.rules.many_checks import ManyChecks

LINE = {"CTB-L": ("curb-top", 0.0, 0, 8000)}


def judged(job, offsets):
    rows = [{"offset": value, "station": 20.0 + 40.0 * nth} for nth, value in enumerate(offsets)]
    layers = job.layers(
        shots=job.prepared(job.shots(rows)), limits=job.limits(("curb-top", "offset", -0.10, 0.10)), **job.design(LINE)
    )
    return job.run(layers, MatchLines(), Offsets(), ManyChecks())


def test_a_clear_defect_stands_and_one_at_the_edge_of_proof_does_not(job):
    made = judged(job, [0.30, 0.134, *np.zeros(98)])
    out = made["findings"].set_index("finding")["verdict"]
    claims = made["many_checks"]
    assert sorted(claims["finding"]) == sorted(out.index[out == "OUT"])
    assert claims["holds"].tolist() == [True, False]
    (note,) = made["notes"].to_dict("records")
    assert (note["count"], note["total"], note["second"]) == (1, 2, 100.0)
    (line,) = note_lines(made["notes"], "ft")
    assert line.startswith("Of 100 numbers of the work 2 are out of tolerance; 1 of ")


@pytest.mark.parametrize("more", [0, 400])
def test_more_work_well_within_makes_no_defect_doubtful(job, more):
    made = judged(job, [0.15, *np.zeros(more)])
    assert made["many_checks"]["holds"].tolist() == [True]


def test_no_verdict_is_changed_and_nothing_is_said_where_nothing_is_out(job):
    made = judged(job, [0.0, 0.01])
    assert not len(made["many_checks"])
    assert not len(made["notes"])


def test_what_stands_and_what_chance_makes_are_said(job):
    made = judged(job, [0.30, 0.10])
    (line,) = note_lines(made["notes"], "ft")
    # 0.10 lies on its limit: one number between the chances 0.05 and 0.5, and the one that is added
    assert str(line) == (
        "Of 2 numbers of the work 1 is out of tolerance; it stands when all are looked at together. By chance at most "
        "about 0.2 sound numbers would be out; on average over many jobs at most 5 % of what stands is sound work."
    )
