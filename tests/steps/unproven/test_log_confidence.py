"""A log that does not say what its precisions mean is asked, with what the other reading would change."""

import pandas as pd

from geoqa.contract.precision_sentences import log_confidence
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.fact import facts_of
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.unproven.log_confidence import LogConfidence


def told(job, u_other):
    shots = job.prepared(
        job.shots([{"station": 20.0 + 40.0 * nth, "offset": offset} for nth, offset in enumerate((0.0, 0.08, 0.12))]),
        u_h_random=0.02, u_h_common=0.0,
    )  # fmt: skip
    other = empty("otherwise_read")
    if u_other is not None:
        columns = dict.fromkeys(("u_h_common", "u_v_common"), 0.0) | {"u_h_random": u_other, "u_v_random": u_other}
        other = conform("otherwise_read", pd.DataFrame({"shot_key": shots["shot_key"]}).assign(**columns))
    layers = job.layers(
        shots=shots, otherwise_read=other, limits=job.limits(("curb-top", "offset", -0.1, 0.1)),
        **job.design({"CTB-L": ("curb-top", 0.0, 0, 800)}),
    )  # fmt: skip
    return job.run(layers, MatchLines(), LogConfidence())["notes"]


def test_verdicts_of_both_readings_are_counted(job):
    (fact,) = facts_of(told(job, 0.01), "note")
    assert (fact.written, fact.proposal) == ("0 out, 2 undecided, 1 in", "1 out, 0 undecided, 2 in")
    assert (fact.count, fact.total) == (2, 3)
    sentence = log_confidence(fact, "ft")
    assert "1 sigma or 95 %? 3 shots rest on it: 0 out, 2 undecided, 1 in as 1 sigma (taken), 1 out" in sentence
    assert 'State confidence = "1 sigma" or "95 %" in [[shots]]' in sentence


def test_nothing_is_asked_where_no_verdict_rests_on_it(job):
    assert len(told(job, None)) == 0
