"""What is planted in finished work: slopes, widths, falls and covers, which several shots tell together."""

from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.simulate.crew.plants import Item, Sown, added, ids_along, plant, rows_of
from geoqa.simulate.site import alignment, scenario
from geoqa.simulate.site.design import lines

if TYPE_CHECKING:
    import pandas as pd

LIMITS = scenario.FINISHED_LIMITS
_PAIR = float(np.sqrt(2.0)) * scenario.U_VERTICAL
"""1 sigma of the rise between two shots of one session."""
_WIDE = 5.0


def _tilted(plan: "pd.DataFrame", side: str, part: str, stations: list[float], slope: float) -> Sown:
    """Build a walk at another cross slope about its middle: the back edge as much higher as the front is lower."""
    half = (slope - scenario.WALK_SLOPE) * _WIDE / 2
    ids: list[str] = []
    items: list[Item] = []
    for code, rise in (("WKF", -half), ("WKB", half)):
        line = f"{code}-{side}-{part}"
        mine = ids_along(line, stations)
        plan.loc[rows_of(plan, mine), "dev_z"] = rise
        ids += mine
        items += [Item(check="elevation", subject=line, ids=(each,), number=rise) for each in mine if abs(rise) > 0.03]
    u = _PAIR / _WIDE / np.sqrt(len(stations))
    made = Item(check="cross-slope", level="stretch", ids=tuple(ids), number=slope, u=u, limits=LIMITS["cross-slope"])
    return plan, [made, *items]


@plant("D01", "walk 12+00 to 12+75 left built with a cross slope of 3.8 %; the limit is 1:48")
def _steep_walk(plan: "pd.DataFrame", seed: int) -> Sown:
    return _tilted(plan, "L", "1", [1200, 1225, 1250, 1275], 0.038)


@plant("D02", "walk 15+50 to 16+25 right built with a cross slope of 2.3 %")
def _hardly_steep_walk(plan: "pd.DataFrame", seed: int) -> Sown:
    return _tilted(plan, "R", "1", [1550, 1575, 1600, 1625], 0.023)


@plant("D03", "walk 17+00 to 18+00 left built with a cross slope of 1.95 %: sound, and hardly to be proven")
def _sound_walk(plan: "pd.DataFrame", seed: int) -> Sown:
    return _tilted(plan, "L", "1", [1700, 1725, 1750, 1775, 1800], 0.0195)


@plant("D04", "walk 19+50 to 21+00 right as designed, 1.5 %: sound, and proven by its sections together, hardly by one")
def _walk_as_designed(plan: "pd.DataFrame", seed: int) -> Sown:
    return _tilted(plan, "R", "1", [1950, 1975, 2000, 2025, 2050, 2075, 2100], scenario.WALK_SLOPE)


def _corner(ramp: str, numbers: str) -> list[str]:
    return [f"{ramp} {number}" for number in numbers]


@plant("D05", "ramp CR-1 built at 11.2 % over 6 ft; the limit is 1:12")
def _steep_ramp(plan: "pd.DataFrame", seed: int) -> Sown:
    half = (0.112 - 0.075) * 6.0 / 2
    items = []
    for corners, rise in (("123", -half), ("45678", half)):
        ids = _corner("CR-1", corners)
        plan.loc[rows_of(plan, ids), "dev_z"] = rise
        items += [Item(check="elevation", subject=each, ids=(each,), number=rise) for each in ids]
    ids = _corner("CR-1", "123456")
    u = _PAIR / 6.0 / np.sqrt(3.0)
    made = Item(check="ramp-slope", level="section", ids=tuple(ids), number=0.112, u=u, limits=LIMITS["ramp-slope"])
    return plan, [made, *items]


@plant("D06", "gutter at ramp CR-2 rises towards the street by 6.5 % over 2 ft; the limit is 5 %")
def _steep_gutter(plan: "pd.DataFrame", seed: int) -> Sown:
    ramp = next(each for each in scenario.DEPRESSIONS if each.name == "CR-2")
    middle = (ramp.first + ramp.last) / 2
    neighbour = int(rows_of(plan, _corner("CR-2", "2"))[0])
    rows: list[dict[str, Any]] = []
    for number, aside in enumerate((-2.5, 0.0, 2.5), start=1):
        east, north = alignment.place(middle + aside, 14.0)
        rows.append(
            {"id": f"gutter/{number}", "kind": "ramp-gutter", "line_id": f"CR-2 G{number}", "sequence": None,
             "target": "none", "design": None, "station": np.nan, "shot": str(1930 + number), "note": "edge of pan",
             "base_e": float(east), "base_n": float(north),
             "base_z": float(alignment.profile(middle)) - 0.40 + 0.065 * 2.0}
        )  # fmt: skip
    plan = added(plan, neighbour, rows, seed, "D06")
    ids = (*_corner("CR-2", "123"), *(row["id"] for row in rows))
    u = _PAIR / 2.0 / np.sqrt(3.0)
    return plan, [Item(check="counter-slope", level="section", ids=ids, number=0.065, u=u,
                       limits=LIMITS["counter-slope"])]  # fmt: skip


@plant("D07", "turning space of ramp CR-3 is 46 in by 48 in; the limit is 48 in")
def _narrow_turning_space(plan: "pd.DataFrame", seed: int) -> Sown:
    inward = 2.5 - 46.0 / 24.0
    ramp = next(each for each in scenario.DEPRESSIONS if each.name == "CR-3")
    ahead = np.radians(alignment.azimuth((ramp.first + ramp.last) / 2))
    items = []
    for corners, along in (("47", inward), ("68", -inward)):
        for each in _corner("CR-3", corners):
            rows = rows_of(plan, [each])
            plan.loc[rows, ["dev_e", "dev_n"]] = [along * float(np.sin(ahead)), along * float(np.cos(ahead))]
            items.append(Item(check="position", subject=each, ids=(each,), number=abs(inward)))
    made = Item(
        check="turning-space", level="section", ids=tuple(_corner("CR-3", "4678")), number=46.0 / 12.0,
        u=float(np.sqrt(2.0)) * scenario.U_HORIZONTAL, limits=LIMITS["turning-space"],
    )  # fmt: skip
    return plan, [made, *items]


@plant("D08", "a pole in the walk at 27+40 left leaves 3.6 ft of 5; the limit is 4.0")
def _pole_in_the_walk(plan: "pd.DataFrame", seed: int) -> Sown:
    neighbour = int(rows_of(plan, ids_along("WKB-L-2", [2750]))[0])
    east, north = alignment.place(2740.0, -(26.0 - 3.6))
    row: dict[str, Any] = {
        "id": "pole/1", "kind": "obstruction", "line_id": None, "sequence": None, "target": "none", "design": None,
        "station": np.nan, "shot": "2931", "note": "pole, face towards the back of walk",
        "base_e": float(east), "base_n": float(north), "base_z": float(alignment.profile(2740.0)) + 0.21,
    }  # fmt: skip
    plan = added(plan, neighbour, [row], seed, "D08")
    u = float(np.sqrt(1.5)) * scenario.U_HORIZONTAL
    return plan, [Item(check="clear-width", level="section", ids=("pole/1",), number=3.6, u=u,
                       limits=LIMITS["clear-width"])]  # fmt: skip


@plant("D12", "storm pipe P-3 sags by 0.22 ft at 23+80: its ends look right, and water stands in it")
def _belly(plan: "pd.DataFrame", seed: int) -> Sown:
    pipe = lines()["P-3"]
    mine = plan["design"] == "P-3"
    station = plan.loc[mine, "station"].to_numpy(float)
    at, reach = 0.5 * pipe.finish, 30.0
    low = -0.22 * np.clip(1.0 - np.abs(station - at) / reach, 0.0, None)
    plan.loc[mine, "dev_z"] = plan.loc[mine, "dev_z"].to_numpy(float) + low
    ids = plan.loc[mine, "id"].to_numpy()
    return plan, [
        Item(check="straightness", level="section", ids=tuple(ids[low < -0.1]), expect="OUT"),
        Item(ids=tuple(ids[low < 0]), level="none"),
    ]


@plant("D13", "the measure-down of pipe P-1 at IN-1 was read 1.00 ft long: a slip of the survey, no defect")
def _misread_measure_down(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = rows_of(plan, ["IN-1 out"])
    plan.loc[rows, "err_v"] = plan.loc[rows, "err_v"].to_numpy(float) - 1.00
    plan.loc[rows, "noted_down"] = True
    return plan, [
        Item(check="invert-reading", level="section", subject="IN-1, P-1 out", ids=("IN-1 rim",), number=1.00,
             expect="NO_DATA"),
        Item(check="elevation", subject="IN-1 out", ids=("IN-1 out",), expect="NO_DATA"),
    ]  # fmt: skip


@plant(
    "D14", "water main at 20+09 built 1.47 ft high: cover 6.03 ft, 1.10 ft under pipe P-1; 7.00 and 1.50 are asked for"
)
def _shallow_water(plan: "pd.DataFrame", seed: int) -> Sown:
    ids = ids_along("W-1", [2000, 2025])
    plan.loc[rows_of(plan, ids), "dev_z"] = 1.47
    u = float(np.hypot(scenario.U_VERTICAL, scenario.U_SESSION))
    shallow = [
        Item(check="cover", level="section", ids=(each,), number=7.50 - 1.47, u=u, limits=LIMITS["cover"])
        for each in ids
    ]  # fmt: skip
    return plan, [*shallow, Item(check="clearance", level="section", ids=tuple(ids), expect="OUT")]


SOWN = ("D01", "D02", "D03", "D04", "D05", "D06", "D07", "D08", "D12", "D13", "D14")
"""Plants of this module."""
