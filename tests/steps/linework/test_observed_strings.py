"""Strings that several steps ask for are the same as those worked out anew, and are worked out once."""

import numpy as np
import pytest

from bench.second_passes import STATIONS, later, numbered, scattered
from bench.walk_shots import layers_of
from geoqa.steps.linework import observed_strings
from geoqa.steps.linework.observed import observed
from geoqa.steps.linework.observed_strings import strings_among
from geoqa.steps.shots import strings as of_shots
from geoqa.steps.shots.strings import strings_in, strings_of, turns_of

U = {"u_v_random": 0.01, "u_h_random": 0.02, "u_h_common": 0.0, "u_v_common": 0.02}
ASKED = [(least, again) for least in (1, 2, 4, 8) for again in (False, True)]


def twice_walked(seed):
    """Two edges shot on two days, and two single places once more."""
    rng = np.random.default_rng(seed)
    rows = scattered(rng, STATIONS) + later(scattered(rng, STATIONS[:-1] + 7.0), hours=24, session="B")
    return layers_of(numbered(rows + later(scattered(rng, STATIONS[2:4]), hours=48, session="C")), **U)


def same(some, others):
    told = [
        [(each.name, each.turn, each.again, each.rows.tolist(), None if each.fresh is None else each.fresh.tolist())
         for each in strings] for strings in (some, others)
    ]  # fmt: skip
    assert told[0] == told[1]


@pytest.mark.parametrize("seed", range(4))
def test_strings_known_already_are_those_worked_out_anew(seed):
    layers = twice_walked(seed)
    shots, unit, rng = observed(layers), layers.frame.unit, np.random.default_rng(seed)
    assert any(each.turn for each in strings_in(layers))
    sets = [shots, *(shots[rng.random(len(shots)) < 0.8].reset_index(drop=True) for _ in range(3))]
    for least, again in ASKED:
        same(strings_in(layers, least=least, again=again), strings_of(layers["shots"], unit, least=least, again=again))
        for some in sets:
            same(
                strings_among(layers, some, least=least, again=again), strings_of(some, unit, least=least, again=again)
            )


def test_they_are_worked_out_once_and_anew_where_the_shots_are_others(monkeypatch):
    layers, count = twice_walked(1), []
    for room in (of_shots, observed_strings):
        monkeypatch.setattr(room, "strings_of", lambda *a, **k: count.append(1) or strings_of(*a, **k))
    for least, again in ASKED:
        strings_in(layers, least=least, again=again)
        strings_among(layers, observed(layers), least=least, again=again)
    turns_of(layers)
    assert len(count) == 2
    moved = layers["shots"].assign(line_id="9")
    other = layers.instead({"shots": moved})
    same(strings_in(other), strings_of(moved, layers.frame.unit))
    same(strings_among(other, observed(other)), strings_of(observed(other), layers.frame.unit))
    assert {each.line_id for each in strings_in(other)} == {"9"}
