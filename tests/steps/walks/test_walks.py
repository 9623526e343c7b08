"""Walks: what is judged from both edges, and what is said where there is only one."""

import numpy as np
import pandas as pd
import pytest

from bench.walk_shots import layers_of, readings, walk_rows
from geoqa import testing
from geoqa.steps.walks.means import share_by_legs
from geoqa.steps.walks.walks import Walks

CROSS = ("walk", "cross-slope", -1 / 48, 1 / 48)
RUNNING = ("walk", "running-slope", -1 / 20, 1 / 20)
WIDTH = ("walk", "clear-width", 4.0, np.inf)
PASSING = ("walk", "passing-space", -np.inf, 200.0)
FINE = {"u_v_random": 0.002, "u_h_random": 0.002}


def told(rows, *limits, check="cross-slope", step=None, **columns):
    done = testing.run(layers_of(rows, *limits, **columns), step or Walks())
    findings = done["findings"]
    return findings[findings["check"] == check].reset_index(drop=True), done


def side_by_side(planted, *limit, check, **columns):
    """Verdicts of walks side by side, one for each planted case."""
    rows = []
    for number, case in enumerate(planted):
        rows += walk_rows([0, 20], line=str(number), aside=60.0 * number, **case)
    findings, _ = told(rows, *limit, check=check, **columns)
    line = findings["subject"].str.rpartition(" ")[2].astype(int)
    return [set(findings.loc[line == number, "verdict"]) for number in range(len(planted))], findings


def test_both_sides_of_the_limit_of_a_cross_slope():
    sizes = (1 / 48 - 2e-3, 1 / 48 + 2e-3, 1 / 48 - 1e-4, 1 / 48 + 1e-4)
    cases = [{"slope": sign * size} for size in sizes for sign in (1, -1)]
    verdicts, findings = side_by_side(cases, CROSS, check="cross-slope", **FINE)
    assert verdicts == [{"IN"}] * 2 + [{"OUT"}] * 2 + [{"UNDECIDED"}] * 4
    falls = findings.set_index("measured")["label"].str.rpartition("falls to ")[2]
    assert {(slope > 0, edge) for slope, edge in falls.items()} == {(True, "walk-front"), (False, "walk-back")}


def test_both_sides_of_the_limit_of_a_running_slope():
    cases = [{"grade": sign * size} for size in (0.049, 0.051, 0.05) for sign in (1, -1)]
    verdicts, findings = side_by_side(cases, RUNNING, check="running-slope", **FINE)
    assert verdicts == [{"IN"}] * 2 + [{"OUT"}] * 2 + [{"UNDECIDED"}] * 2
    # rising as it was walked: up along the front, down along the back
    mine = findings[findings["subject"] == "WKF 0"]["measured"].to_numpy()
    assert mine == pytest.approx([0.049])


def test_both_sides_of_the_limit_of_a_width():
    cases = [{"width": width} for width in (4.02, 3.98, 4.0)]
    assert side_by_side(cases, WIDTH, check="clear-width", **FINE)[0] == [{"IN"}, {"OUT"}, {"UNDECIDED"}]


def with_readings(*rows, u):
    start = layers_of(walk_rows([0, 25], slope=0.019), CROSS)
    layers = testing.layers(**{name: start[name] for name in ("shots", "codes", "limits")}, **readings(*rows, u=u))
    return testing.run(layers, Walks())["findings"]


@pytest.mark.long
def test_a_better_reading_is_judged_in_place_of_the_shots_and_both_are_shown():
    row = ("cross-slope", "slope", "101", 0.024)
    findings = with_readings(row, ("cross-slope", "slope", "nowhere", 0.02), u=0.001).set_index("verdict")
    assert findings.loc["OUT", ["measured", "u"]].tolist() == [0.024, 0.001]
    assert "read 2.4 % ± 0.2 %, by shots 1.9 % ±" in findings.loc["OUT", "label"]
    assert findings.loc["UNDECIDED", "measured"] == pytest.approx(0.019)
    assert findings.loc["NO_DATA", "why"] == "reading-elsewhere"
    kept = with_readings(row, u=0.02)
    assert kept["measured"].to_numpy() == pytest.approx([0.019] * 2)
    assert kept["label"].str.contains("the shots are judged").sum() == 1


def test_a_steep_stretch_of_four_sections_is_one_finding_judged_by_its_mean():
    at = np.arange(0, 601, 25.0)
    slope = np.where((at >= 200) & (at <= 275), 0.038, 0.015)
    generator = np.random.default_rng(4)
    noise = tuple(generator.normal(0, 0.02, len(at)) for _ in range(2))
    findings, _ = told(walk_rows(at, slope=slope, errors=noise), CROSS)
    means = findings[findings["label"].str.startswith("mean of") & (findings["verdict"] == "OUT")]
    assert len(means) == 1
    mean = means.iloc[0]
    assert mean["label"].startswith("mean of 4 sections over 75 ft")
    assert mean["measured"] == pytest.approx(0.038, abs=3 * 0.0032)
    assert mean["u"] >= 0.02 * np.sqrt(2) / 5 / 2
    members = findings[findings["run"] == mean["finding"]]
    assert len(members) == 4
    # sound work beside it is never called out
    assert set(findings.loc[findings["measured"] < 1 / 48, "verdict"]) <= {"IN", "UNDECIDED"}


def test_an_obstruction_leaves_the_width_of_its_wider_side():
    rows = walk_rows([0, 25, 50])
    for note in ("pole, centre, r 0.4 ft", "face of box", "", "centre"):
        rows.append({"code": "OBS", "offset": 1.2, "station": 30.0, "note": note})
    findings, done = told(rows, WIDTH, check="clear-width", **FINE, role="feature")
    beside = findings[findings["label"].str.startswith("beside")]
    told_widths = dict(zip(beside["label"], beside["measured"].round(6), strict=True))
    assert told_widths == {
        "beside the obstruction at shot 107 (centre shot, radius 0.40 ft)": 3.4,
        "beside the obstruction at shot 108 (face shot)": 3.8,
        "beside the obstruction at shot 109 (taken for its face, size not told)": 3.8,
        "beside the obstruction at shot 110 (centre shot, size not told)": pytest.approx(np.nan, nan_ok=True),
    }
    last = beside[beside["label"].str.contains("110")].iloc[0]
    assert (last["verdict"], last["why"]) == ("NO_DATA", "size-not-told")
    assert len(done["walk_sections"]) == 3


@pytest.mark.long
def test_passing_spaces():
    narrow, _ = told(walk_rows(np.arange(0, 301, 25.0), width=4.5), PASSING, check="passing-space", **FINE)
    assert narrow[["verdict", "measured"]].to_numpy().tolist() == [["OUT", pytest.approx(300)]]
    wide, _ = told(walk_rows(np.arange(0, 301, 25.0), width=6), PASSING, check="passing-space", **FINE)
    assert wide["verdict"].tolist() == ["IN"]
    doubt, _ = told(walk_rows(np.arange(0, 301, 25.0), width=5), PASSING, check="passing-space", u_h_random=0.05)
    assert doubt["verdict"].tolist() == ["UNDECIDED"]
    assert doubt["remedy"].iloc[0].startswith("tape the walk")


def why(rows, **columns):
    findings, _ = told(rows, CROSS, **FINE, **columns)
    lost = findings[findings["verdict"] == "NO_DATA"]
    return dict(zip(lost["label"], lost["why"], strict=True)), findings


@pytest.mark.long
def test_one_edge_crossed_edges_gaps_and_lost_shots_say_why():
    both = walk_rows(np.arange(0, 101, 25.0))
    front = [row for row in both if row["code"] == "WKF"]
    assert why(front)[0] == {"WKF 1, shots 101 to 105": "one-edge"}
    shorter = front + [row for row in both if row["code"] == "WKB" and row["station"] < 60]
    assert why(shorter)[0] == {"WKF 1, shots 104 to 105": "one-edge"}
    crossed = [row | {"offset": -5.0} if row["code"] == "WKB" and row["station"] > 70 else row for row in both]
    lost, findings = why(crossed)
    assert set(lost.values()) == {"crossed-edges"}
    assert (findings["verdict"] == "IN").any()
    far = [row | {"offset": 40.0} if row["code"] == "WKB" else row for row in both]
    assert set(why(far)[0].values()) == {"one-edge"}
    nameless = [row | {"line_id": None} if row["code"] == "WKB" else row for row in both]
    assert set(why(nameless)[0].values()) == {"one-edge", "no-line-id"}
    rejected = [row | {"use": row["station"] != 50.0} for row in both]
    assert {"screened"} <= set(why(rejected)[0].values())
    without = [row | {"elevation": np.nan} if row["station"] == 50.0 else row for row in both]
    assert set(why(without)[0].values()) == {"no-elevation"}
    remedies = why(front)[1]["remedy"]
    assert remedies.tolist() == ["shoot the other edge across from it"]


def test_a_leg_that_is_too_long_tells_no_slope():
    findings, _ = told(walk_rows([0, 20, 120]), RUNNING, check="running-slope", **FINE)
    assert sorted(zip(findings["verdict"], findings["why"], strict=True)) == [
        *[("IN", "proven")] * 2,
        *[("NO_DATA", "legs-too-long")] * 2,
    ]


def test_several_long_legs_of_one_edge_are_findings_of_their_own():
    findings, _ = told(walk_rows([0, 20, 120, 230]), RUNNING, check="running-slope", **FINE)
    long = findings[findings["why"] == "legs-too-long"]
    assert len(long) == 4
    assert findings["finding"].is_unique


@pytest.mark.long
@pytest.mark.parametrize("seed", range(3))
def test_any_order_of_rows_gives_the_same_findings(seed):
    generator = np.random.default_rng(seed)
    at = np.arange(0, 301, 25.0)
    errors = tuple(generator.normal(0, 0.02, len(at)) for _ in range(2))
    plan = tuple(generator.normal(0, [0.02, 1.0], (len(at), 2)) for _ in range(2))
    start = layers_of(walk_rows(at, errors=errors, plan=plan), CROSS, RUNNING, WIDTH, PASSING)
    order = generator.permutation(len(start["shots"]))
    shots = pd.DataFrame(start["shots"].iloc[order].reset_index(drop=True)).drop(columns="geometry")
    turned = testing.layers(shots=shots, codes=start["codes"], limits=start["limits"])
    columns = ["finding", "label", "measured", "u", "verdict", "why", "run"]
    one, two = (
        testing.run(each, Walks())["findings"][columns].sort_values("finding", ignore_index=True).round(9)
        for each in (start, turned)
    )
    pd.testing.assert_frame_equal(one, two)
    assert len(one) > 40


@pytest.mark.long
def test_between_sessions_the_bias_of_either_is_felt():
    rows = walk_rows([0, 25])
    one, done = told(rows, CROSS)
    assert done["notes"]["note"].tolist() == ["level-changes"]
    mixed, _ = told([row | {"session": "B"} if row["code"] == "WKB" else row for row in rows], CROSS)
    assert one["u_common"].max() == pytest.approx(0, abs=1e-9)
    assert mixed["u_common"].to_numpy() == pytest.approx(0.02 * np.sqrt(2) / 5, rel=1e-6)


def test_without_limits_nothing_is_made():
    findings, done = told(walk_rows([0, 25]))
    assert len(findings) == len(done["findings"]) == len(done["walk_sections"]) == 0


def test_sections_are_a_layer_of_their_own():
    _, done = told(walk_rows([0, 25]), ("walk", "cross-slope", -1 / 48, 1 / 48))
    assert done["walk_sections"]["towards"].tolist() == ["falls to walk-front"] * 2
    assert done["walk_sections"]["cross_slope"].round(6).tolist() == [0.015] * 2


def test_what_lasts_is_learned_from_legs_and_never_from_too_few():
    generator = np.random.default_rng(2)
    count, phi = 300, np.exp(-1 / 20)
    white = generator.normal(0, 0.02, count)
    chain = np.empty(count)
    chain[0] = white[0]
    for place in range(1, count):
        chain[place] = phi * chain[place - 1] + np.sqrt(1 - phi**2) * white[place]
    line, station, u = np.zeros(count - 1), np.arange(count - 1) * 25.0, np.full(count - 1, 0.02 * np.sqrt(2) / 25)
    minute = np.ones(count - 1)

    def share(error, between=minute):
        return share_by_legs(line[: len(between)], station, np.diff(error)[: len(between)] / 25, u, between)

    assert share(chain) == pytest.approx(1.0, abs=0.03)
    assert share(white) < 0.1
    assert share(chain, np.full(count - 1, np.nan)) == 0.0
    assert share_by_legs(line[:40], station[:40], np.diff(chain)[:40] / 25, u[:40], minute[:40]) == 0.0


def test_beside_a_crossing_of_the_edges_no_width_is_judged():
    rows = walk_rows(np.arange(0.0, 191, 10), width=5.0)
    crossed = [
        row | {"offset": 5.0 - row["offset"], "station": row["station"] + (3 if row["code"] == "WKB" else 0)}
        if row["station"] >= 100 else row
        for row in rows
    ]  # fmt: skip
    findings, _ = told(crossed, ("walk", "clear-width", 4.7, np.inf), check="clear-width", **FINE)
    assert set(findings["verdict"]) == {"IN", "NO_DATA"}
    lost = findings.loc[findings["why"] == "crossed-edges", "label"]
    assert any(each.startswith("WKF 1, shots 110 to ") for each in lost), "the last shot of it before the crossing"


def test_what_decides_a_section_is_a_reading_and_no_further_pass_that_would_join_its_strings():
    near, _ = told(walk_rows(np.arange(0, 101, 25.0), slope=0.019), CROSS, u_v_random=0.012)
    assert set(near["verdict"]) == {"UNDECIDED"}
    assert near["remedy"].str.startswith("a reading of a 4 ft digital level with u of 0.100 % decides ").all()
    assert not near["remedy"].str.contains("more|pass").any()
