"""Plants for screening: procedure, codes, strings and single shots gone wrong. All are off by default.

Ids that begin with S are of faults in single shots or places.
"""

from typing import TYPE_CHECKING

import numpy as np

from geoqa.simulate.crew.draws import stream
from geoqa.simulate.crew.plants import PLANTS, Item, Sown, plant
from geoqa.simulate.site import alignment, scenario

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["PLANTS"]

SPIKES = {"CTB-L-1/1200.0": ("dev_z", 0.45), "CFL-R-2/2500.0": ("dev_z", -0.35), "WKB-R-1/1500.0": ("aside", 0.60)}
"""Shots that stray alone, and by how many feet, from a blunder of measuring that nobody noticed."""
CANOPY = (2600.0, 2760.0)
"""Stations, on the left, under trees."""


def _label(plan: "pd.DataFrame", name: str) -> int:
    return int(plan.index[plan["id"] == name][0])


def _again(plan: "pd.DataFrame", rows: list[dict]) -> "pd.DataFrame":
    """Rows with changes, added to the plan."""
    import pandas as pd

    made = []
    for changes in rows:
        row = plan.loc[changes.pop("of")].copy()
        for key, value in changes.items():
            row[key] = value
        made.append(row)
    return pd.concat([plan, pd.DataFrame(made).astype(plan.dtypes.to_dict())], ignore_index=True)


def _own_errors(seed: int, name: str, count: int) -> np.ndarray:
    spread = [scenario.U_HORIZONTAL, scenario.U_HORIZONTAL, scenario.U_VERTICAL]
    return stream(seed, f"plant {name}").normal(size=(count, 3)) * spread


@plant("T10", "no closing check on control in session C of day 2")
def _no_closing(plan: "pd.DataFrame", seed: int) -> Sown:
    plan = plan[~plan["id"].str.startswith("C/close/")].copy()
    last = plan[(plan["session"] == "C") & (plan["target"] == "mark")]["time"].max()
    features = [kind for _, kind, _, role, *_ in scenario.CODES if role == "feature"]
    after = plan[(plan["session"] == "C") & (plan["time"] > last) & plan["kind"].isin(features)]
    return plan, [Item(ids=tuple(after["id"]), level="none", flag="no-closing-check")]


@plant("T11", "12 points of session B measured again 3 minutes later, by the same crew with the same initialization")
def _close_repeats(plan: "pd.DataFrame", seed: int) -> Sown:
    import pandas as pd

    rows = plan.index[(plan["session"] == "B") & (plan["design"] == "WKB-R-1")][10:22]
    delayed = (plan["session"] == "B") & (plan["time"] > plan.loc[rows[0], "time"])
    later_ids = tuple(plan.loc[delayed, "id"])
    for row in rows:  # the crew waits at each of them, and everything after is later
        later = (plan["session"] == "B") & (plan["time"] > plan.loc[row, "time"])
        plan.loc[later, "time"] += pd.Timedelta(seconds=190)
    # what is shared within minutes stays; only a small part is new
    own = _own_errors(seed, "T11", len(rows)) * 0.2
    made = []
    for number, (row, error) in enumerate(zip(rows, own, strict=True), start=1):
        old = plan.loc[row]
        made.append(
            {
                "of": row, "id": f"again/{number}", "shot": str(1900 + number), "sequence": None,
                "time": old["time"] + pd.Timedelta(minutes=3), "err_e": old["err_e"] + error[0],
                "err_n": old["err_n"] + error[1], "err_v": old["err_v"] + error[2],
            }
        )  # fmt: skip
    plan = _again(plan, made)
    again = tuple(f"again/{number}" for number in range(1, 13))
    return plan, [Item(ids=again, level="none", flag="same-place"), Item(ids=later_ids, level="none")]


@plant("T15", "back of walk coded WKF at 5 shots, 16+00 to 17+00 right")
def _wrong_code(plan: "pd.DataFrame", seed: int) -> Sown:
    ids = [f"WKB-R-1/{station:.1f}" for station in (1600, 1625, 1650, 1675, 1700)]
    rows = [_label(plan, name) for name in ids]
    plan.loc[rows, "kind"] = "walk-front"
    return plan, [Item(ids=tuple(ids), flag="code-slip", expect="NO_DATA")]


@plant("T16", "flow line and top of curb exchanged at 24+25 left")
def _swapped_pair(plan: "pd.DataFrame", seed: int) -> Sown:
    ids = ("CFL-L-2/2425.0", "CTB-L-2/2425.0")
    one, two = (_label(plan, name) for name in ids)
    places = ["base_e", "base_n", "base_z", "station", "aside", "dev_z"]
    plan.loc[[one, two], places] = plan.loc[[two, one], places].to_numpy()
    return plan, [Item(ids=ids, flag="swapped-pair", expect="NO_DATA")]


@plant("T18", "outline of ramp CR-3 not closed: 0.4 ft between last and first shot")
def _open_outline(plan: "pd.DataFrame", seed: int) -> Sown:
    import pandas as pd

    corners = [(-2.5, 16.5), (2.5, 16.5), (2.5, 22.0), (2.5, 26.0), (-2.5, 26.0), (-2.5, 22.0), (-2.1, 16.5)]
    level = {16.5: -0.3625, 22.0: 0.05, 26.0: 0.11}
    middle = 2252.5
    neighbour = _label(plan, "CR-3 1")
    own = _own_errors(seed, "T18", len(corners))
    made = []
    for number, ((aside, distance), error) in enumerate(zip(corners, own, strict=True), start=1):
        east, north = alignment.place(middle + aside, -distance)
        made.append(
            {
                "of": neighbour, "id": f"CR-3 outline/{number}", "kind": "ramp-outline",
                "shot": str(2940 + number), "line_id": "CR-3 outline",
                "sequence": number, "target": "none", "design": None, "station": np.nan, "dev_e": 0.0, "dev_n": 0.0,
                "dev_z": 0.0, "base_e": float(east), "base_n": float(north),
                "base_z": float(alignment.profile(middle)) + level[distance],
                "time": plan.loc[neighbour, "time"] - pd.Timedelta(seconds=2 * (8 - number)),
                "err_e": error[0], "err_n": error[1], "err_v": error[2],
            }
        )  # fmt: skip
    plan = _again(plan, made)
    between = tuple(f"CR-3 outline/{number}" for number in range(2, 7))
    return plan, [
        Item(ids=("CR-3 outline/1", "CR-3 outline/7"), level="none", number=0.4, flag="unclosed"),
        Item(ids=between, level="none"),
    ]


@plant("T19", "two flow line strings joined across Osprey Street at 22+30 left")
def _joined_strings(plan: "pd.DataFrame", seed: int) -> Sown:
    first, second = (plan["design"] == name for name in ("CFL-L-1", "CFL-L-2"))
    most = int(plan.loc[first, "sequence"].max())
    plan.loc[second, "line_id"] = plan.loc[first, "line_id"].iloc[0]
    plan.loc[second, "sequence"] = plan.loc[second, "sequence"] + most
    ends = plan.loc[first, "station"].idxmax(), plan.loc[second, "station"].idxmin()
    return plan, [
        Item(ids=tuple(plan.loc[list(ends), "id"]), level="none", flag="false-jump"),
        Item(ids=tuple(plan.loc[second, "id"]), level="none"),
    ]


@plant("S01", "three shots astray by 0.45, -0.35 and 0.60 ft")
def _spikes(plan: "pd.DataFrame", seed: int) -> Sown:
    items = []
    for name, (what, size) in SPIKES.items():
        row = _label(plan, name)
        if what == "dev_z":
            plan.loc[row, "err_v"] += size
        else:
            right = np.radians(plan.loc[row, "azimuth"] + 90.0)
            plan.loc[row, ["err_e", "err_n"]] += size * np.array([np.sin(right), np.cos(right)])
        items.append(Item(ids=(name,), level="none", number=size, flag="spike"))
    return plan, items


@plant("S02", "one shot of day 1 logged 300 ft away within 3 seconds")
def _teleported(plan: "pd.DataFrame", seed: int) -> Sown:
    import pandas as pd

    name = "CFL-L-1/1600.0"
    row = _label(plan, name)
    day = plan[plan["source"] == plan.loc[row, "source"]].sort_values("time")
    far = np.hypot(day["base_e"] - plan.loc[row, "base_e"], day["base_n"] - plan.loc[row, "base_n"])
    later = day[(far > 300.0) & (day["time"] > plan.loc[row, "time"]) & (day["kind"] == "walk-back")].iloc[3]
    plan.loc[row, "time"] = later["time"] + pd.Timedelta(seconds=3)
    return plan, [Item(ids=(name,), level="none", flag="motion")]


@plant("S03", "one row twice, one shot under two names, one point shot again under its name")
def _doubles(plan: "pd.DataFrame", seed: int) -> Sown:
    import pandas as pd

    row, other, third = (_label(plan, f"CTB-R-2/{station:.1f}") for station in (2400, 2500, 2600))
    error = _own_errors(seed, "S03", 1)[0]
    evening = plan.loc[plan["session"] == "C", "time"].max() + pd.Timedelta(minutes=10)
    plan = _again(
        plan,
        [
            {"of": row, "id": "double/row"},
            {"of": other, "id": "double/name", "shot": "2951"},
            {
                "of": third, "id": "double/again", "time": evening,
                "err_e": error[0], "err_n": error[1], "err_v": error[2],
            },
        ],
    )  # fmt: skip
    return plan, [
        Item(ids=("double/row",), level="none", flag="row-twice"),
        Item(ids=("CTB-R-2/2500.0", "double/name"), level="none", flag="two-names"),
        Item(ids=("double/again",), level="none", flag="re-shot"),
    ]


@plant("S04", "trees over 26+00 to 27+60 left: half the satellites, twice the scatter, and the log says so")
def _canopy(plan: "pd.DataFrame", seed: int) -> Sown:
    left = plan["design"].fillna("").str.contains("-L-2", regex=False)
    rows = plan.index[left & plan["station"].between(*CANOPY)]
    plan.loc[rows, "satellites"] = plan.loc[rows, "satellites"] // 2
    plan.loc[rows, ["pdop", "hdop", "vdop"]] *= 1.7
    plan.loc[rows, ["reported_h", "reported_v"]] *= 1.8
    plan.loc[rows, ["err_e", "err_n", "err_v"]] *= 2.0
    inside = rows[plan.loc[rows, "station"].between(CANOPY[0] + 20, CANOPY[1] - 20)]
    return plan, [
        Item(ids=tuple(plan.loc[inside, "id"]), level="none", flag="weak-sky"),
        Item(ids=tuple(plan.loc[rows, "id"]), level="none"),
    ]
