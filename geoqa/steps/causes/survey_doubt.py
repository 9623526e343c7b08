"""Sessions whose check shots are off and nothing explains it: their numbers wait, unless no such error makes them.

A session is in doubt where its check shots lie farther from their marks than their uncertainties and those of the
marks allow, after whatever was named. Plan and elevation are doubted apart. What is farther beyond its limit than
any such error could bring it is judged all the same.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import chdtrc

from geoqa.kernels.causes.prediction import Explanation
from geoqa.model import words
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.model.words import listed
from geoqa.steps.causes.suspects import Checks, sessions_of
from geoqa.steps.causes.weighed import Weighed
from geoqa.steps.judging.text_columns import rows_of

OFF, SURELY_OFF = 1e-2, 1e-4
"""Chi-square probability of a session's check shots below which it is in doubt: where nothing fits, and where what was
named fits the job as a whole."""
REACH = 2.0
"""Times the largest residual at control that an error of a session in doubt may have elsewhere in it."""
TILTED = 1.0
"""Feet: where plan is off by more, elevations are compared at wrong places."""
PROVEN = 3.5
"""Standard uncertainties beyond which the mean of a session's check shots is no chance."""
PLANES = {"plan": (0, 1), "elevation": (2,)}


@dataclass(frozen=True, kw_only=True, eq=False)
class Doubt:
    """Shots whose session is in doubt.

    Attributes
    ----------
    held : dict of str to (n,) bool array
        Shots in doubt in ``plan`` and in ``elevation``.
    bound : dict of str to float
        Largest error that is reckoned with in either.
    sessions : tuple of str
        Names of sessions in doubt.
    widened : float
        What all uncertainties are too small by, as control shows; 1 where they are not.
    together : dict of str to (n,) float64 array
        Least common part of a shot: what its session's check shots are off by together, where that is more than the
        stated one allows; 0 elsewhere.
    """

    held: dict[str, np.ndarray]
    bound: dict[str, float]
    sessions: tuple[str, ...]
    widened: float
    together: dict[str, np.ndarray]

    @property
    def shots(self) -> np.ndarray:
        """Shots in doubt either way."""
        return self.held["plan"] | self.held["elevation"]

    @classmethod
    def none(cls, count: int) -> "Doubt":
        """Nothing is in doubt."""
        held, together = ({name: np.zeros(count, kind) for name in PLANES} for kind in (bool, float))
        return cls(held=held, bound={}, sessions=(), widened=1.0, together=together)


def doubt_of(
    weighing: Weighed | None, explained: Explanation | None, checks: Checks, *, back: np.ndarray, fits: bool
) -> Doubt:
    """Which sessions are in doubt.

    Parameters
    ----------
    weighing : Weighed or None
    explained : Explanation or None
        What was named; None where nothing was, and the residuals count as read.
    checks : Checks
        As read.
    back : (n, 3) array
        Added to the residuals: what was explained of check shots and says nothing of the other shots of a session, or
        less what acts on check shots alone.
    fits : bool
        What was named leaves no more than noise.
    """
    if weighing is None or not len(checks.row):
        return Doubt.none(len(checks.shots))
    widened = weighing.weighed.widened
    if explained is None:
        residual = checks.residual + back[checks.row]
    else:
        residual = weighing.checks.residual - explained.predicted.reshape(-1, 3) + back[checks.row]
    spread = checks.covariance() * widened**2
    level = SURELY_OFF if fits else OFF
    session = checks.session[checks.row]
    off = {name: _off(residual, spread, session, axes, level) for name, axes in PLANES.items()}
    if explained is None and not any(off.values()):
        off = {name: np.unique(session).tolist() for name in PLANES}
    bound = {name: _bound(residual, session, axes, off[name]) for name, axes in PLANES.items()}
    if bound["plan"] > TILTED * checks.unit:
        off["elevation"] = sorted({*off["elevation"], *off["plan"]})
        bound["elevation"] = max(bound["elevation"], bound["plan"])
    if not fits:  # a session without any check may be off as the others are
        unseen = [each for each in np.unique(checks.session).tolist() if each not in set(session.tolist())]
        off = {name: [*numbers, *(unseen if numbers else [])] for name, numbers in off.items()}
    held = {name: np.isin(checks.session, numbers) for name, numbers in off.items()}
    every = sorted({number for numbers in off.values() for number in numbers})
    names = [str(checks.sessions.iloc[int(np.argmax(checks.session == number))]) for number in every]
    together = {name: _together(residual, spread, checks, axes, always=widened > 1) for name, axes in PLANES.items()}
    return Doubt(held=held, bound=bound, sessions=tuple(names), widened=widened, together=together)


def _together(
    residual: np.ndarray, spread: np.ndarray, checks: Checks, axes: tuple[int, ...], *, always: bool
) -> np.ndarray:
    """Mean of each session's check shots, its larger axis, for all its shots; 0 where the stated parts allow it.

    Where the stated uncertainties proved too small, those of a session's common part are none the better known, and its
    own check shots are what is known of it.
    """
    least = np.zeros(len(checks.shots))
    session = checks.session[checks.row]
    for number in np.unique(session).tolist():
        rows = np.flatnonzero(session == number)
        for axis in axes:
            there = rows[np.isfinite(residual[rows, axis])]
            if len(there) > 1:
                mean = abs(float(residual[there, axis].mean()))
                place = 3 * there + axis
                u = float(np.sqrt(spread[np.ix_(place, place)].mean()))
                if always or mean > PROVEN * u:
                    mine = checks.session == number
                    least[mine] = np.maximum(least[mine], mean)
    return least


def _off(
    residual: np.ndarray, spread: np.ndarray, session: np.ndarray, axes: tuple[int, ...], level: float
) -> list[int]:
    """Sessions whose residuals along some axes are more than noise."""
    found = []
    for number in np.unique(session).tolist():
        rows = np.flatnonzero(session == number)
        place = (3 * rows[:, None] + np.array(axes)).ravel()
        values = residual[rows][:, list(axes)].ravel()
        there = np.isfinite(values)
        if there.any():
            own = values[there]
            chi2 = float(own @ np.linalg.solve(spread[np.ix_(place[there], place[there])], own))
            if chdtrc(there.sum(), chi2) < level:
                found.append(number)
    return found


def _bound(residual: np.ndarray, session: np.ndarray, axes: tuple[int, ...], off: list[int]) -> float:
    mine = residual[np.isin(session, off)][:, list(axes)]
    size = np.linalg.norm(np.nan_to_num(mine), axis=1)
    return REACH * float(size.max(initial=0.0))


def doubt_table(doubt: Doubt, shots: pd.DataFrame) -> pd.DataFrame:
    """Rows of `survey_doubt`: every shot that is in doubt, or whose uncertainties are too small."""
    off = doubt.shots | np.any([each > 0 for each in doubt.together.values()], axis=0)
    rows = np.arange(len(shots)) if doubt.widened > 1 else np.flatnonzero(off)
    if not len(rows):
        return empty("survey_doubt")
    table = {
        "shot_key": shots["shot_key"].iloc[rows].to_numpy(dtype=object),
        **{f"off_{name}": np.where(doubt.held[name][rows], doubt.bound.get(name, 0.0), np.nan) for name in PLANES},
        **{f"together_{name}": doubt.together[name][rows] for name in PLANES},
        "widened": doubt.widened,
    }
    return conform("survey_doubt", pd.DataFrame(table)).sort_values("shot_key", ignore_index=True)


def notes_of_doubt(table: pd.DataFrame, shots: pd.DataFrame) -> list[dict[str, Any]]:
    """What verdicts take larger than stated, and why, as notes.

    Parameters
    ----------
    table : DataFrame
        Rows of `survey_doubt`.
    shots : DataFrame
        In the order of time.
    """
    if not len(table):
        return []
    notes: list[dict[str, Any]] = []
    widened = float(table["widened"].max())
    if widened > 1:
        notes.append({"note": "control-widens", "number": widened})
    session = sessions_of(shots).take(rows_of(table["shot_key"], shots["shot_key"])).to_numpy(dtype=object)
    sizes = table[[f"together_{name}" for name in PLANES]].groupby(session, sort=True).max()
    stated = sizes[(sizes > 0).any(axis=1)] if widened == 1 else sizes.iloc[:0]
    return notes + [
        {"note": "session-together", "subject": str(name), "number": plan, "second": elevation, "unit": "job"}
        for name, (plan, elevation) in zip(stated.index, stated.to_numpy(float).tolist(), strict=True)
    ]


def row_of_doubt(doubt: Doubt, checks: Checks, text: str, remedy: str) -> dict[str, Any]:
    """The finding that says so: how many shots wait."""
    place = int(np.argmax(doubt.shots))
    count = float(doubt.shots.sum())
    shots, unit = checks.shots, checks.job_unit
    most = [f"{words.length(value / REACH, unit)} in {name}" for name, value in doubt.bound.items() if value > 0]
    return {
        "kind": "control", "subject": f"none-fits: {listed(list(doubt.sessions))}", "source": "control",
        "label": f"The survey of session{'s' if len(doubt.sessions) > 1 else ''} {listed(list(doubt.sessions))} is in "
        f"doubt, {words.many(int(count), 'shot')}",
        "easting": shots["easting"].iloc[place], "northing": shots["northing"].iloc[place],
        "elevation": shots["elevation"].iloc[place], "design": 0.0, "measured": count, "deviation": count,
        "u_common": 0.0, "u_random": 0.0, "lower": -np.inf, "upper": 0.0, "rule": "guarded",
        "reference": "no shot may stand under a doubt of its control", "limit": -1, "why": 0,
        "cause": f"{text}; check shots of these sessions are off by up to {listed(most)}", "remedy": remedy,
    }  # fmt: skip


def in_doubt(layers: Layers, keys: pd.Series, *, vertical: bool) -> np.ndarray:
    """Largest error that is reckoned with for each row; NaN for those not in doubt.

    Parameters
    ----------
    layers : Layers
        With `survey_doubt`, if the diagnosis ran.
    keys : Series of str, (n,)
        Shot of each row.
    vertical : bool
        In elevation, not in plan.
    """
    return _of_doubt(layers, keys, "off_elevation" if vertical else "off_plan", np.nan)


def widened_by_control(
    layers: Layers, keys: pd.Series, common: np.ndarray, random: np.ndarray, *, vertical: bool
) -> tuple[np.ndarray, np.ndarray]:
    """Common and random part of each row, as large as control shows them to be; never smaller than stated.

    Parameters
    ----------
    layers : Layers
    keys : Series of str, (n,)
    common, random : (n,) array
    vertical : bool

    Notes
    -----
    Numbers of a session without a check shot share at least what `loose_sessions` says.
    """
    open_by = _least_of_session(layers, keys, "least" if vertical else "least_plan")
    if "believed_parts" in layers and len(layers["believed_parts"]):
        table = layers["believed_parts"]
        row, plane = rows_of(keys, table["shot_key"]), "v" if vertical else "h"
        parts = (table[f"u_{plane}_{part}"].to_numpy(float)[row] for part in ("common", "random"))
        common, random = parts
        return np.maximum(common, open_by), random
    by = _of_doubt(layers, keys, "widened", 1.0)
    least = _of_doubt(layers, keys, "together_elevation" if vertical else "together_plan", 0.0)
    return np.maximum(np.maximum(by * common, least), open_by), by * random


def _least_of_session(layers: Layers, keys: pd.Series, column: str) -> np.ndarray:
    """Least common part of each row by what its session, of which no shot is checked, may be off by; 0 for others."""
    if "loose_sessions" not in layers or not len(layers["loose_sessions"]):
        return np.zeros(len(keys))
    table, shots = layers["loose_sessions"], layers["shots"]
    of = pd.Series(sessions_of(shots)).astype("str").reset_index(drop=True)
    place = rows_of(of, table["session"])[rows_of(keys, shots["shot_key"])]
    return np.asarray(np.append(table[column].to_numpy(float), 0.0)[place])


def _of_doubt(layers: Layers, keys: pd.Series, column: str, otherwise: float) -> np.ndarray:
    if "survey_doubt" not in layers or not len(layers["survey_doubt"]):
        return np.full(len(keys), otherwise)
    table = layers["survey_doubt"]
    found = np.append(table[column].to_numpy(float), otherwise)
    return np.asarray(found[rows_of(keys, table["shot_key"])], dtype=np.float64)
