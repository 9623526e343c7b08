"""What is planted: each plant a small function on the crew's plan, by id, switchable.

A plant changes truth, errors or writing of its own rows and says what the tool should find. Ids that
begin with D are what was built; ids that begin with T are what went wrong in measuring or writing.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.errors import GeoqaError
from geoqa.simulate.crew.draws import stream
from geoqa.simulate.site import alignment, scenario
from geoqa.simulate.site.design import lines

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, kw_only=True)
class Item:
    """One thing a plant expects to be found.

    Attributes
    ----------
    check : str
        Name of the check, or empty where only a flag is expected.
    level : str
        run, element, section or shot: at which level it is reported; a section is a number made of several shots, a
        stretch the mean of sections whose ends the data find; none:
        touched, and nothing to be found.
    subject : str
        Design line, point or mark.
    ids : tuple of str
        Rows of the plan that carry it.
    number : float
        True value of what is judged.
    flag : str
        Flag that every row must carry, or empty.
    expect : str
        The only right verdict, where no arithmetic is needed to say so; empty where the
        probabilities follow from number, limits and uncertainty.
    at : (float, float) or None
        Stations on the subject where it begins and ends, for a reach without shots.
    u : float
        1 sigma of a number made of several shots, and
    limits : (float, float) or None
        its limits; neither follows from those of one shot.
    """

    check: str = ""
    level: str = "shot"
    subject: str = "-"
    ids: tuple[str, ...] = ()
    number: float = np.nan
    flag: str = ""
    expect: str = ""
    at: tuple[float, float] | None = None
    u: float = np.nan
    limits: tuple[float, float] | None = None


Sown = tuple["pd.DataFrame", list[Item]]
Sower = Callable[["pd.DataFrame", int], Sown]
PLANTS: dict[str, tuple[str, Sower]] = {}
"""Id: words for people, function."""


def plant(name: str, words: str) -> Callable[[Sower], Sower]:
    """Enter a function as a plant; a name is given once.

    Raises
    ------
    GeoqaError
        Another plant has that name: which one were sown would hang on the order of imports.
    """

    def enter(sow: Sower) -> Sower:
        if name in PLANTS and PLANTS[name][0] != words:
            raise GeoqaError(f"Two plants are called '{name}': {PLANTS[name][0]}; and {words}. Rename one.")
        PLANTS[name] = (words, sow)
        return sow

    return enter


def planted(plan: "pd.DataFrame", names: Iterable[str], seed: int) -> "tuple[pd.DataFrame, dict[str, list[Item]]]":
    """Sow the named plants, in the order of the register.

    Raises
    ------
    GeoqaError
        There is no plant of that name.
    """
    wanted = set(names)
    if unknown := sorted(wanted - set(PLANTS)):
        raise GeoqaError(f"No plant '{unknown[0]}'; the plants are {', '.join(PLANTS)}.")
    items: dict[str, list[Item]] = {}
    for name, (_, sow) in PLANTS.items():
        if name in wanted:
            plan, items[name] = sow(plan.copy(), seed)
            _mark(plan, name, {each for item in items[name] for each in item.ids})
    return plan, items


def _mark(plan: "pd.DataFrame", name: str, ids: set[str]) -> None:
    """Say which plants touched a row."""
    rows = plan["id"].isin(ids)
    before = plan.loc[rows, "plant"]
    plan.loc[rows, "plant"] = before.where(before == "", before + ";") + name


def ids_along(design: str, stations: Iterable[float]) -> list[str]:
    """Rows of the plan on a design line, by the stations that name them."""
    return [f"{design}/{station:.1f}" for station in stations]


def rows_of(plan: "pd.DataFrame", ids: Iterable[str]) -> np.ndarray:
    """Row labels in the order of the ids; every id must be there."""
    return plan.reset_index().set_index("id").loc[list(ids), "index"].to_numpy()


def put_at(plan: "pd.DataFrame", row: int, design: str, station: float) -> None:
    """Put a shot at another station of its line."""
    foot = lines()[design].foot(station)
    names = ["base_e", "base_n", "base_z", "azimuth", "station", "at", "id"]
    moved: list[float | str] = [*map(float, foot), station, f"{design}/{station:.1f}"]
    for name, value in zip(names, moved, strict=True):
        plan.loc[row, name] = value


@plant("D09", "flow line sag, 23+00 to 23+75 right: low by 0.32, 0.24, 0.18, 0.13 ft")
def _sag(plan: "pd.DataFrame", seed: int) -> Sown:
    low = [-0.32, -0.24, -0.18, -0.13]
    ids = ids_along("CFL-R-2", [2300, 2325, 2350, 2375])
    plan.loc[rows_of(plan, ids), "dev_z"] = low
    run = Item(check="elevation", level="run", subject="CFL-R-2", ids=tuple(ids), number=float(np.mean(low)))
    # the top of curb beside it is as designed, so the reveal is that much larger; and water stands at the deepest place
    reveals = [
        Item(check="reveal", level="section", ids=(each,), number=scenario.REVEAL - by,
             u=float(np.sqrt(1.5)) * scenario.U_VERTICAL, limits=scenario.FINISHED_LIMITS["reveal"])
        for each, by in zip(ids, low, strict=True)
    ]  # fmt: skip
    return plan, [run, *reveals, _pond(ids[0], low[0])]


def _pond(deepest: str, low: float) -> Item:
    """Water that stands at the deepest place, up to the shot before it; its u counts that the place was found."""
    number = -low - 25.0 * alignment.GRADE_OUT
    return Item(check="ponding", level="section", ids=(deepest,), number=number, u=0.035,
                limits=scenario.FINISHED_LIMITS["ponding"])  # fmt: skip


@plant("D10", "curb top 0.16 ft toward the walk, 26+00 to 27+00 left")
def _curb_aside(plan: "pd.DataFrame", seed: int) -> Sown:
    ids = ids_along("CTB-L-2", [2600, 2625, 2650, 2675, 2700])
    plan.loc[rows_of(plan, ids), "aside"] = -0.16
    return plan, [Item(check="offset", level="run", subject="CTB-L-2", ids=tuple(ids), number=-0.16)]


@plant("D11", "pipe P-2 built flat: invert into MH-2 0.22 ft high")
def _high_invert(plan: "pd.DataFrame", seed: int) -> Sown:
    plan.loc[rows_of(plan, ["MH-2 in"]), "dev_z"] = 0.22
    return plan, [Item(check="elevation", subject="MH-2 in", ids=("MH-2 in",), number=0.22)]


@plant("D15", "water pipe backfilled unshot from 21+00 to 22+25")
def _unshot_water(plan: "pd.DataFrame", seed: int) -> Sown:
    plan = plan[~plan["id"].isin(ids_along("W-1", [2125, 2150, 2175, 2200]))].copy()
    return plan, [gap_of(plan, "W-1", *ids_along("W-1", [2100, 2225]))]


@plant("D16", "back edge of walk not built, 28+00 to 28+80 right; shots at both ends")
def _unbuilt_walk(plan: "pd.DataFrame", seed: int) -> Sown:
    line = "WKB-R-2"
    plan = plan[~plan["id"].isin(ids_along(line, [2825, 2850]))].copy()
    for station, end in ((2800, 2800.0), (2875, 2880.0)):
        put_at(plan, int(rows_of(plan, ids_along(line, [station]))[0]), line, end)
    ends = tuple(ids_along(line, [2800, 2880]))
    return plan, [gap_of(plan, line, *ends), Item(ids=ends, level="none")]


def gap_of(plan: "pd.DataFrame", line: str, before: str, behind: str) -> Item:
    """A reach between two rows of the plan that nobody shot."""
    at = plan.set_index("id").loc[[before, behind], "station"].to_numpy()
    return Item(
        check="coverage", level="element", subject=line, number=float(at[1] - at[0]), at=(float(at[0]), float(at[1]))
    )


@plant("D17", "driveway built at 25+10 left that is not designed")
def _extra_driveway(plan: "pd.DataFrame", seed: int) -> Sown:
    shape = [(2502.0, -28.0), (2502.0, -34.0), (2506.0, -38.0), (2514.0, -38.0), (2518.0, -34.0), (2518.0, -28.0)]
    neighbour = rows_of(plan, ids_along("WKB-L-2", [2500]))[0]
    rows: list[dict[str, Any]] = []
    for number, (station, offset) in enumerate(shape, start=1):
        east, north = alignment.place(station, offset)
        level = float(alignment.profile(station)) + 0.265 + 0.02 * (abs(offset) - 26.0)
        changes = {"id": f"DWY2/{number}", "kind": "driveway", "line_id": "DWY2", "sequence": number}
        changes |= {
            "target": "none",
            "design": None,
            "station": np.nan,
            "note": "edge of concrete" if number == 1 else None,
        }
        changes |= {"base_e": float(east), "base_n": float(north), "base_z": level, "shot": str(2900 + number)}
        rows.append(changes)
    plan = added(plan, int(neighbour), rows, seed, "D17")
    ids = tuple(row["id"] for row in rows)
    return plan, [Item(check="extra", level="element", ids=ids, number=float(len(ids)), expect="OUT")]


def added(plan: "pd.DataFrame", neighbour: int, rows: list[dict[str, Any]], seed: int, name: str) -> "pd.DataFrame":
    """Add shots taken right after a neighbour, with errors from a stream of their own."""
    import pandas as pd

    draw = stream(seed, f"plant {name}").normal(size=(len(rows), 3))
    own = draw * [scenario.U_HORIZONTAL, scenario.U_HORIZONTAL, scenario.U_VERTICAL]
    made = []
    for number, (changes, error) in enumerate(zip(rows, own, strict=True), start=1):
        row = plan.loc[neighbour].copy()
        errors = dict(zip(("err_e", "err_n", "err_v"), error, strict=True))
        still = {"aside": 0.0, "dev_e": 0.0, "dev_n": 0.0, "dev_z": 0.0, "photo": None}
        for key, value in {**errors, **still, **changes}.items():
            row[key] = value
        row["time"] = row["time"] + pd.Timedelta(seconds=4 * number)
        made.append(row)
    extra = pd.DataFrame(made).astype(plan.dtypes.to_dict())
    return pd.concat([plan, extra], ignore_index=True)


@plant("D18", "MH-2 moved 3.0 ft east by a field change that revision B does not show")
def _moved_manhole(plan: "pd.DataFrame", seed: int) -> Sown:
    ids = ["MH-2 rim", "MH-2 in", "MH-2 out"]
    rows = rows_of(plan, ids)
    plan.loc[rows, "dev_e"] += 3.0
    plan.loc[rows[0], "note"] = "moved 3 ft east per field change 2"
    true = np.hypot(plan.loc[rows[0], "dev_e"], plan.loc[rows[0], "dev_n"])
    return plan, [
        Item(check="position", subject="MH-2 rim", ids=("MH-2 rim",), number=float(true)),
        Item(ids=tuple(ids), level="none"),
    ]


@plant("D19", "hydrant HYD-1 0.27 ft north of its design place; the limit is 0.30")
def _hydrant(plan: "pd.DataFrame", seed: int) -> Sown:
    plan.loc[rows_of(plan, ["HYD-1"]), ["dev_e", "dev_n"]] = [0.0, 0.27]
    return plan, [Item(check="position", subject="HYD-1", ids=("HYD-1",), number=0.27)]


@plant("D20", "all of session A 0.03 ft high: a survey bias, no defect")
def _session_bias(plan: "pd.DataFrame", seed: int) -> Sown:
    from geoqa.simulate.crew.crew import session_biases

    plan.loc[plan["session"] == "A", "common_v"] += 0.03 - session_biases(seed)["A"]
    return plan, []


@plant("T08", "mark CP-3 disturbed 0.15 ft east")
def _disturbed_mark(plan: "pd.DataFrame", seed: int) -> Sown:
    there = (plan["target"] == "mark") & (plan["design"] == "CP-3")
    plan.loc[there, "dev_e"] += 0.15
    ids = tuple(plan.loc[there, "id"])
    named = Item(check="diagnosis", level="element", ids=ids, number=float(len(ids)), expect="OUT")
    return plan, [named, *(Item(check="control-position", subject="CP-3", ids=(name,), number=0.15) for name in ids)]


@plant("T09", "check shot named CP-5 that was taken on CP-4")
def _wrong_mark(plan: "pd.DataFrame", seed: int) -> Sown:
    from geoqa.simulate.crew.crew import mark_errors

    (row,) = rows_of(plan, ["B/close/4"])
    on, named = (plan[plan["design"] == mark].iloc[0] for mark in ("CP-4", "CP-5"))
    error = np.array([mark_errors(seed)[mark] for mark in ("CP-4", "CP-5")])
    plan.loc[row, ["dev_e", "dev_n", "dev_z"]] = [on[name] - named[name] for name in ("base_e", "base_n", "base_z")]
    plan.loc[row, ["common_e", "common_n"]] = error[0, :2]
    plan.loc[row, "common_v"] += error[0, 2] - error[1, 2]
    away = float(np.hypot(*plan.loc[row, ["dev_e", "dev_n"]].astype(float)))
    rise = float(plan.loc[row, "dev_z"])
    return plan, [
        Item(check="diagnosis", level="element", ids=("B/close/4",), number=1.0, expect="OUT"),
        Item(check="control-position", subject="CP-5", ids=("B/close/4",), number=away),
        Item(check="control-elevation", subject="CP-5", ids=("B/close/4",), number=rise),
    ]


@plant("T13", "4 shots taken with the rod 38° from plumb")
def _leaning_rod(plan: "pd.DataFrame", seed: int) -> Sown:
    line = lines()["WKB-L-2"]
    rows: list[dict[str, Any]] = []
    for number, station in enumerate((2412.0, 2437.0, 2462.0, 2487.0), start=1):
        foot = line.foot(station)
        rows.append(
            {
                **dict(zip(("base_e", "base_n", "base_z", "azimuth", "station"), map(float, foot), strict=True)),
                "id": f"lean/{number}",
                "shot": str(2920 + number),
                "sequence": None,
                "at": station,
                "tilt": 38.0,
                "note": "fence in the way, rod leaned",
            }
        )
    plan = added(plan, int(rows_of(plan, ids_along("WKB-L-2", [2400]))[0]), rows, seed, "T13")
    ids = tuple(row["id"] for row in rows)
    plan.loc[rows_of(plan, ids), ["err_e", "err_n"]] *= 12.0
    return plan, [Item(ids=ids, flag="tilt", expect="NO_DATA")]


@plant("T17", "point name 1187 used on both days for places some 212 ft apart")
def _name_twice(plan: "pd.DataFrame", seed: int) -> Sown:
    first = plan[plan["shot"] == "1187"].iloc[0]
    second = plan[plan["id"] == "P-1/4.0"].index[0]
    plan.loc[second, "shot"] = "1187"
    return plan, [Item(ids=(first["id"], "P-1/4.0"), flag="duplicate-name")]


@plant("T20", "7 rows equal to the design at 0.001 ft in easting, northing and elevation")
def _copied_rows(plan: "pd.DataFrame", seed: int) -> Sown:
    line, stations = "WKF-R-2", [2625.0, 2650.0, 2675.0, 2700.0, 2725.0, 2750.0, 2775.0]
    ids = ids_along(line, stations)
    for row, station in zip(rows_of(plan, ids), stations, strict=True):
        put_at(plan, int(row), line, station)
    plan.loc[rows_of(plan, ids), "copied"] = True
    # something was shot there, and it may be no measurement: neither evidence nor a lack of it
    gap = replace(gap_of(plan, line, *ids_along(line, [2600, 2800])), expect="NO_DATA")
    return plan, [
        Item(check="identical", level="element", ids=tuple(ids), number=7.0, flag="identical-to-design", expect="OUT"),
        gap,
    ]


@plant("T21", "three valves logged with elevation 0, one walk shot without elevation")
def _no_elevation(plan: "pd.DataFrame", seed: int) -> Sown:
    valves = list(scenario.VALVES)
    (blank,) = ids_along("WKB-L-1", [1325])
    plan.loc[rows_of(plan, valves), "written_elevation"] = "0.000"
    plan.loc[rows_of(plan, [blank]), "written_elevation"] = ""
    return plan, [
        Item(check="elevation", subject="WKB-L-1", ids=(blank,), expect="NO_DATA"),
        Item(ids=tuple(valves), level="none", flag="null-elevation"),
    ]


SOWN = tuple(PLANTS)
"""Plants of this module; any other may enter more."""
