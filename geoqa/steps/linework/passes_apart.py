"""Whether the passes of a line agree with the first one in elevation."""

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import shapely

from geoqa.kernels.linework.passes import DIFFERS, FEWEST
from geoqa.model.quantity import LengthUnit
from geoqa.model.tables.layer import Layers
from geoqa.steps.linework.observed import observed
from geoqa.steps.linework.observed_strings import strings_among
from geoqa.steps.shots.strings import BESIDE, String, places_of

NEAR = 10.0
"""Times the distance within which a shot lies on a line, that those of a pass are held against it: curves bulge."""


def passes_apart(layers: Layers, *, gap: float) -> Iterator[dict[str, Any]]:
    """Facts of passes that lie higher or lower than the first pass of their line by more than both allow.

    A line of the same code that was shot on an earlier one under another line ID is held against that one.

    Parameters
    ----------
    layers : Layers
    gap : float
        Longest leg of the first pass on which a shot of another one is held against it.

    Notes
    -----
    Errors of a pass last for minutes: its mean is taken to be no better than one shot of it. What one session shares
    cancels.
    """
    shots, unit = observed(layers), layers.frame.unit
    blunder = shots["blunder_plan"] | shots["blunder_elevation"]
    good = ((shots["why_plan"] == 0) & (shots["why_elevation"] == 0) & ~blunder).to_numpy(bool)
    mine = shots.iloc[np.flatnonzero(good)].reset_index(drop=True)
    first: dict[tuple[str, str], String] = {}
    for string in strings_among(layers, mine):
        if not string.turn:
            first[string.code, string.line_id] = string
        elif (string.code, string.line_id) in first:
            yield from _apart(mine, string, first[string.code, string.line_id], unit, gap)
    yield from _of_other_ids(mine, list(first.values()), unit, gap)


def _of_other_ids(shots: pd.DataFrame, strings: list[String], unit: LengthUnit, gap: float) -> Iterator[dict[str, Any]]:
    """Lines that lie on an earlier line of their code, each held against the first of those that tell anything."""
    places, beside = places_of(shots), BESIDE.to(unit)
    time = pd.to_datetime(shots["time"], utc=True) if "time" in shots else pd.Series(pd.NaT, index=shots.index)
    by_code: dict[str, list[String]] = {}
    for string in strings:
        by_code.setdefault(string.code, []).append(string)
    for mine in by_code.values():
        begun = pd.DataFrame({"time": [time.iloc[each.rows].min() for each in mine],
                              "row": [each.rows.min() for each in mine]})  # fmt: skip
        mine = [mine[nth] for nth in begun.sort_values(["time", "row"], kind="stable").index]
        low, high = (np.array([edge(places[each.rows], axis=0) for each in mine]) for edge in (np.min, np.max))
        for nth in range(1, len(mine)):
            meets = (low[:nth] <= high[nth] + beside) & (high[:nth] >= low[nth] - beside)
            for other in np.flatnonzero(meets.all(axis=1)).tolist():
                if told := list(_apart(shots, mine[nth], mine[other], unit, gap, near=1.0)):
                    yield told[0] | {"variant": mine[other].name}
                    break


def _apart(
    shots: pd.DataFrame, string: String, first: String, unit: LengthUnit, gap: float, *, near: float = NEAR
) -> Iterator[dict[str, Any]]:
    level, places = shots["elevation"].to_numpy(float), places_of(shots)
    line, theirs = places[first.rows], places[string.rows]
    leg = np.hypot(*np.diff(line, axis=0).T)
    station = np.append(0.0, np.cumsum(leg))
    drawn, points = shapely.linestrings(line - line[0]), shapely.points(theirs - line[0])
    foot = shapely.line_locate_point(drawn, points)
    under = np.clip(np.searchsorted(station, foot, side="right") - 1, 0, len(leg) - 1)
    # a curve bulges from the legs of the first pass; past its ends, and across a gap of it, nothing was shot
    beside = (shapely.distance(drawn, points) <= near * BESIDE.to(unit)) & (foot > 0) & (foot < station[-1])
    at = np.flatnonzero(beside & (leg[under] <= gap) & (leg[under] > 0))
    if len(at) < FEWEST:
        return
    share = (foot[at] - station[under[at]]) / leg[under[at]]
    own, before, after = string.rows[at], first.rows[under[at]], first.rows[under[at] + 1]
    apart = float(np.mean(level[own] - (1 - share) * level[before] - share * level[after]))
    group = shots["group_v"].to_numpy()
    one, other = group[own], group[before]
    parts = {name: shots[f"u_v_{name}"].to_numpy(float) for name in ("random", "common")}
    u = np.hypot(*(np.sqrt(np.mean(parts["random"][rows] ** 2)) for rows in (own, before)))
    if len(np.unique(np.append(one, other))) > 1:
        u = np.hypot(u, np.hypot(*(np.sqrt(np.mean(parts["common"][rows] ** 2)) for rows in (own, before))))
    if abs(apart) > DIFFERS * u:
        yield {
            "note": "passes-differ", "subject": string.name, "number": apart, "u": float(u), "unit": "job",
            "count": len(at),
        }  # fmt: skip
