"""Other numbers that tell whether a number out of tolerance is the work or its measurement.

Everything judged is one list of numbers along directions: an offset square to its line, a position towards the shot, an
elevation upwards, a check shot with all three. What is off by a shift of its session shows that shift in each of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.contract.checks import check_named
from geoqa.contract.utilities import COVER
from geoqa.kernels.judging.odds import alike
from geoqa.model.reasons import OF_THE_DESIGN
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.left_out import TWICE
from geoqa.steps.causes.open_blunders import moved_by
from geoqa.steps.design.applied_shifts import freed, sessions
from geoqa.steps.design.deviations import along_lines, at_points
from geoqa.steps.design.differing_passes import BETWEEN, differing_passes
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.strings import turns_of

UP = "v"
_LOOKED = 12
"""Neighbours along a line that are looked through for one of another place."""
VARIES = 0.35
"""How much one defect differs from place to place, 1 sigma as a share of it."""
GOOD = 2.5
"""Standard uncertainties within which a number is called good: 1 of 80 sound ones is farther off."""
SOUND = 3.0
"""Sound work scatters by a limit over this much, 1 sigma."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Numbers:
    """Judged numbers of single shots, one row a shot and check; `table` holds what each is and where."""

    table: pd.DataFrame
    toward: np.ndarray
    """(n, 2) unit vector in plan that a plan number is counted along; 0 for an elevation."""
    out: int
    """How many are out of tolerance."""


def shots_in_order(layers: Layers) -> pd.DataFrame:
    """Session, initialization, place in the order of work, time, and pass of its line of every shot."""
    shots = layers["shots"]
    session = pd.factorize(sessions(shots))[0]
    named = shots["initialization"].fillna("") if "initialization" in shots else pd.Series([""] * len(shots))
    setup = pd.factorize(pd.Series(session).astype(str) + "/" + named.reset_index(drop=True).astype(str))[0]
    seconds = np.full(len(shots), np.nan)
    if "time" in shots and shots["time"].notna().any():
        since = shots["time"] - shots["time"].min()
        seconds = since.dt.total_seconds().to_numpy(float)
    order = np.lexsort((np.arange(len(shots)), np.nan_to_num(seconds), session))
    place = np.empty(len(shots), dtype=np.int64)
    place[order] = np.arange(len(shots))
    turn = turns_of(layers) + _PARTS * _works(layers)
    return pd.DataFrame({"session": session, "setup": setup, "place": place, "seconds": seconds, "turn": turn})


_PARTS = 1_000_000
"""More than any line has passes."""


def _works(layers: Layers) -> np.ndarray:
    """Which work each shot shows where passes of its design line differ in plan or in elevation, shape (n,)."""
    made = np.zeros(len(layers["shots"]), dtype=np.int64)
    if "line_matches" not in layers or "design_lines" not in layers:
        return made
    for scale, check in enumerate(("offset", "elevation")):
        rows = along_lines(layers, check)
        rows = rows[(rows["why"] == 0) & (rows["row"] >= 0)].reset_index(drop=True)
        part = differing_passes(layers, rows, gap=BETWEEN.to(layers.frame.unit))
        made[rows["row"].to_numpy()] += part * 1000**scale
    return made


def numbers_of(layers: Layers, at: pd.DataFrame) -> Numbers:
    """Numbers that can speak for or against another: of one shot, judged, or held back for the survey alone.

    What is under a named blunder (`held`) shows it; it speaks of others under one, and of nothing else.

    Parameters
    ----------
    layers : Layers
    at : DataFrame
        Of `shots_in_order`.
    """
    findings = layers["findings"]
    names = findings["check"].unique()
    work = [name for name in names if check_named(str(name)).subject == "work"]
    kept = (
        findings["check"].isin(work)
        & findings["shot"].notna()
        & (findings["verdict"].isin(["IN", "OUT", "UNDECIDED"]) | findings["why"].isin(_SURVEY))
        & (findings["subject"] != "-")
        & findings["deviation"].notna()
    ).to_numpy(bool)
    table = pd.DataFrame(findings.loc[kept, _READ]).reset_index(drop=True)
    why = findings["why"][kept].reset_index(drop=True)
    table["held"] = why.isin(["open-blunder", "out-both-ways", *OF_THE_DESIGN]).to_numpy(bool)
    _without_blunder(layers, table, (why == "open-blunder").to_numpy(bool))
    _without_older_design(layers, table, why.isin(OF_THE_DESIGN).to_numpy(bool))
    table["row"] = rows_of(table["shot"], layers["shots"]["shot_key"])
    table = table[(table["row"] >= 0).to_numpy()].drop_duplicates(["row", "check"]).reset_index(drop=True)
    axis = {name: check_named(str(name)).axis for name in work}
    table["axis"] = taken(list(axis.values()), rows_of(table["check"], list(axis)))
    for name in at:
        table[name] = at[name].to_numpy()[table["row"]]
    limit = np.fmin(*(np.where(np.isfinite(table[side]), table[side].abs(), np.inf) for side in ("lower", "upper")))
    limit = np.where(np.isfinite(limit) & (limit > 0), limit, np.fmax(*table[["lower", "upper"]].abs().to_numpy().T))
    table["point"] = _at_points(layers, table)
    table["sound"] = np.where(np.isfinite(limit), limit, 0.0) / SOUND
    _from_limit(table)
    return Numbers(table=table, toward=_toward(layers, table), out=int((table["verdict"] == "OUT").sum()))


def _from_limit(table: pd.DataFrame) -> None:
    """Put numbers that may be no less than so much, as a cover, as they lie from that: sound ones do not lie about 0.

    A cover under a surface of the design is the elevation of its shot, counted down. What feels nothing of its session
    is explained by none.
    """
    feels = (table["u_common"] > _FELT * table["u_random"]).to_numpy(bool)
    table["feels"] = feels | (table["axis"] != "").to_numpy(bool)
    least = ((table["lower"] > 0) & np.isposinf(table["upper"])).to_numpy(bool)
    beyond = (table["deviation"] - table["lower"]).to_numpy(float)
    level = least & feels & (table["check"] == COVER.name).to_numpy(bool)
    table["deviation"] = np.where(level, -beyond, np.where(least, beyond, table["deviation"]))
    table["axis"] = table["axis"].mask(level, UP)


_FELT = 1e-6
"""Share of a number's own uncertainty below which what it has of its session is rounding."""


def _at_points(layers: Layers, table: pd.DataFrame) -> np.ndarray:
    """Which numbers are of design points: all shots of one of these are of one place, however far apart they lie."""
    if "point_matches" not in layers or not len(layers["point_matches"]):
        return np.zeros(len(table), dtype=bool)
    chosen = layers["point_matches"][layers["point_matches"]["chosen"]]
    known = rows_of(table["shot"] + "\n" + table["subject"], chosen["shot_key"] + "\n" + chosen["design"]) >= 0
    return np.asarray(known & table["station"].isna().to_numpy())


def _without_blunder(layers: Layers, table: pd.DataFrame, waits: np.ndarray) -> None:
    """Put numbers that wait for a blunder as they are without it: what is out both ways is told so too."""
    moved = moved_by(layers, table["shot"])
    if moved is None or not waits.any():
        return
    azimuth = np.full(len(table), np.nan)
    for name in ("line_matches", "point_matches"):
        if name in layers:
            chosen = layers[name][layers[name]["chosen"]]
            found = np.append(chosen["azimuth"].to_numpy(float), np.nan)[rows_of(table["shot"], chosen["shot_key"])]
            azimuth = np.where(np.isnan(azimuth), found, azimuth)
    number = table["deviation"].to_numpy(float, copy=True)
    for check in ("offset", "position", "elevation"):
        mine = np.flatnonzero(waits & (table["check"] == check).to_numpy(bool))
        number[mine] = freed(check, number[mine], azimuth[mine], moved.shift[mine])
    table["deviation"] = number


def _without_older_design(layers: Layers, table: pd.DataFrame, waits: np.ndarray) -> None:
    """Put numbers that wait for a matter of their design file as they are without what they share."""
    points = "point_matches" in layers and "design_points" in layers
    for check, numbers in (("offset", along_lines), ("elevation", along_lines), ("position", at_points),
                           ("elevation", at_points)):  # fmt: skip
        if numbers is at_points and not points:
            continue
        mine = np.flatnonzero(waits & (table["check"] == check).to_numpy(bool))
        rows = numbers(layers, check) if len(mine) else table.iloc[:0]
        if "without_own" in rows:
            own = np.append(rows["without_own"].to_numpy(float), np.nan)
            found = own[rows_of(table["shot"].iloc[mine], rows["shot"])]
            number = table["deviation"].to_numpy(float, copy=True)
            number[mine] = np.where(np.isfinite(found), found, number[mine])
            table["deviation"] = number


_SURVEY = ("open-blunder", "survey-doubt", *OF_THE_DESIGN)
_READ = ["finding", "check", "subject", "shot", "station", "easting", "northing", "deviation", "lower", "upper",
         "verdict", "u_common", "u_random"]  # fmt: skip


def _toward(layers: Layers, table: pd.DataFrame) -> np.ndarray:
    """Direction in plan of every number; of an offset to the right of its line, of a position towards the shot."""
    angle = np.full(len(table), np.nan)
    plan = (table["axis"] == "h").to_numpy(bool)
    for name, right in (("line_matches", 90.0), ("point_matches", 0.0)):
        if name not in layers:
            continue
        chosen = layers[name][layers[name]["chosen"]]
        place = rows_of(table["shot"], chosen["shot_key"])
        found = np.append(chosen["azimuth"].to_numpy(float), np.nan)[place] + right
        angle = np.where(plan & np.isnan(angle) & np.isfinite(found), found, angle)
    angle = np.radians(angle)
    return np.nan_to_num(np.column_stack([np.sin(angle), np.cos(angle)])) * plan[:, None]


@dataclass(frozen=True, kw_only=True, eq=False)
class Witness:
    """One other number for each of n numbers; arrays of shape (n,), NaN or -1 where there is none.

    Attributes
    ----------
    there : bool
    ratio_work, ratio_shift, ratio_own : float64
        How much likelier the other number is if it is off in the same way, as work is and as a shift is, and if it is
        off for a reason of its own.
    agrees : bool
        Whether it is likelier off in the same way than sound, and by as much, as its u allows.
    good : bool
        Whether it is off by no more than its own u allows, `GOOD` of them.
    same_session, same_setup : bool
    feels : bool
        The first number feels what its session shares.
    between : float64
        Shots between the two in the order of work.
    away : float64
        Distance between the two in plan.
    seconds : float64
    """

    there: np.ndarray
    ratio_work: np.ndarray
    ratio_shift: np.ndarray
    ratio_own: np.ndarray
    agrees: np.ndarray
    good: np.ndarray
    same_session: np.ndarray
    same_setup: np.ndarray
    feels: np.ndarray
    between: np.ndarray
    away: np.ndarray
    seconds: np.ndarray


def witness(numbers: Numbers, mine: np.ndarray, other: np.ndarray) -> Witness:
    """Hold one number against another of the list.

    Parameters
    ----------
    numbers : Numbers
    mine, other : (n,) int array
        Rows; `other` is -1 where there is none.
    """
    table = numbers.table
    one, two = ({name: table[name].to_numpy()[rows] for name in _HELD} for rows in (mine, other))
    there = (other >= 0) & (one["held"] == two["held"])
    up = (table["axis"] != "h").to_numpy()[mine]
    cosine = np.where(up, 1.0, (numbers.toward[mine] * numbers.toward[other]).sum(axis=1))
    across = np.sqrt(np.clip(1.0 - cosine**2, 0.0, 1.0))
    apart = one["session"] != two["session"]
    shared = np.where(apart, np.hypot(one["u_common"], two["u_common"]), 0.0)
    u = np.sqrt(one["u_random"] ** 2 + two["u_random"] ** 2 + shared**2)
    size = np.abs(one["deviation"])
    told = {"value": two["deviation"], "expected": one["deviation"] * cosine}
    told["u_sound"] = np.sqrt(two["u_random"] ** 2 + two["u_common"] ** 2 + two["sound"] ** 2)
    u_alike = [np.sqrt(u**2 + (share * size) ** 2 + (across * size) ** 2) for share in (VARIES, 0.0)]
    both = [np.where(there, alike(**told, u_alike=each), 1.0) for each in u_alike]
    near = np.abs(told["value"] - told["expected"]) <= GOOD * u_alike[0]
    return Witness(
        there=there,
        ratio_work=both[0],
        ratio_shift=both[1],
        ratio_own=np.where(there, alike(**told | {"expected": 0.0}, u_alike=np.hypot(u, size)), 1.0),
        agrees=there & near & (np.fmax(*both) > 1.0),
        good=there & (np.abs(two["deviation"]) <= GOOD * told["u_sound"]),
        same_session=there & ~apart,
        same_setup=there & (one["setup"] == two["setup"]),
        feels=one["feels"],
        between=np.abs(one["place"] - two["place"]).astype(float),
        away=np.hypot(one["easting"] - two["easting"], one["northing"] - two["northing"]),
        seconds=np.abs(one["seconds"] - two["seconds"]),
    )


_HELD = (
    "held",
    "feels",
    "session",
    "setup",
    "place",
    "seconds",
    "deviation",
    "u_common",
    "u_random",
    "sound",
    "easting",
    "northing",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class Beside:
    """Rows of other numbers for each of n numbers; -1 where there is none."""

    neighbours: np.ndarray
    """(n, 2) next before and behind on the same line and in the same pass of it, at another place; without a line the
    next in the order of work."""
    again: np.ndarray
    """(n, 2) the same place shot again, once before and once behind."""


def beside(numbers: Numbers, mine: np.ndarray, *, apart: float, reach: float) -> Beside:
    """Neighbours on the same design, and other shots of the same place.

    Parameters
    ----------
    numbers : Numbers
    mine : (n,) int array
    apart : float
        Shots no farther apart than this are of one place, along the line where they are of one, else in plan; all shots
        of a design point are.
    reach : float
        Farthest neighbour. Where no line orders the shots, as on a surface, it is the next in the order of work.
    """
    table = numbers.table
    group = table.groupby(["check", "subject"], sort=False).ngroup().to_numpy()
    along, turn = table["station"].to_numpy(float), table["turn"].to_numpy()
    point, free = table["point"].to_numpy(bool), np.isnan(along)
    along, plan = np.nan_to_num(along), table[["easting", "northing"]].to_numpy(float)
    order = np.lexsort((table["place"].to_numpy(), along, group))
    at = np.empty(len(order), dtype=np.int64)
    at[order] = np.arange(len(order))
    next_to, again = np.full((2, len(mine), 2), -1)
    for side, step in enumerate((-1, 1)):
        for far in range(1, _LOOKED + 1):
            place = at[mine] + step * far
            inside = (place >= 0) & (place < len(order))
            other = order[np.where(inside, place, 0)]
            inside &= (group[other] == group[mine]) & (table["row"].to_numpy()[other] != table["row"].to_numpy()[mine])
            off = np.abs(along[other] - along[mine])
            off = np.where(free[mine], np.hypot(*(plan[other] - plan[mine]).T), off)
            same = inside & ((off <= apart) | point[mine])
            again[:, side] = np.where(same & (again[:, side] < 0), other, again[:, side])
            fits = inside & ~same & (turn[other] == turn[mine]) & (off <= reach) & (next_to[:, side] < 0)
            next_to[:, side] = np.where(fits, other, next_to[:, side])
    return Beside(neighbours=next_to, again=again)


def elsewhere(numbers: Numbers, mine: np.ndarray) -> np.ndarray:
    """Next numbers before and behind in the order of work that are of another design, (n, 2); -1 where there is none.

    They are of the same session and axis. What is no number of a shot along an axis, such as a width, has none.
    """
    table = numbers.table
    code = pd.factorize(table["axis"] + "/" + table["session"].astype(str))[0]
    subject = pd.factorize(table["subject"])[0]
    order = np.lexsort((table["place"].to_numpy(), code))
    changes = np.flatnonzero(np.diff(code[order]) | np.diff(subject[order]))
    first = np.concatenate([[0], changes + 1])
    last = np.concatenate([changes, [len(order) - 1]])
    at = np.empty(len(order), dtype=np.int64)
    at[order] = np.arange(len(order))
    stretch = np.searchsorted(first, at[mine], side="right") - 1
    made = np.full((len(mine), 2), -1)
    for side, place in enumerate((first[stretch] - 1, last[stretch] + 1)):
        inside = (place >= 0) & (place < len(order))
        other = order[np.where(inside, place, 0)]
        fits = inside & (code[other] == code[mine]) & table["axis"].isin(["h", "v"]).to_numpy()[mine]
        made[:, side] = np.where(fits, other, -1)
    return made


def with_checks(layers: Layers, numbers: Numbers, at: pd.DataFrame, mine: np.ndarray) -> tuple[Numbers, np.ndarray]:
    """The list with check shots behind it, and for each number the checks of its session before and behind, (n, 2).

    A check is one row for each number it is held against, along that number's own direction.
    """
    checks = _residuals(layers, at)
    table = numbers.table
    found = np.full((len(mine), 2), -1)
    if not len(checks):
        return numbers, found
    key = checks["place"].to_numpy()
    session = table["session"].to_numpy()[mine]
    behind = np.searchsorted(key, table["place"].to_numpy()[mine], side="right")
    pieces: list[pd.DataFrame] = []
    vectors = [numbers.toward]
    axis = table["axis"].to_numpy()[mine]
    count = len(table)
    for side, place in enumerate((behind - 1, behind)):
        inside = (place >= 0) & (place < len(key))
        row = np.where(inside, place, 0)
        fits = inside & (checks["session"].to_numpy()[row] == session) & np.isin(axis, ["h", "v"])
        ours = np.flatnonzero(fits)
        off, vector = _along(checks.iloc[row[ours]], numbers.toward[mine[ours]], axis[ours] == UP)
        known = np.isfinite(off["deviation"].to_numpy(float))
        found[ours[known], side] = count + np.arange(int(known.sum()))
        pieces.append(off[known])
        vectors.append(vector[known])
        count += int(known.sum())
    whole = pd.concat([table, *pieces], ignore_index=True)
    whole_list = Numbers(table=whole, toward=np.concatenate(vectors), out=numbers.out)
    return whole_list, found


def checks_left_out(layers: Layers, at: pd.DataFrame, numbers: Numbers, mine: np.ndarray) -> np.ndarray:
    """Whether a check shot of the session counts for nothing along a number's axis, because it is known to be off."""
    if "control_table" not in layers or not len(layers["control_table"]):
        return np.zeros(len(mine), bool)
    table = layers["control_table"]
    reasons = table[["left_out", "left_out_elevation"]].astype(object).where(lambda each: each != TWICE)
    session = np.append(at["session"].to_numpy(), -1)[rows_of(table["shot_key"], layers["shots"]["shot_key"])]
    plan = np.isin(numbers.table["session"].to_numpy()[mine], session[reasons["left_out"].notna()])
    level = np.isin(numbers.table["session"].to_numpy()[mine], session[reasons.notna().any(axis=1)])
    return np.where(numbers.table["axis"].to_numpy()[mine] == UP, level, plan)


def _residuals(layers: Layers, at: pd.DataFrame) -> pd.DataFrame:
    """Check shots that count, in the order of work: residuals, and u of shot and mark."""
    if "control_table" not in layers or not len(layers["control_table"]):
        return pd.DataFrame()
    table = layers["control_table"]
    table = table[table["left_out"].isna()].drop_duplicates("shot_key").reset_index(drop=True)
    shots = layers["shots"]
    row = rows_of(table["shot_key"], shots["shot_key"])
    table, row = table[row >= 0], row[row >= 0]
    made = pd.DataFrame(table[["shot_key", "easting", "northing", "elevation"]]).reset_index(drop=True)
    made["elevation"] = made["elevation"].where(table["left_out_elevation"].isna().to_numpy(bool))
    for name in at:
        made[name] = at[name].to_numpy()[row]
    for name in ("u_h_random", "u_v_random", "u_h_common", "u_v_common"):
        made[name] = shots[name].to_numpy(float)[row] if name in shots else np.nan
    marks = layers["control"]
    place = rows_of(table["mark"], marks["mark"])
    for axis in "hv":
        made[f"u_{axis}_mark"] = np.nan_to_num(np.append(marks[f"u_{axis}"].to_numpy(float), np.nan)[place])
    made["at_e"], made["at_n"] = (shots[name].to_numpy(float)[row] for name in ("easting", "northing"))
    return made.sort_values("place", kind="stable").reset_index(drop=True)


def _along(checks: pd.DataFrame, toward: np.ndarray, up: np.ndarray) -> tuple[pd.DataFrame, np.ndarray]:
    """Residuals along the given directions, as rows of numbers."""
    plan = checks[["easting", "northing"]].to_numpy(float)
    value = np.where(up, checks["elevation"].to_numpy(float), (plan * toward).sum(axis=1))
    axis = np.where(up, "v", "h")
    u = {
        part: np.where(up, checks[f"u_v_{part}"].to_numpy(float), checks[f"u_h_{part}"].to_numpy(float))
        for part in ("random", "common", "mark")
    }
    rows: dict[str, Any] = {
        "deviation": value, "u_random": np.hypot(u["random"], u["mark"]), "u_common": u["common"], "sound": 0.0,
        "held": False, "feels": True, "point": False,
        "axis": axis, "easting": checks["at_e"].to_numpy(), "northing": checks["at_n"].to_numpy(),
    }  # fmt: skip
    rows |= {name: checks[name].to_numpy() for name in ("session", "setup", "place", "seconds")}
    return pd.DataFrame(rows), np.where(up[:, None], 0.0, toward)
