"""What each shot measured, as numbers of several shots take it: shifts taken off, levelled instead, and what waits."""

import numpy as np
import pandas as pd

from geoqa.model.reasons import WHY
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.causes.open_blunders import moved_by, rejected_otherwise, under_blunder
from geoqa.steps.causes.survey_doubt import in_doubt, widened_by_control
from geoqa.steps.design.applied_shifts import AXES, applied, sessions
from geoqa.steps.design.less_shift import by_its_checks, shared_by_session
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.unchecked_sessions import loose_by
from geoqa.steps.shots.flags import ZERO

READS = ("shots", "flags", "cause_shots", "survey_doubt", "session_shifts", "believed_parts", "levelled",
         "line_matches", "loose_sessions", "loose_shots")  # fmt: skip
"""Tables that it is made of; a step that asks for it wants them, so that it waits for who makes them."""

WANTS = READS[2:]
NEEDS = ("shots.use", "shots.flags", "shots.u_h_random", "shots.u_v_random")
"""For `wants` and `needs` of such a step."""


_PLACE = ("source", "line")


def observed(layers: Layers) -> pd.DataFrame:
    """Shots of features and other objects as the numbers made of several of them take them.

    Parameters
    ----------
    layers : Layers
        With `shots` that bear kind, role, use, flags and both parts of their uncertainty.

    Returns
    -------
    DataFrame
        One row a shot of role feature or other, in the order of `shots`, each measurement once; shared between steps,
        not to be changed:

        row
            Place in `shots`.
        shot, name, kind, role, code, line_id, sequence, time, note, source, line
            As the shot bears them; `shot` is its key, `name` what the crew calls it.
        easting, northing, elevation
            In the job's unit. A session's shift is taken off where the job says so; an elevation that was levelled
            stands in place of that of the shot.
        u_h_random, u_h_common, u_v_random, u_v_common
            1 sigma, as verdicts take them; the common part is that of `group_h` and `group_v`.
        group_h, group_v : int
            Who shares the common part: the session, or the level run.
        minutes : float
            Since the first shot of the job; NaN without a time.
        setup : int
            Session and initialization: one moment's error that all its shots may have.
        why_plan, why_elevation : int
            What keeps the shot from giving one, of the reasons that all checks share; 0 for none. Neither an open
            blunder nor a doubt of the survey is among them.
        blunder_plan, blunder_elevation : bool
            An open blunder acts on it.
        doubt_plan, doubt_elevation : float
            Largest error that a survey in doubt is reckoned with; NaN where it is in none.
        loose_easting, loose_northing, loose_elevation : float
            1 sigma by which its session may be off as a whole where no check shot tells; felt between sessions alone.
        shared_shift, session : float, str
            What most elevations of such a session lie off the design by (NaN: none is open), and the session's name.
        checked_shift : float
            What the check shots of its session say that its elevations are off by, where that is more than its own u
            and was not taken off; else 0. Between sessions a number is read without it too.
    """
    made: pd.DataFrame = layers.derived("observed shots", READS, lambda: _observed(layers))
    return made


def _observed(layers: Layers) -> pd.DataFrame:
    shots = layers["shots"]
    # a row that is listed again is no other shot: it is counted in a note, and neither judged nor missed
    row = np.flatnonzero(shots["role"].isin(["feature", "other"]).to_numpy(bool) & ~has_flag(shots, AGAIN))
    mine = shots.iloc[row].reset_index(drop=True)
    keys = mine["shot_key"]
    group = pd.factorize(sessions(shots))[0][row]
    made = pd.DataFrame(
        {
            "row": row,
            "shot": keys,
            "name": mine["shot"].where(mine["shot"].notna(), keys),
            **{name: mine[name] for name in ("kind", "role", "code", "line_id", "sequence", "time", "note", *_PLACE)},
            **{name: mine[name].to_numpy(float) for name in AXES},
        }
    )
    for plane, vertical in (("h", False), ("v", True)):
        parts = (mine[f"u_{plane}_{part}"].to_numpy(float) for part in ("common", "random"))
        found = widened_by_control(layers, keys, *parts, vertical=vertical)
        made[f"u_{plane}_common"], made[f"u_{plane}_random"] = found
        made[f"group_{plane}"] = group
        place = "elevation" if vertical else "plan"
        made[f"blunder_{place}"] = under_blunder(layers, vertical=vertical)[row]
        made[f"doubt_{place}"] = in_doubt(layers, keys, vertical=vertical)
    made["minutes"] = (mine["time"] - shots["time"].min()).dt.total_seconds().to_numpy(float, na_value=np.nan) / 60
    setup = mine["initialization"].where(mine["initialization"].notna(), "").astype("str")
    made["setup"] = pd.factorize(pd.Series(group.astype(str)) + "\x1f" + setup)[0]
    _reasons(layers, made)
    _take_off(layers, made)
    loose = loose_by(layers, made)
    for number, axis in enumerate(AXES):
        made[f"loose_{axis}"] = loose[:, number]
    made["shared_shift"] = shared_by_session(layers, row)[0][:, 2]
    made["checked_shift"] = by_its_checks(layers, row)
    made["session"] = sessions(shots).take(row).astype("str").to_numpy(dtype=object)
    _levelled(layers, made)
    return made


def _reasons(layers: Layers, made: pd.DataFrame) -> None:
    shots, row = layers["shots"], made["row"].to_numpy()
    rejected = rejected_otherwise(layers)[row]
    copied = has_flag(shots, "identical-to-design")[row]
    placeless = made[["easting", "northing"]].isna().any(axis=1).to_numpy(bool)
    plan = {"identical-to-design": copied, "screened": rejected, "no-position": placeless}
    elevation = plan | {
        "zero-elevation": has_flag(shots, ZERO)[row],
        "no-elevation": made["elevation"].isna().to_numpy(bool),
    }
    for name, reasons in (("why_plan", plan), ("why_elevation", elevation)):
        made[name] = np.select(list(reasons.values()), [WHY[each] for each in reasons], 0)


def _take_off(layers: Layers, made: pd.DataFrame) -> None:
    """Take the proven shift of a session off, where the job says so; what it is worth then is shared."""
    table = applied(layers)
    if not len(table):
        return
    of = sessions(layers["shots"]).take(made["row"].to_numpy()).to_numpy(dtype=object)
    plan: dict[str, float] = {}
    for axis, session, shift, u in zip(table["axis"], table["session"], table["shift"], table["u"], strict=True):
        mine = of == session
        made.loc[mine, axis] = made.loc[mine, axis] - shift
        if axis == "elevation":
            made.loc[mine, "u_v_common"] = u
        else:
            # an axis whose shift is not taken off keeps what the session is stated to share
            plan[session] = max(plan.get(session, 0.0), u)
    counted = table[table["axis"] != "elevation"].groupby("session")["axis"].nunique()
    for session, u in plan.items():
        mine = of == session
        stated = made.loc[mine, "u_h_common"] if counted[session] < 2 else 0.0
        made.loc[mine, "u_h_common"] = np.maximum(stated, u)


def _levelled(layers: Layers, made: pd.DataFrame) -> None:
    """Put levelled elevations in place of those of shots: no error of their session acts on them."""
    if "levelled" not in layers or not len(layers["levelled"]):
        return
    table = layers["levelled"]
    table = table[table["taken"]].reset_index(drop=True)
    place = rows_of(made["shot"], table["shot_key"])
    mine = np.flatnonzero(place >= 0)
    if not len(mine):
        return
    of = table.iloc[place[mine]]
    runs = pd.factorize(of["source"])[0] + int(made["group_v"].max()) + 1
    numbers = {
        "elevation": of["elevation"].to_numpy(float),
        "u_v_random": of["u_random"].to_numpy(float),
        "u_v_common": of["u_common"].to_numpy(float),
        "group_v": runs,
        "why_elevation": np.where(
            made["why_elevation"].isin([WHY["zero-elevation"], WHY["no-elevation"]]), 0, made["why_elevation"]
        )[mine],
        "blunder_elevation": made["blunder_plan"].to_numpy()[mine],
        "doubt_elevation": np.full(len(mine), np.nan),
        "loose_elevation": np.zeros(len(mine)),
        "shared_shift": np.full(len(mine), np.nan),
        "checked_shift": np.zeros(len(mine)),
    }
    for name, new in numbers.items():
        values = made[name].to_numpy(copy=True)
        values[mine] = new
        made[name] = values


def shift_of(layers: Layers, made: pd.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What open blunders do to each observed shot: shown minus true, (n, 3); 1 sigma, (n, 3); titles, (n,).

    Parameters
    ----------
    layers : Layers
    made : DataFrame
        Of `observed`.
    """
    count = len(made)
    moved = moved_by(layers, made["shot"])
    if moved is None:
        return np.zeros((count, 3)), np.zeros((count, 3)), np.full(count, "", dtype=object)
    acts = moved.holds[:, None] & np.column_stack(
        [made["blunder_plan"], made["blunder_plan"], made["blunder_elevation"]]
    ).astype(bool)
    return np.where(acts, moved.shift, 0.0), np.where(acts, moved.u, 0.0), np.where(moved.holds, moved.titles, "")
