"""From tables to the parts that verdicts take, with the note that says what was believed and why."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.precision_sentences import believed_parts, wide_lines
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.fact import Fact, facts_of
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.precision.believed_parts import BelievedParts
from geoqa.steps.precision.uncertainty import Uncertainty
from geoqa.steps.shots.usable_shots import UsableShots

LOGGED = 0.014
"""Reported, radial, 1 sigma: 0.010 ft an axis, 0.007 of it for the shot by itself."""


def parts(job, scatter, *, declared=None, confidence="1 sigma", count=120):
    rng = np.random.default_rng(8)
    rows = [
        {"station": 10.0 + 8.0 * nth, "offset": scatter * rng.normal(), "reported_h": LOGGED, "reported_v": 0.01}
        for nth in range(count)
    ]
    shots = job.shots(rows).assign(kind="curb-top", role="feature").astype({"kind": "str", "role": "str"})
    precision = empty("precision")
    if declared is not None:
        row = {"kind": "*", "h_random": declared[0], "h_common": declared[1], "v_random": 0.02, "v_common": 0.02}
        precision = conform("precision", pd.DataFrame([row | {"reference": "crew"}]))
    sources = conform("sources", pd.DataFrame({"source": ["day1"], "role": ["shots"], "confidence": [confidence]}))
    layers = job.layers(
        shots=shots, precision=precision, sources=sources, limits=job.limits(("curb-top", "offset", -0.1, 0.1)),
        **job.design({"CTB-L": ("curb-top", 0.0, 0, 1000)}),
    )  # fmt: skip
    return job.run(layers, Uncertainty(), MatchLines(), UsableShots(), BelievedParts(), Offsets())


def test_a_log_that_says_too_little_is_found_by_neighbours_and_reaches_the_verdicts(job):
    made = parts(job, 0.03)
    taken = made["believed_parts"]
    assert taken["u_h_random"].iloc[0] == pytest.approx(0.03, rel=0.25)
    findings = made["findings"]
    assert findings["u_random"].to_numpy() == pytest.approx(taken["u_h_random"].to_numpy())
    assert findings["u_common"].to_numpy() == pytest.approx(taken["u_h_common"].to_numpy())
    # there is no check: its halves stay halves
    assert taken["u_h_common"].to_numpy() == pytest.approx(taken["u_h_random"].to_numpy())


def test_honest_numbers_leave_no_table_and_a_note_that_says_so(job):
    made = parts(job, 0.02, declared=(0.02, 0.0))
    assert len(made["believed_parts"]) == 0
    told = believed_parts(facts_of(made["notes"].query("note == 'believed-parts'"), "note"), "ft")
    assert "in plan own 0.020, session 0.000 as stated (neighbours scatter 0.02" in told
    assert told.count("ft") == 1


def test_the_note_names_what_was_taken_in_place_of_what_was_stated(job):
    made = parts(job, 0.05, declared=(0.02, 0.0))
    told = believed_parts(facts_of(made["notes"].query("note == 'believed-parts'"), "note"), "ft")
    taken = made["believed_parts"]["u_h_random"].iloc[0]
    assert f"in plan own {taken:.3f} (0.020 stated)" in told


@pytest.mark.long
@pytest.mark.parametrize(("confidence", "asked"), [(None, True), ("1 sigma", False), ("95 %", False)])
def test_the_other_reading_is_worked_out_where_the_log_does_not_say(job, confidence, asked):
    made = parts(job, 0.007, confidence=confidence)
    other = made["otherwise_read"]
    assert (len(other) > 0) == asked
    if asked:
        stated = made["shots"]["u_v_common"].iloc[0]
        assert other["u_v_common"].iloc[0] == pytest.approx(stated / 1.959964)
    assert len(parts(job, 0.02, declared=(0.02, 0.0), confidence=confidence)["otherwise_read"]) == 0


@pytest.mark.parametrize("flag", ["code-slip", "swapped-pair", "spike"])
def test_shots_that_lie_on_another_line_by_their_code_are_no_scatter(job, flag):
    """Both edges of a walk shot in turn with the code of one: u of all shots of the job became half of its width."""
    rng, count = np.random.default_rng(4), 120
    other = np.arange(count) % 2 == 1
    rows = [
        {"station": 10.0 + 8.0 * nth, "offset": 0.02 * rng.normal() + 5.0 * far, "reported_h": LOGGED}
        for nth, far in enumerate(other)
    ]
    shots = job.shots(rows).assign(kind="walk-front", role="feature", flags=np.where(other, flag, ""))
    shots = shots.astype({"kind": "str", "role": "str", "flags": "str"})
    stated = {"kind": "*", "h_random": 0.02, "h_common": 0.0, "v_random": 0.02, "v_common": 0.02, "reference": "crew"}
    layers = job.layers(
        shots=shots, precision=conform("precision", pd.DataFrame([stated])),
        limits=job.limits(("walk-front", "offset", -0.1, 0.1)),
        **job.design({"WKF-L": ("walk-front", 0.0, 0, 1000), "WKB-L": ("walk-back", 5.0, 0, 1000)}),
    )  # fmt: skip
    made = job.run(layers, Uncertainty(), MatchLines(), BelievedParts())
    assert len(made["believed_parts"]) == 0


def test_values_that_nobody_stated_are_called_typical():
    about = {"place": "plan", "number": 0.02, "limit": 0.02, "second": 0.02, "third": 0.02}
    told = believed_parts([Fact(variant="both", **about)], "ft")
    assert told.startswith("Typical 1 sigma, for none is stated or reported, held against the data (ft): in plan own")
    assert "session 0.020 as typical (" in told
    assert "stated (" not in told
    mixed = believed_parts([Fact(variant="session", **about)], "ft")
    assert mixed.startswith("Stated 1 sigma held")
    assert "as stated and typical" in mixed


@pytest.mark.parametrize("tail", ["normal", "t3"])
@pytest.mark.parametrize("seed", range(3))
def test_one_feature_that_scatters_widely_is_named_and_the_others_keep_their_coverage(job, tail, seed):
    """Truth is known: every shot lies on its line but for its own error, of 0.02 ft, and 0.25 ft on the wide line."""
    rng, names = np.random.default_rng([seed, len(tail)]), [f"L{nth}" for nth in range(8)]
    unit = rng.standard_t(3, size=(8, 40)) / np.sqrt(3.0) if tail == "t3" else rng.normal(size=(8, 40))
    errors = np.where(np.arange(8)[:, None] < 2, 0.25, 0.02) * unit
    rows = [
        {"station": 10.0 + 20.0 * nth, "offset": 30.0 * line + errors[line, nth]}
        for line in range(8)
        for nth in range(40)
    ]
    shots = job.shots(rows).assign(kind="curb-top", role="feature").astype({"kind": "str", "role": "str"})
    stated = {"kind": "*", "h_random": 0.02, "h_common": 0.0, "v_random": 0.02, "v_common": 0.02, "reference": "crew"}
    layers = job.layers(
        shots=shots, precision=conform("precision", pd.DataFrame([stated])),
        limits=job.limits(("curb-top", "offset", -0.1, 0.1)),
        **job.design({name: ("curb-top", 30.0 * nth, 0, 1000) for nth, name in enumerate(names)}),
    )  # fmt: skip
    made = job.run(layers, Uncertainty(), MatchLines(), BelievedParts())
    told = made["notes"].query("note == 'wide-lines'")
    assert told["subject"].tolist() == ["L0", "L1"]
    taken = made["believed_parts"]["u_h_random"].to_numpy(float)
    held = np.abs(errors.ravel()) <= 1.959964 * taken
    wide = np.arange(320) < 80
    assert held[~wide].mean() == pytest.approx(0.95, abs=0.04)  # of 240: 1 sigma is 0.014
    assert held[wide].mean() == pytest.approx(0.95, abs=0.06)  # of 80: 1 sigma is 0.024
    assert taken[~wide].max() < 1.2 * 0.02
    said = wide_lines(facts_of(told, "note"), "ft")
    assert said.startswith("Neighbours scatter widely in plan along L")
    assert "elsewhere by 0.0" in said.short
