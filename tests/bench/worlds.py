"""Worlds in which the survey is not what its log says: what a job must not blame on the work.

A world is one of the demo's jobs whose errors, or whose record of them, are of another kind: scatter larger than
stated, heavy tails, errors that follow each other in time, marks or sessions that are off, no checks, a rod or a
base that changed. `WORLDS` lists them; each can be made in any zone, with any seed, with further plants.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bench.variants import ROD_ERROR
from geoqa.contract.checks import check_named
from geoqa.job.plan import default_steps
from geoqa.simulate.crew.crew import ROD
from geoqa.simulate.crew.draws import stream
from geoqa.simulate.crew.plants import Item, Sown, plant
from geoqa.simulate.make import Simulated, make
from geoqa.simulate.site import scenario

if TYPE_CHECKING:
    import pandas as pd

    from geoqa.model.frame import Frame

Tables = dict[str, "pd.DataFrame"]
WORK = ("D09", "D10", "D11", "D15", "D16", "D17", "D18")
"""Defects of the work that stand in every world."""
_BASE = (0.35, -0.22, -0.68)
_OWN = ("err_e", "err_n", "err_v")


def _sigma(plan: "pd.DataFrame") -> np.ndarray:
    """1 sigma of a shot's own errors, (3, n), as the demo draws them."""
    flat = np.full(len(plan), scenario.U_HORIZONTAL)
    return np.stack([flat, flat, np.full(len(plan), scenario.U_VERTICAL)])


def _drawn_anew(plan: "pd.DataFrame", seed: int, noise: np.ndarray) -> None:
    """Put other errors of unit variance, (3, n), in place of the shots' own."""
    old = stream(seed, "noise").normal(size=(4, len(plan)))[:3]
    for name, change in zip(_OWN, _sigma(plan) * (noise - old), strict=True):
        plan[name] += change


@plant("W01", "errors of every shot and of every session twice as large")
def _twice(plan: "pd.DataFrame", seed: int) -> Sown:
    _drawn_anew(plan, seed, 2.0 * stream(seed, "noise").normal(size=(4, len(plan)))[:3])
    biases = stream(seed, "session biases").normal(0.0, scenario.U_SESSION, 3)
    plan["common_v"] += plan["session"].map(dict(zip("ABC", biases.tolist(), strict=True))).astype(float)
    return plan, []


@plant("W02", "errors of a shot from Student's distribution with 3 degrees of freedom, the same standard deviation")
def _heavy(plan: "pd.DataFrame", seed: int) -> Sown:
    _drawn_anew(plan, seed, stream(seed, "heavy tails").standard_t(3, size=(3, len(plan))) / np.sqrt(3.0))
    return plan, []


@plant("W03", "errors that follow each other within a session, AR(1) of 0.95 from shot to shot")
def _in_a_row(plan: "pd.DataFrame", seed: int) -> Sown:
    noise = stream(seed, "in a row").normal(size=(3, len(plan)))
    session = plan["session"].to_numpy()
    for row in range(1, len(plan)):
        if session[row] == session[row - 1]:
            noise[:, row] = 0.95 * noise[:, row - 1] + np.sqrt(1 - 0.95**2) * noise[:, row]
    _drawn_anew(plan, seed, noise)
    return plan, []


@plant("W04", "every session off in plan by 0.03 ft (1 sigma an axis)")
def _plan_bias(plan: "pd.DataFrame", seed: int) -> Sown:
    draw = stream(seed, "plan bias").normal(0.0, 0.03, size=(3, 2))
    for number, session in enumerate("ABC"):
        plan.loc[plan["session"] == session, ["common_e", "common_n"]] += draw[number]
    return plan, []


@plant("W05", "every mark off by 0.03 ft (1 sigma an axis)")
def _loose_marks(plan: "pd.DataFrame", seed: int) -> Sown:
    draw = stream(seed, "loose marks").normal(0.0, 0.03, size=(len(scenario.CONTROL), 3))
    for number, mark in enumerate(scenario.CONTROL):
        there = (plan["target"] == "mark") & (plan["design"] == mark)
        plan.loc[there, ["common_e", "common_n", "common_v"]] += draw[number]
    return plan, []


def _between(plan: "pd.DataFrame", seed: int) -> "pd.Index[int]":
    """Feature shots of session B over two lines and more, none of them a check; where they begin is drawn."""
    mine = plan.index[(plan["session"] == "B") & plan["target"].isin(["line", "point"])]
    first = int(stream(seed, "between checks").integers(30, 90))
    return mine[first : first + 100]


def _rod_between(name: str, words: str, entry: float) -> None:
    @plant(name, words)
    def sow(plan: "pd.DataFrame", seed: int) -> Sown:
        rows = _between(plan, seed)
        plan.loc[rows, "common_v"] += ROD_ERROR
        plan.loc[rows, "rod_height"] = entry
        return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none", number=ROD_ERROR)]


_rod_between("W06", "100 shots of session B between two checks 0.656 ft high, the log as ever", ROD)
_rod_between("W07", "100 shots of session B between two checks 0.656 ft high, the log has another rod", ROD - ROD_ERROR)


@plant("W08", "the base moved before session B: +0.35, -0.22, -0.68 ft in all of it")
def _base_moved(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan["session"] == "B"
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += np.array(_BASE)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("W09", "compensation off in session C, features shot at 8 to 20° of lean")
def _uncompensated(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = plan.index[(plan["session"] == "C") & plan["target"].isin(["line", "point"])]
    draw = stream(seed, "uncompensated").uniform(size=(2, len(rows)))
    lean, toward = np.radians(8.0 + 12.0 * draw[0]), 2 * np.pi * draw[1]
    plan.loc[rows, "common_e"] += ROD * np.sin(lean) * np.sin(toward)
    plan.loc[rows, "common_n"] += ROD * np.sin(lean) * np.cos(toward)
    plan.loc[rows, "common_v"] -= ROD * (1 - np.cos(lean))
    plan.loc[rows, "tilt"], plan.loc[rows, "tilt_azimuth"] = np.degrees(lean).round(1), np.degrees(toward).round(1)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("W10", "all elevations bent along the site, by -0.08 ft in the middle to +0.17 ft at its ends")
def _bent(plan: "pd.DataFrame", seed: int) -> Sown:
    along = (plan["base_e"].to_numpy() - plan["base_e"].mean()) / np.abs(plan["base_e"] - plan["base_e"].mean()).max()
    plan["common_v"] += 0.25 * (np.nan_to_num(along) ** 2 - 1 / 3)
    return plan, []


LONG = ("CFL1", "CTB1", "WKF1", "WKB1", "CFL2", "CTB2", "WKF2", "WKB2")
"""Lines of 50 shots and more: curbs and walks of two streets."""


def _of_one_line(plan: "pd.DataFrame", seed: int) -> "pd.Index[int]":
    """Shots of one line in a row, 20 of it and more; line, place and number are drawn."""
    draw = stream(seed, "one line")
    mine = plan.index[(plan["target"] == "line") & (plan["line_id"] == LONG[int(draw.integers(len(LONG)))])]
    count = int(draw.integers(20, len(mine) + 1))
    first = int(draw.integers(len(mine) - count + 1))
    return mine[first : first + count]


def _across(plan: "pd.DataFrame", rows: "pd.Index[int]", size: float) -> np.ndarray:
    right = np.radians(plan.loc[rows, "azimuth"].to_numpy(float) + 90.0)
    return size * np.column_stack([np.sin(right), np.cos(right)])


@plant("W21", "a bad initialization of part of one line: 0.15 to 0.7 ft along, across and up")
def _one_line_moved(plan: "pd.DataFrame", seed: int) -> Sown:
    rows, draw = _of_one_line(plan, seed), stream(seed, "one line moved")
    along, across, up = draw.uniform(0.15, 0.7, 3) * draw.choice([-1.0, 1.0], 3)
    middle = np.radians(float(plan.loc[rows, "azimuth"].median()))
    east = along * np.sin(middle) + across * np.cos(middle)
    north = along * np.cos(middle) - across * np.sin(middle)
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += np.array([east, north, up])
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("W22", "part of one line built 0.20 ft low, its plan as designed")
def _one_line_low(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = _of_one_line(plan, seed)
    plan.loc[rows, "dev_z"] -= 0.20
    return plan, [Item(check="elevation", level="none", ids=tuple(plan.loc[rows, "id"]), number=-0.20)]


@plant("W23", "part of one line built 0.25 ft to the right, its elevations as designed")
def _one_line_aside(plan: "pd.DataFrame", seed: int) -> Sown:
    rows = _of_one_line(plan, seed)
    plan.loc[rows, ["common_e", "common_n"]] += _across(plan, rows, 0.25)
    return plan, [Item(check="offset", level="none", ids=tuple(plan.loc[rows, "id"]), number=0.25)]


@plant("W24", "a jump of the last shots of session A and of the check after them, the initialization as ever")
def _jump_with_a_check(plan: "pd.DataFrame", seed: int) -> Sown:
    mine = plan.index[plan["session"] == "A"]
    draw = stream(seed, "jump with a check")
    last = int(np.flatnonzero((plan.loc[mine, "target"] == "mark").to_numpy())[4])
    rows = mine[last - int(draw.integers(30, 80)) : last + 1]
    plan.loc[rows, ["common_e", "common_n", "common_v"]] += draw.uniform(0.2, 0.5, 3) * draw.choice([-1.0, 1.0], 3)
    return plan, [Item(ids=tuple(plan.loc[rows, "id"]), level="none")]


@plant("W25", "elevations of session B that drift by 0.35 ft from its first shot to its last")
def _drift(plan: "pd.DataFrame", seed: int) -> Sown:
    mine = plan.index[plan["session"] == "B"]
    plan.loc[mine, "common_v"] += 0.35 * np.linspace(0.0, 1.0, len(mine))
    return plan, [Item(ids=tuple(plan.loc[mine, "id"]), level="none")]


def _stated(share: float) -> Callable[[Tables], Tables]:
    """A record whose uncertainties are that share of what the job declares."""

    def change(tables: Tables) -> Tables:
        precision = tables["precision"].copy()
        numbers = [f"{axis}_{part}" for axis in "hv" for part in ("random", "common")]
        precision[numbers] *= share
        return tables | {"precision": precision}

    return change


def checked_in(sessions: str) -> Callable[[Tables], Tables]:
    """Check shots in these sessions alone."""

    def change(tables: Tables) -> Tables:
        shots = tables["shots"]
        check = shots["code"] == scenario.CODE_OF["control"]
        kept = shots[~check | shots["session"].isin(list(sessions))]
        return tables | {"shots": kept.reset_index(drop=True)}

    return change


def _unstated_marks(tables: Tables) -> Tables:
    return tables | {"control": tables["control"].assign(u_h=np.nan, u_v=np.nan)}


def unnamed(tables: Tables) -> Tables:
    """A log that names no initialization."""
    shots = tables["shots"]
    none = shots["initialization"].where(np.zeros(len(shots), dtype=bool))
    return tables | {"shots": shots.assign(initialization=none)}


def as_it_is(tables: Tables) -> Tables:
    return tables


@dataclass(frozen=True, kw_only=True)
class World:
    """What is planted besides defects of the work, and how the record of it is changed."""

    name: str
    plants: tuple[str, ...] = ()
    record: Callable[[Tables], Tables] = as_it_is
    alone: bool = False
    """Holds its blunder already: no further one is planted in it."""
    allowed: float = 0.3
    """False defects of the work per 1,000 that may stand in it."""


COARSE = 1.0
"""Per 1,000: with the right u of 0.04 ft across and 0.057 ft in elevation (0.04 own, 0.04 of the session) a sound shot
under a limit of 0.08 ft is OUT from 0.08 + 1.645 x 0.057 = 0.173 ft, 3.1 sigma, on: 2 in 1,000 elevations, fewer
offsets. Nobody who states that u rightly does better."""
HEAVY = 2.0
"""Per 1,000: an error with 3 degrees of freedom and a standard deviation of 0.02 ft has the scale 0.0115 ft. OUT begins
at 0.10 + 1.645 x 0.02 = 0.133 ft, 11.5 scales: 2 x 1.10 / 11.5^3 = 1.5 in 1,000 single shots lie beyond, and no
check shot tells them from work that is out."""
WORLDS = (
    World(name="as stated"),
    World(name="u twice as large, as stated", plants=("W01",), record=_stated(2.0), allowed=COARSE),
    World(name="u stated half", plants=("W01",), allowed=COARSE),
    World(name="u stated a third", plants=("W01",), record=_stated(2.0 / 3.0), allowed=COARSE),
    World(name="t, 3 degrees of freedom", plants=("W02",), allowed=HEAVY),
    World(name="AR(1) 0.95", plants=("W03",)),
    World(name="plan bias of sessions", plants=("W04",)),
    World(name="marks off, u unstated", plants=("W05",), record=_unstated_marks),
    World(name="no checks", record=checked_in("")),
    World(name="checks in one session", record=checked_in("A")),
    World(name="rod between checks", plants=("W06",), alone=True),
    World(name="rod between checks, logged", plants=("W07",), alone=True),
    World(name="base moved", plants=("W08",), alone=True),
    World(name="smooth warp", plants=("U01",), alone=True),
    World(name="warp in elevation", plants=("W10",), alone=True),
    World(name="compensation off", plants=("W09",), alone=True),
    World(name="jump with a check in it", plants=("W24",), alone=True),
    World(name="drift of a session", plants=("W25",), alone=True),
    World(name="no initialization logged, one line moved", plants=("W21",), record=unnamed, alone=True),
)
BLUNDERS: Mapping[str, tuple[str, ...]] = {"": (), "rod": ("T06",), "foot": ("T01",)}
"""Further plants: a rod off in part of session B, another foot in all files."""


def in_world(
    world: World, *, seed: int, zone: str, frame: "Frame | None" = None, more: tuple[str, ...] = ()
) -> Simulated:
    """A job in that world, with the defects of the work and further plants."""
    job = make(seed=seed, zone=zone, plants=(*WORK, *world.plants, *more), frame=frame)
    return replace(job, tables=world.record(dict(job.tables)))


NEEDED = ("kinds", "uncertainty", "screening", "spikes", "identical-to-design", "match-lines", "match-points",
          "diagnosis", "usable-shots", "runs", "offsets", "elevations", "positions", "coverage",
          "session-shifts", "believed-parts", "loose-sessions")  # fmt: skip
"""Steps that a verdict on the work comes from."""


def judging_steps() -> list[Any]:
    """The default steps that a verdict on the work comes from."""
    return [step for step in default_steps() if step.name in NEEDED]


def counted(job: Simulated, layers: Mapping[str, Any]) -> dict[str, int]:
    """What was said of the work: numbers judged, false defects, and of the planted ones how many were found.

    A finding is false where it is OUT and neither what it is about nor a shot of it was planted; a run is
    taken as planted where any of its shots was. Numbers under a named blunder count as judged: they are asked whether
    they are out both ways, and called OUT if so.
    """
    findings = layers["findings"]
    work = findings[[check_named(name).subject in ("work", "evidence") for name in findings["check"]]]
    planted = {key for item in job.truth.items if item["check"] for key in item["shots"]}
    about = {item["subject"] for item in job.truth.items if item["level"] == "element"}
    evidence = layers["evidence"].groupby("finding")["key"].agg(set).to_dict()
    hit = [
        shot in planted or subject in about or bool(evidence.get(name, set()) & planted)
        for name, shot, subject in zip(work["finding"], work["shot"], work["subject"], strict=True)
    ]
    sound = work[~np.array(hit, bool)]
    bad = work[np.array(hit, bool)]
    found = set(bad.loc[bad["verdict"] == "OUT", "subject"])
    wanted = {item["subject"] for item in job.truth.items if item["check"] and item["expect"] != "NO_DATA"}
    return {
        "judged": int((sound["verdict"].isin(["IN", "OUT", "UNDECIDED"]) | (sound["why"] == "open-blunder")).sum()),
        "sound": len(sound),
        "false": int((sound["verdict"] == "OUT").sum()),
        "planted": len(wanted),
        "found": len(found & wanted),
    }
