"""Numbers of several shots: one wrong shot can make them, and what lies beside them tells."""

import numpy as np
import pandas as pd
import pytest

from geoqa.kernels.judging.odds import chance, odds
from geoqa.steps.unproven.features import Looked, of_features
from geoqa.steps.unproven.piece import Piece, texts

WEIGHTS = [0.01, 0.002, 0.0005, 0.0005]
LIMIT, U = 0.0208, 0.006


def section(number, value, *, run=None, verdict=None, shots=None):
    """One every 20 ft, of a shot on either edge and half of the next one."""
    verdict = verdict or ("OUT" if abs(value) > LIMIT + 1.645 * U else "IN")
    row = {"finding": f"S{number}", "check": "cross-slope", "against": "job", "subject": "walk", "shot": None}
    row |= {"run": run, "station": 20.0 * number, "station_end": np.nan, "deviation": value}
    row |= {"lower": -LIMIT, "upper": LIMIT, "u": U, "quantity": "slope", "verdict": verdict}
    return row, shots or {f"f{number}": 1.0, f"b{number}": 1.0, f"b{number + 1}": 0.5}


def told(rows, *, singles=()):
    """Odds and pieces of every finding that is out; `singles` are shots that are out alone, with log likelihoods."""
    tables = [row for row, _ in rows]
    alone = [{**tables[0], "finding": f"E{shot}", "check": "elevation", "shot": shot, "verdict": "OUT"}
             for shot, _ in singles]  # fmt: skip
    text = dict.fromkeys(("finding", "check", "against", "subject", "shot", "run", "verdict"), "str")
    findings = pd.DataFrame([*tables, *alone]).astype(text)
    proof = pd.DataFrame([{"finding": row["finding"], "role": "shot", "layer": "shots", "key": key, "weight": weight}
                          for row, shots in rows for key, weight in shots.items()])  # fmt: skip
    out = findings.loc[findings["verdict"] == "OUT", ["finding", "shot", "check"]].reset_index(drop=True)
    single = out["shot"].notna().to_numpy(bool)
    log = np.zeros((len(out), 4))
    for row in np.flatnonzero(single):
        log[row] = dict(singles)[out["shot"].iloc[row]]
    none = np.zeros((2, len(out)), dtype=int)
    near = Piece("neighbours", log.copy(), *none, texts(len(out)), none[0])
    looked = Looked(
        single=single, log=log, total=odds(WEIGHTS, log[:, None, :]).total, usual=0.02, reach=60.0, place=0.3
    )
    pieces = of_features({"findings": findings, "evidence": proof}, out, [near], looked)
    made = odds(WEIGHTS, np.stack([piece.log for piece in pieces], axis=1)).total
    row = {name: place for place, name in enumerate(out["finding"])}
    return {name: (float(chance(made[at])), {piece.name: (piece.count[at], piece.total[at], piece.variant[at])
                                            for piece in pieces}) for name, at in row.items()}  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_a_section_alone_among_good_ones_is_no_more_than_even(seed, sign):
    values = 0.0175 + np.random.default_rng(seed).normal(0, 0.003, 9)
    values[4] = 0.034
    p, pieces = told([section(n, sign * value, verdict=None if n == 4 else "IN") for n, value in enumerate(values)])[
        "S4"
    ]
    assert p < 0.5
    assert pieces["neighbours"] == (0, 2, "")
    assert pieces["shots"] == (0, 3, "one")


def test_what_stands_beside_an_obstruction_is_not_held_against_sections():
    rows = [section(n, 0.05 if n == 4 else 0.017) for n in range(9)]
    rows[4] = (rows[4][0] | {"station_end": 95.0}, rows[4][1])
    p, pieces = told(rows)["S4"]
    assert pieces["neighbours"] == (0, 0, "")
    assert 0.4 < p < 0.6


def test_next_sections_that_are_off_by_the_same_speak_for_the_work():
    rows = [section(n, 0.05 if 3 <= n <= 6 else 0.017) for n in range(9)]
    made = told(rows)
    assert made["S4"][0] > 0.7
    assert made["S4"][1]["neighbours"] == (2, 2, "")
    assert made["S4"][0] > made["S3"][0]


def test_a_shot_that_two_sections_share_makes_both():
    shared = {"bad": 1.0}
    rows = [section(n, 0.05 if n in (4, 5) else 0.017) for n in range(9)]
    apart = told(rows)["S4"][0]
    rows[4], rows[5] = (section(n, 0.05, shots={**shared, f"f{n}": 0.2}) for n in (4, 5))
    assert told(rows)["S4"][0] < apart


def test_members_that_share_no_shot_show_it_and_others_do_not():
    members = [section(n, 0.05 if 3 <= n <= 6 else 0.017, run="M") for n in range(2, 8)]
    mean, shots = section(5, 0.04, verdict="OUT", shots={f"f{n}": 1.0 for n in range(2, 8)})
    _, pieces = told([*members, (mean | {"finding": "M"}, shots)])["M"]
    assert pieces["shots"] == (2, 2, "members")  # of four beyond the limit each shares a shot with the next
    assert pieces["neighbours"][1] == 0
    one = [section(n, 0.05 if n == 4 else 0.017, run="M") for n in range(2, 8)]
    p, pieces = told([*one, (mean | {"finding": "M"}, shots)])["M"]
    assert pieces["shots"] == (0, 6, "one")
    assert p < 0.6


WORK, WRONG = np.array([3.0, 0.0, 0.0, 0.0]), np.array([-3.0, 0.0, 0.0, 0.0])


def test_the_odds_of_a_shot_that_is_out_by_itself_carry_over():
    rows = [section(n, 0.05 if n == 4 else 0.017) for n in range(9)]
    likely, pieces = told(rows, singles=[("b4", WORK)])["S4"]
    assert likely > 0.95
    assert pieces["member"] == (1, 1, "work")
    wrong, pieces = told(rows, singles=[("b4", WRONG)])["S4"]
    assert wrong < 0.3
    assert pieces["member"] == (0, 1, "shot")


def test_two_shots_that_are_out_by_themselves_show_it_unless_one_is_wrong():
    rows = [section(n, 0.05 if n == 4 else 0.017) for n in range(9)]
    assert told(rows, singles=[("f4", WORK), ("b4", WORK)])["S4"][1]["shots"] == (2, 2, "")
    assert told(rows, singles=[("f4", WORK), ("b4", WRONG)])["S4"][1]["member"] == (0, 1, "shot")


def test_each_of_several_shots_that_are_counted_shows_it():
    row, _ = section(0, 6.0, verdict="OUT")
    likely, pieces = told([(row | {"quantity": "count"}, dict.fromkeys("abcdef", np.nan))])["S0"]
    assert likely > 0.85
    assert pieces["shots"] == (6, 6, "")
