"""Numbers made of several shots, as rows to be judged: their two parts of uncertainty, and what they wait for."""

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd

from geoqa.kernels.precision.combination import combined
from geoqa.model.reasons import WHY
from geoqa.model.tables.column import bare, nothing
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.open_blunders import place_as_read
from geoqa.steps.design.applied_shifts import AXES
from geoqa.steps.linework.observed import READS, observed, shift_of
from geoqa.steps.linework.switched import readings, switches, time_order

_PARTS = {"easting": ("h", "plan"), "northing": ("h", "plan"), "elevation": ("v", "elevation")}
SURE = 3.0
"""Standard uncertainties that a number in doubt must lie beyond its limit and all that the survey may be off by."""
_NOTHING = 1e-9
"""Of the size of a blunder: what is left of it in a difference of shots that it moves alike."""


def derived_rows(
    layers: Layers,
    members: np.ndarray,
    gradient: Mapping[str, np.ndarray],
    number: np.ndarray,
    *,
    design: np.ndarray | float = 0.0,
    show: Callable[[float], str],
    beyond: np.ndarray | float = 0.0,
) -> pd.DataFrame:
    """Columns of rows to be judged, for numbers made of the coordinates of several shots.

    Parameters
    ----------
    layers : Layers
    members : (m, k) int array
        Rows of `observed` that each number is made of; -1 for none.
    gradient : mapping of axis to (m, k) array
        How much each number changes by a change of the easting, northing or elevation of each of its shots; an axis
        that is left out, or 0, does not count, and neither does what keeps a shot from giving it.
    number : (m,) array
        The numbers as read; NaN is not known.
    design : (m,) array or float
        What each should be; the deviation is the number less that.
    show : callable
        A number in words with its unit, for what waits for a blunder.
    beyond : (m,) array or float
        How far each lies beyond its limit: where the survey of a shot is in doubt, what is farther out than that can
        make it is judged all the same.

    Returns
    -------
    DataFrame
        `measured`, `design`, `deviation`, `u_common`, `u_random`, `why`, `without`, `u_without`, `cause`, `cause_both`
        as `findings_of` takes them, and `keys`, the shots of each number. Without any observed shot no number is
        known, whatever was read.

    Notes
    -----
    A blunder or a doubt that moves all shots of a number alike, such as a wrong rod under both ends of a slope, is not
    felt by a difference: it is judged. Of a doubt that is known only for shots of one session and initialization.
    Shots between the last good and the first bad check may be moved or not: a number that the moment of the switch
    changes waits, and is out both ways only where it is at every such moment. A session without a check shot that lies
    off the design as a whole has that as a part of its uncertainty, between its shots and those of another session.
    """
    shots = observed(layers)
    if not len(shots):
        return _of_no_shot(len(members), design)
    there = members >= 0
    at = np.where(there, members, 0)
    weights = {axis: np.where(there, np.nan_to_num(gradient.get(axis, np.zeros(members.shape))), 0.0) for axis in AXES}
    random, common = np.zeros(len(members)), np.zeros(len(members))
    for axis, weight in weights.items():
        plane = _PARTS[axis][0]
        own, shared = (shots[f"u_{plane}_{part}"].to_numpy(float)[at] for part in ("random", "common"))
        group = shots[f"group_{plane}"].to_numpy()[at]
        shared = np.hypot(shared, _loose(shots[f"loose_{axis}"].to_numpy()[at], group, weight != 0))
        found = combined(weight, own, shared, group)
        random, common = np.hypot(random, found.u_random), np.hypot(common, found.u_common)
    measured, wanted = np.asarray(number, float), np.array(np.broadcast_to(design, len(members)), float)
    deviation = measured - wanted
    why = _worst(shots, at, weights)
    held, net, spread, titles, between = _blunder(layers, shots, at, weights)
    u, out = np.hypot(common, random), np.broadcast_to(beyond, len(members))
    doubt = _doubt(shots, at, weights, u, out)
    # of readings that lie between the two that are shown it is known only that they are less far off
    known = ~between | (out > np.abs(net) + SURE * np.hypot(u, spread))
    waits, both = _said(measured, held, net, titles, show, _places(layers, shots, at, weights, held))
    own, hangs, checked = _of_sessions(shots, at, weights)
    keys = shots["shot"].to_numpy(dtype=object)
    lists = [list(dict.fromkeys(keys[each[some]])) for each, some in zip(at, there, strict=True)]
    made = pd.DataFrame(
        {
            "measured": measured,
            "design": wanted,
            "deviation": deviation,
            "u_common": np.where(np.isnan(deviation), np.nan, common),
            "u_random": np.where(np.isnan(deviation), np.nan, random),
            "why": np.select([why > 0, held, doubt], [why, WHY["open-blunder"], WHY["survey-doubt"]], 0),
            "without": np.where(held & (why == 0) & known, deviation - net, np.nan),
            "u_without": spread,
            "cause": bare(waits),
            "cause_both": bare(both),
            "keys": pd.Series(lists, dtype=object),
        }
    )
    return made.assign(of_session=own, hangs_on=hangs, checked=checked) if hangs.notna().any() else made


def _of_no_shot(count: int, design: np.ndarray | float) -> pd.DataFrame:
    """Rows of a job in which no shot of a feature can be used: no number has anything to stand on."""
    made = pd.DataFrame({"measured": np.full(count, np.nan), "design": np.broadcast_to(design, count)})
    made = made.assign(deviation=np.nan, u_common=np.nan, u_random=np.nan, why=0, without=np.nan, u_without=0.0)
    for name in ("cause", "cause_both"):
        made[name] = pd.Series([None] * count, dtype="str")
    return made.assign(keys=pd.Series([[] for _ in range(count)], dtype=object))


def _counts(weights: Mapping[str, np.ndarray], place: str) -> np.ndarray:
    """Which shots count along the axes of a plane."""
    return np.any([weight != 0 for axis, weight in weights.items() if _PARTS[axis][1] == place], axis=0)


def _worst(shots: pd.DataFrame, at: np.ndarray, weights: Mapping[str, np.ndarray]) -> np.ndarray:
    """What keeps the first of its shots from giving what counts."""
    why = np.zeros(len(at), dtype=np.int64)
    for place in ("elevation", "plan"):
        codes = np.where(_counts(weights, place), shots[f"why_{place}"].to_numpy()[at], 0)
        first = codes[np.arange(len(at)), np.argmax(codes != 0, axis=1)] if at.shape[1] else np.zeros(len(at), int)
        why = np.where(why == 0, first, why)
    return why


def _blunder(
    layers: Layers, shots: pd.DataFrame, at: np.ndarray, weights: Mapping[str, np.ndarray]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Whether a blunder is felt, by how much at most, 1 sigma of that, which one, and whether less is possible too."""
    acts = np.zeros(at.shape, dtype=bool)
    for place in ("plan", "elevation"):
        acts |= _counts(weights, place) & shots[f"blunder_{place}"].to_numpy(bool)[at]
    shift, u, title = layers.derived("shift of observed shots", READS, lambda: shift_of(layers, shots))
    net, spread, size = np.zeros((3, len(at)))
    for number, axis in enumerate(AXES):
        part = weights[axis] * shift[at, number]
        net, size = net + part.sum(axis=1), size + np.abs(part).sum(axis=1)
        spread = np.hypot(spread, np.abs(np.where(acts, weights[axis] * u[at, number], 0.0).sum(axis=1)))
    net, spread, between = _switched(layers, shots, at, weights, acts, net, spread, u)
    # who is acted on and by how much is not known is felt
    unknown = (acts & ~(np.abs(shift[at]).sum(axis=2) > 0)).any(axis=1)
    held = acts.any(axis=1) & (unknown | (np.abs(net) > _NOTHING * size))
    # the first shot that is acted on names the cause
    first = title[at[np.arange(len(at)), np.argmax(acts, axis=1)]] if at.shape[1] else np.full(len(at), "")
    return held, net, spread, np.where(held, first, ""), between


def _switched(
    layers: Layers, shots: pd.DataFrame, at: np.ndarray, weights: Mapping[str, np.ndarray], acts: np.ndarray,
    net: np.ndarray, spread: np.ndarray, u: np.ndarray,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:  # fmt: skip
    """What a blunder does to numbers at the worst moment it may have begun, 1 sigma, and whether it may do less."""
    none = np.zeros(len(at), dtype=bool)
    doubtful = layers.derived("shots that may be moved", READS, lambda: switches(layers, shots))
    if not doubtful or not acts.any():
        return net, spread, none
    parts = [
        np.sum(
            [
                np.where(acts & _felt_along(shots, axis)[at], weights[axis] * moved[at, number], 0.0)
                for number, axis in enumerate(AXES)
            ],
            axis=0,
        )
        for moved in doubtful
    ]
    order = layers.derived("observed shots in time", READS, lambda: time_order(layers, shots))
    found = readings(net, parts, order[at])
    most = np.zeros(len(at))
    for number, axis in enumerate(AXES):
        most = np.hypot(most, np.where(acts, np.abs(weights[axis]) * u[at, number], 0.0).sum(axis=1))
    return np.where(found.open, found.farthest, net), np.where(found.open, most, spread), found.between


def _felt_along(shots: pd.DataFrame, axis: str) -> np.ndarray:
    """Shots whose coordinate along an axis an open blunder acts on."""
    return shots[f"blunder_{_PARTS[axis][1]}"].to_numpy(bool)


def _loose(size: np.ndarray, group: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """What sessions without a check may be off by, of numbers that more than one session has a part in; else 0."""
    last = np.where(counts, group, -1).max(axis=1, initial=-1)
    first = np.where(counts, group, np.iinfo(np.int64).max).min(axis=1, initial=np.iinfo(np.int64).max)
    return np.where((first < last)[:, None], size, 0.0)


def _of_sessions(
    shots: pd.DataFrame, at: np.ndarray, weights: Mapping[str, np.ndarray]
) -> tuple[np.ndarray, pd.Series, np.ndarray]:
    """Part of each number that may be that of its sessions, the session it hangs on, and whether that one was checked.

    What one session shares cancels in a difference of its shots, and such a number hangs on nothing. What check shots
    say of a session counts between sessions alone: single shots have it in their common part.
    """
    weight, group = weights["elevation"], shots["group_v"].to_numpy()[at]
    open_part = weight * np.nan_to_num(shots["shared_shift"].to_numpy(float)[at])
    part = open_part + _loose(weight * shots["checked_shift"].to_numpy(float)[at], group, weight != 0)
    own = part.sum(axis=1)
    own = np.where(np.abs(own) > _NOTHING * np.abs(part).sum(axis=1), own, np.nan)
    there = np.isfinite(own)[:, None]
    counts = (open_part != 0) & there
    for axis, each in weights.items():
        group = shots[f"group_{_PARTS[axis][0]}"].to_numpy()[at]
        counts |= (_loose(shots[f"loose_{axis}"].to_numpy()[at], group, each != 0) > 0) & (each != 0)
    checked = ~counts.any(axis=1) & np.isfinite(own)
    most = np.where(checked, np.argmax(np.abs(part), axis=1), np.argmax(counts, axis=1))
    hangs = counts.any(axis=1) | checked
    names = shots["session"].to_numpy(dtype=object)[at[np.arange(len(at)), most]]
    return own, pd.Series(np.where(hangs, names, None), dtype="str"), checked


def _doubt(
    shots: pd.DataFrame, at: np.ndarray, weights: Mapping[str, np.ndarray], u: np.ndarray, beyond: np.ndarray
) -> np.ndarray:
    """Numbers that the error of a survey in doubt could have made."""
    off = np.zeros(len(at))
    doubted = np.zeros(len(at), dtype=bool)
    for axis, weight in weights.items():
        far = shots[f"doubt_{_PARTS[axis][1]}"].to_numpy(float)[at]
        counts = (weight != 0) & np.isfinite(far)
        setup = shots["setup"].to_numpy()[at]
        least = np.min(np.where(weight != 0, setup, np.iinfo(np.int64).max), axis=1)
        alike = least >= np.max(np.where(weight != 0, setup, -1), axis=1)
        difference = np.abs(weight.sum(axis=1)) <= _NOTHING * np.abs(weight).sum(axis=1)
        felt = counts.any(axis=1) & ~(alike & difference)
        doubted |= felt
        off = np.hypot(off, np.where(felt, np.abs(np.where(counts, weight * far, 0.0)).sum(axis=1), 0.0))
    return doubted & ~(beyond > off + SURE * u)


def _places(
    layers: Layers, shots: pd.DataFrame, at: np.ndarray, weights: Mapping[str, np.ndarray], held: np.ndarray
) -> list[str]:
    """What is said of the place of numbers that a blunder holds: how far it moves the shot of theirs it moves most."""
    said = [""] * len(at)
    if held.any():
        shift = layers.derived("shift of observed shots", READS, lambda: shift_of(layers, shots))[0]
        counts = np.any([weight != 0 for weight in weights.values()], axis=0)
        far = np.where(counts, np.hypot(*np.nan_to_num(shift[:, :2]).T)[at], 0.0)
        most = at[np.arange(len(at)), np.argmax(far, axis=1)]
        for row in np.flatnonzero(held).tolist():
            said[row] = place_as_read(np.nan_to_num(shift[most[row]]), layers.frame.unit.name)
    return said


def _said(
    measured: np.ndarray,
    held: np.ndarray,
    net: np.ndarray,
    titles: np.ndarray,
    show: Callable[[float], str],
    where: list[str],
) -> tuple[pd.Series, pd.Series]:
    some = np.flatnonzero(held & ~np.isnan(measured)).tolist()
    if not some:
        none = pd.Series(nothing("str", len(measured)))
        return none, none
    waits, both = np.full((2, len(measured)), None, dtype=object)
    for row in some:
        read = float(measured[row])
        pair = f"{show(read)} as read, {show(read - net[row])} without it"
        waits[row] = f"waits for: {titles[row]}; {pair}{where[row]}"
        both[row] = f"with and without {titles[row]}: {pair}, which is the number told{where[row]}"
    return pd.Series(waits, dtype="str"), pd.Series(both, dtype="str")
