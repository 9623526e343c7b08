"""Passes of one line at two heights."""

from dataclasses import replace

import numpy as np
import pytest

from bench.second_passes import STATIONS, later, numbered, scattered
from bench.walk_shots import layers_of
from geoqa.contract.linework_sentences import passes_differ
from geoqa.model.tables.fact import Fact, facts_of
from geoqa.steps.linework.passes_apart import passes_apart
from geoqa.steps.surfaces.quantities import Quantities
from geoqa.testing import run

U = {"u_v_random": 0.01, "u_h_random": 0.02, "u_h_common": 0.0}


def rows_at(rise, *, seed=1, session="B"):
    rng = np.random.default_rng(seed)
    again = scattered(rng, STATIONS[:-1] + 7.0)
    again = [row | {"elevation": row["elevation"] + rise} for row in again]
    return numbered(scattered(rng, STATIONS) + later(again, hours=24, session=session))


def facts(rows, **columns):
    layers = layers_of(rows, **(U | {"u_v_common": 0.02} | columns))
    return list(passes_apart(layers, gap=60.0))


@pytest.mark.parametrize("rise", [0.12, -0.12])
def test_a_pass_off_by_more_than_both_allow_is_told(rise):
    found = facts(rows_at(rise))
    assert [each["subject"] for each in found] == ["WKB 1, second pass", "WKF 1, second pass"]
    assert [each["number"] for each in found] == pytest.approx([rise] * 2, abs=0.015)
    assert [each["u"] for each in found] == pytest.approx([np.hypot(0.01, 0.02) * np.sqrt(2)] * 2)


@pytest.mark.parametrize("seed", range(5))
def test_passes_that_agree_are_not(seed):
    assert facts(rows_at(0.03, seed=seed)) == []


def test_what_a_session_shares_cancels():
    rise = 0.05
    assert facts(rows_at(rise)) == []
    assert len(facts(rows_at(rise, session="A"))) == 2


def test_shots_without_an_elevation_and_too_few_tell_nothing():
    rows = [
        row | ({"elevation": None} if row["session"] == "B" and row["station"] > 60 else {}) for row in rows_at(0.2)
    ]
    assert facts(rows) == []


def test_the_note_says_how_much():
    notes = run(layers_of(rows_at(0.12), **U), Quantities())["notes"]
    assert {each.name for each in facts_of(notes, "note")} == {"passes-differ"}
    fact = Fact(name="passes-differ", subject="WLF 2, second pass", number=-0.081, u=0.03, unit="job", count=9)
    assert passes_differ(fact, "ft") == (
        "WLF 2, second pass lies 0.081 ft ± 0.060 ft low of the first pass of its line, by 9 shots: one of the two is "
        "off, or it was built anew between them; each has numbers of its own. If it was built anew, leave the older "
        "shots out."
    )
    other = replace(fact, subject="WLF 7", variant="WLF 2")
    assert "WLF 7 lies 0.081 ft ± 0.060 ft low of WLF 2, which was shot there before, by 9 shots" in (
        passes_differ(other, "ft")
    )


@pytest.mark.parametrize("rise", [0.12, -0.12, 0.0])
@pytest.mark.parametrize("way", [1, -1])
def test_a_line_under_another_line_id_is_held_against_the_one_it_lies_on(rise, way):
    rows = [row | {"line_id": "8"} if row["session"] == "B" else row for row in rows_at(rise)]
    found = facts(rows[::way])
    pairs = [("WKB 8", "WKB 1"), ("WKF 8", "WKF 1")]
    assert [(each["subject"], each["variant"]) for each in found] == pairs * bool(rise)
    assert [each["number"] for each in found] == pytest.approx([rise] * 2 * bool(rise), abs=0.015)
