"""Work out of tolerance and shots that are wrong, side by side in one job, and which of the two each finding is.

Defects, wrong shots and bad initializations are drawn at random in the proportion that the odds assume; their sizes and
places follow no formula of the code.
"""

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.kernels.judging.odds import chance
from geoqa.simulate.crew.draws import stream
from geoqa.simulate.crew.plants import Item, Sown, plant
from geoqa.simulate.site.scenario import TOLERANCES

if TYPE_CHECKING:
    from geoqa.simulate.make import Simulated

AS_ASSUMED, OTHERWISE = "Q01", "Q02"
"""Plants: stretches as long as the odds assume, and stretches of another law, with fewer that are one shot long."""
REACH = 0.66
"""Chance that a stretch goes on to the next shot, 25 ft away: exp(-25 / 60)."""
STRETCHES, WRONG_SHOTS = 8.0, 5.0
"""Mean numbers in a job: 8 stretches of 3 shots and 5 shots of 870 are 10 and 2 of 1,000 three times over."""
BAD_BLOCK, WRONG_ROD = 0.3, 0.1
"""Chance of a bad initialization, and of another rod, in a job; most of them the diagnosis holds."""
_PAIRS = {"CFL": "CTB", "CTB": "CFL", "WKF": "WKB", "WKB": "WKF"}


def _beyond(draw: np.random.Generator, limit: float) -> float:
    """A size beyond a limit that a shot proves, to either side."""
    return float((limit + draw.uniform(0.06, 0.4)) * draw.choice([-1.0, 1.0]))


def _axes(kind: str) -> list[str]:
    return [axis for axis, limit in zip("hv", TOLERANCES[kind][:2], strict=True) if limit is not None]


def _length(draw: np.random.Generator, plant_id: str) -> int:
    return int(draw.geometric(1.0 - REACH) if plant_id == AS_ASSUMED else draw.integers(1, 6))


def _defects(plan: "pd.DataFrame", draw: np.random.Generator, plant_id: str) -> list[tuple[int, ...]]:
    """Stretches of a line, or a point, built wrong; now and then the line beside it too."""
    made = []
    feature = plan[plan["target"].isin(["line", "point"]) & plan["kind"].isin(list(TOLERANCES))]
    for _ in range(draw.poisson(STRETCHES)):
        # a point three times as often: the same share of points is out as of places along lines
        weight = np.where(feature["target"] == "point", 3.0, 1.0)
        first = feature.loc[draw.choice(feature.index, p=weight / weight.sum())]
        line = feature[feature["design"] == first["design"]].sort_values("station")
        at = list(line.index).index(first.name)
        rows = list(line.index[at : at + _length(draw, plant_id)]) if first["target"] == "line" else [first.name]
        axis = str(draw.choice(_axes(first["kind"])))
        size = _beyond(draw, TOLERANCES[first["kind"]]["hv".index(axis)])
        beside = _PAIRS.get(str(first["design"])[:3])
        if beside and draw.random() < 0.25:
            name = beside + str(first["design"])[3:]
            near = feature[(feature["design"] == name) & feature["station"].between(*_ends(line, rows))]
            rows += list(near.index)
        share = draw.uniform(0.85, 1.2, len(rows))
        column = "dev_z" if axis == "v" else "aside" if first["target"] == "line" else "dev_e"
        plan.loc[rows, column] += size * share
        made.append(tuple(rows))
    return made


def _ends(line: "pd.DataFrame", rows: list[Any]) -> tuple[float, float]:
    station = line.loc[rows, "station"]
    return float(station.min()) - 5.0, float(station.max()) + 5.0


def _wrong_shots(plan: "pd.DataFrame", draw: np.random.Generator) -> list[tuple[int, ...]]:
    """Single shots off by more than they can be; the log says of one in five that it leaned, or saw few satellites."""
    feature = plan.index[plan["target"].isin(["line", "point"]) & plan["kind"].isin(list(TOLERANCES))]
    made = []
    for row in draw.choice(feature, size=draw.poisson(WRONG_SHOTS), replace=False):
        kind = plan.loc[row, "kind"]
        axis = str(draw.choice(_axes(kind)))
        size = _beyond(draw, TOLERANCES[kind]["hv".index(axis)])
        if axis == "v":
            plan.loc[row, "err_v"] += size
        else:
            angle = draw.uniform(0.0, 2 * np.pi)
            plan.loc[row, ["err_e", "err_n"]] += 1.5 * size * np.array([np.sin(angle), np.cos(angle)])
        sign = draw.random()
        if 0.2 <= sign < 0.4:
            plan.loc[row, "satellites"] = 5
        if sign < 0.2:
            plan.loc[row, "tilt"] = round(draw.uniform(6.0, 15.0), 1)
        made.append((row,))
    return made


def _bad_blocks(plan: "pd.DataFrame", draw: np.random.Generator) -> list[tuple[int, ...]]:
    """A stretch of a session off together."""
    made = []
    if draw.random() < BAD_BLOCK:
        rows = plan.index[plan["session"] == draw.choice(list("ABC"))]
        first = int(draw.integers(0, len(rows) - 30))
        rows = rows[first : first + int(draw.integers(10, 40))]
        plan.loc[rows, ["common_e", "common_n", "common_v"]] += draw.normal(0.0, 0.3, 3)
        plan.loc[rows, "initialization"] = "bad" if draw.random() < 0.5 else plan.loc[rows, "initialization"]
        made.append(tuple(rows))
    if draw.random() < WRONG_ROD:
        rows = plan.index[plan["session"] == draw.choice(list("ABC"))]
        rows = rows[int(draw.integers(10, len(rows) - 10)) :]
        plan.loc[rows, "common_v"] += draw.choice([-1.0, 1.0]) * draw.uniform(0.2, 0.6)
        made.append(tuple(rows))
    return made


def _sown(plan: "pd.DataFrame", seed: int, plant_id: str) -> Sown:
    draw = stream(seed, "work or shot")
    sown = [("shot", _wrong_shots(plan, draw)), ("block", _bad_blocks(plan, draw))]
    sown.append(("defect", _defects(plan, draw, plant_id)))
    return plan, [
        Item(ids=tuple(plan.loc[list(rows), "id"]), level="none", subject=f"{name} {number}")
        for name, groups in sown
        for number, rows in enumerate(groups)
    ]


@plant(AS_ASSUMED, "defects of the work, wrong shots and bad initializations, at random")
def _as_assumed(plan: "pd.DataFrame", seed: int) -> Sown:
    return _sown(plan, seed, AS_ASSUMED)


@plant(OTHERWISE, "the same, stretches of 1 to 5 shots alike often")
def _otherwise(plan: "pd.DataFrame", seed: int) -> Sown:
    return _sown(plan, seed, OTHERWISE)


def held_against_truth(job: "Simulated", layers: Any) -> "pd.DataFrame":
    """One row a reported finding of the work that is out: probability that it is the work, and what it is.

    `about` is the planted thing it is about, so that what is found of one thing counts once.
    """
    findings = layers["findings"]
    work = [name for name in findings["check"].unique() if check_named(name).subject == "work"]
    out = findings[findings["check"].isin(work) & (findings["verdict"] == "OUT") & findings["run"].isna()]
    total = layers["work_odds"].groupby("finding")["log_ratio"].sum()
    of_shot: dict[str, list[str]] = {}
    for item in job.truth.items:
        if item["plant"] in (AS_ASSUMED, OTHERWISE):
            for key in item["shots"]:
                of_shot.setdefault(key, []).append(item["subject"])
    members = layers["evidence"].groupby("finding")["key"].agg(list).to_dict()
    rows = []
    for name, shot in zip(out["finding"], out["shot"], strict=True):
        keys = [shot] if isinstance(shot, str) else members.get(name, [])
        about = [each for key in keys for each in of_shot.get(key, [])]
        most = max(sorted(set(about)), key=about.count) if about else "nothing"
        both = len({each.partition(" ")[0] == "defect" for each in set(about)}) > 1
        rows.append(
            {
                "finding": name,
                "p": float(chance(total[name])),
                "about": most,
                "work": most.startswith("defect"),
                "both": both,
            }
        )
    return pd.DataFrame(rows, columns=["finding", "p", "about", "work", "both"])
