"""Score of gutters: intervals of reveal, fall and ponding depth hold the truth, and level gutters are no ponds."""

import numpy as np
import pandas as pd
import pytest

from geoqa import testing
from geoqa.kernels.design.run_means import LASTING
from geoqa.kernels.drainage.errors_along import ErrorsAlong
from geoqa.kernels.drainage.standing_water import RISK, standing_water
from geoqa.model.tables.columns import conform
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.drainage.gutters import Gutters
from geoqa.steps.drainage.reveals import Reveals

GUTTERS, STATIONS, U = 25, np.arange(0.0, 501.0, 25.0), 0.02
CODES = conform(
    "codes",
    pd.DataFrame(
        [
            {"code": "CFL", "kind": "curb-flow", "geometry": "line", "role": "feature", "pairs_with": "CTB"},
            {"code": "CTB", "kind": "curb-top", "geometry": "line", "role": "feature", "pairs_with": "CFL"},
        ]
    ),
)
KIND = {"CFL": "curb-flow", "CTB": "curb-top"}
LIMITS = testing.limits(
    ("curb-flow", "gutter-fall", 0.003, np.inf), ("curb-flow", "ponding", -np.inf, 0.02), ("curb", "reveal", 0.42, 0.58)
)


def errors(rng, kind, session):
    """Of all shots of a job, in the order they were taken, 20 s apart."""
    count = len(session)
    if kind == "independent":
        return rng.normal(0, U, count)
    if kind == "common":
        return rng.normal(0, U, count) + rng.normal(0, U, 2)[session]
    held = np.exp(-1 / 3 / LASTING)
    step = rng.normal(0, np.sqrt(1 - held**2), count)
    carried = np.empty(count)
    carried[0] = rng.normal()
    for nth in range(1, count):
        carried[nth] = held * carried[nth - 1] + step[nth]
    return U * (np.sqrt(0.6) * carried + np.sqrt(0.4) * rng.normal(0, 1, count))


def street(rng, kind):
    """Gutters of 0.4 to 1 % beside each other, four of five with a sag; their tops stand half a foot above the design,

    but for 125 ft of every fifth one, that were built a tenth of a foot high or low.

    Beside the layers: the true elevations of flow line and top, by the name of the line.
    """
    truth, lines, rows = {}, {}, []
    for number in range(GUTTERS):
        design = 100 + rng.uniform(0.004, 0.01) * STATIONS
        at, width = rng.integers(4, 15), rng.integers(1, 4)
        flow = design.copy()
        sag = design[at] - design[at - 1] + rng.uniform(0.04, 0.4) * np.linspace(1, 0.4, width)
        flow[at : at + width] -= sag * (number % 5 > 0)
        top, apart = design + 0.5, np.random.default_rng(number)
        first = apart.integers(0, len(STATIONS) - 6)
        top[first : first + 6] += apart.choice([-0.1, 0.1]) * (number % 5 == 0)
        truth[f"F{number}"] = (flow, top)
        for name, code, level, lift in (("F", "CFL", flow, 0.0), ("T", "CTB", top, 0.5)):
            lines[f"{name}{number}"] = (KIND[code], 60.0 * number + lift, design + lift)
            rows += [
                {"code": code, "line_id": str(number), "station": station, "offset": 60.0 * number + lift,
                 "elevation": each, "session": "AB"[station > 240]}
                for station, each in zip(STATIONS.tolist(), level.tolist(), strict=True)
            ]  # fmt: skip
    table = pd.DataFrame(rows)
    table["elevation"] += errors(rng, kind, (table["session"] == "B").to_numpy(int))
    table["time"] = pd.Timestamp("2026-03-14 14:00", tz="UTC") + pd.to_timedelta(20 * np.arange(len(table)), unit="s")
    shots = testing.judged_shots(table.to_dict("records"))
    shots = shots.assign(kind=shots["code"].map(KIND), u_v_common=U * (kind == "common"))
    tables = testing.design({name: (*line[:2], 0.0, 500.0) for name, line in lines.items()})
    elements = tables["design_elements"]
    for end, nth in (("start_elevation", 0), ("end_elevation", -1)):
        elements[end] = [lines[name][2][nth] for name in elements["line"]]
    return testing.layers(shots=shots, limits=LIMITS, codes=CODES, **tables), truth


def alone(count):
    return ErrorsAlong.of_shots(np.full(count, U), np.zeros(count), np.full(count, -1))


def standing(z):
    left, right = np.maximum.accumulate(z)[:-2], np.maximum.accumulate(z[::-1])[::-1][2:]
    return float((np.minimum(left, right) - z[1:-1]).max())


@pytest.mark.score
@pytest.mark.parametrize("kind", ["independent", "common", "lasting"])
def test_intervals_hold_the_truth_in_95_of_100(kind):
    held = {"reveal": [], "gutter-fall": [], "ponding": [], "means of off": [], "means of sound": []}
    for seed in range(20):
        layers, truth = street(np.random.default_rng(seed), kind)
        findings = testing.run(layers, MatchLines(), Gutters(), Reveals())["findings"]
        ponds = findings[findings["check"] == "ponding"].sort_values("deviation")
        deepest = ponds.drop_duplicates("subject", keep="last")
        for row in pd.concat([deepest, findings[findings["check"] != "ponding"]]).to_dict("records"):
            flow, top = truth[row["subject"]]
            if row["check"] == "ponding" and not standing(flow) > 0:
                continue
            if str(row["label"]).startswith("mean of"):
                mine = (row["station"] - 1 <= STATIONS) & (row["station_end"] + 1 >= STATIONS)
                true = float((top - flow)[mine].mean())
                off = "means of off" if abs(true - 0.5) > 0.04 else "means of sound"
                held[off].append(abs(row["deviation"] - true) <= 1.959964 * row["u"])
                continue
            if row["check"] == "ponding":
                true = standing(flow)
            elif row["check"] == "gutter-fall":
                mine = (row["station"] - 1 <= STATIONS) & (row["station_end"] + 1 >= STATIONS)
                true = np.polyfit(STATIONS[mine], flow[mine], 1)[0]
            else:
                nth = int(np.argmin(np.abs(STATIONS - row["station"])))
                true = top[nth] - flow[nth]
            held[row["check"]].append(abs(row["deviation"] - true) <= 1.959964 * row["u"])
    shares = {name: float(np.mean(each)) for name, each in held.items()}
    print(kind, {name: f"{share:.3f} of {len(held[name])}" for name, share in shares.items()})
    assert len(held["ponding"]) == 400
    for name, share in shares.items():
        # of sound curbs only those means are told that errors moved: wider, and not narrower
        assert 0.92 <= share <= (1.0 if name == "means of sound" else 0.98), (name, share)


@pytest.mark.score
@pytest.mark.parametrize("grade", [0.0, 0.0005, 0.002, 0.005])
def test_a_gutter_without_standing_water_is_given_some_in_few_of_a_hundred(grade):
    rng = np.random.default_rng(7)
    for count in (5, 20, 60):
        at, covariance = 25.0 * np.arange(count), alone(count)
        false = 0
        for _ in range(500):
            water = standing_water(at, 100 + grade * at + rng.normal(0, U, count), covariance)
            false += bool((water.depth - 1.6448536 * water.widening * U * np.sqrt(2) > 0).any())
        print(grade, count, false)
        assert false / 500 <= RISK


@pytest.mark.score
def test_a_pond_as_deep_as_its_limit_is_called_too_deep_in_few_of_a_hundred():
    rng = np.random.default_rng(8)
    for limit in (0.05, 0.15):
        at, covariance = STATIONS, alone(len(STATIONS))
        z = 100 + 0.006 * at
        z[10] = z[9] - limit
        assert standing(z) == pytest.approx(limit)
        out = 0
        for _ in range(1000):
            water = standing_water(at, z + rng.normal(0, U, len(z)), covariance)
            out += bool((water.depth - 1.6448536 * water.widening * U * np.sqrt(2) > limit).any())
        print(limit, out / 1000)
        assert out / 1000 <= RISK + 0.02
