"""A design line with a reach of it moved to the side and in elevation, as vertices that keep to its arcs."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import JobError

if TYPE_CHECKING:
    import pandas as pd

SAGITTA, TAPER = {"m": 0.0005}, {"m": 1.0}
SAGITTA_IN_FEET, TAPER_IN_FEET = 0.0015, 3.0
"""How far a chord may leave its arc, and over what length a moved reach goes back to the line beyond either end."""
NEAR = 1e-6


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A reach of a line and how it is moved, in the unit of the job.

    Attributes
    ----------
    start, end : float
        Stations along the line.
    right, up : float
        Left and down are negative.
    """

    start: float
    end: float
    right: float = 0.0
    up: float = 0.0


def changed_line(elements: "pd.DataFrame", name: str, reaches: Sequence[Moved], unit: str) -> np.ndarray:
    """Vertices of a line with reaches of it moved; beyond a reach it goes back to where it was over a short taper.

    Parameters
    ----------
    elements : DataFrame
        Layer `design_elements`, rows of this line.
    name : str
        Of the line, for messages.
    reaches : sequence of Moved
    unit : str
        Name of the job's unit.

    Returns
    -------
    ndarray, (n, 3)
        Easting, northing and elevation, NaN where the line has none.

    Raises
    ------
    JobError
        A reach does not lie on the line, or an elevation is moved that the design does not state.
    """
    rows = elements.sort_values("sequence", kind="stable").reset_index(drop=True)
    first = rows["start_station"].to_numpy(float)
    length = rows["length"].to_numpy(float)
    begin, finish = float(first[0]), float(first[-1] + length[-1])
    for each in reaches:
        if not (each.start < each.end and each.end > begin and each.start < finish):
            raise JobError(
                f"The field change of {name} is from {each.start:.2f} to {each.end:.2f}, and the line runs from "
                f"{begin:.2f} to {finish:.2f}: name a reach on it, its start before its end."
            )
        lacks = rows[["start_elevation", "end_elevation"]].isna().any(axis=1).to_numpy(bool)
        if each.up and (lacks & (first < each.end) & (first + length > each.start)).any():
            raise JobError(f"The field change of {name} moves an elevation that its design does not state.")
    taper = TAPER.get(unit, TAPER_IN_FEET)
    row, station = _stations(rows, first, length, reaches, taper, SAGITTA.get(unit, SAGITTA_IN_FEET))
    place, ahead, level = _on(rows, row, station - first[row])
    right, up = (_moves(station, reaches, axis, taper, (begin, finish)) for axis in ("right", "up"))
    square = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    at = np.column_stack([place + square * right[:, None], level + up])
    return at[np.append(True, np.hypot(*np.diff(at[:, :2], axis=0).T) > NEAR)]


def _stations(
    rows: "pd.DataFrame", first: np.ndarray, length: np.ndarray, reaches: Sequence[Moved], taper: float, sagitta: float
) -> tuple[np.ndarray, np.ndarray]:
    """Element and station of every vertex, those where a reach or its taper ends among them."""
    breaks = np.unique([[each.start - taper, each.start, each.end, each.end + taper] for each in reaches])
    row, station = [], []
    for nth, (at, long, radius) in enumerate(zip(first, length, rows["radius"].to_numpy(float), strict=True)):
        parts = 1 if np.isnan(radius) else max(1, int(np.ceil(long / np.sqrt(8.0 * radius * sagitta))))
        mine = np.linspace(at, at + long, parts + 1)
        own = np.unique(np.concatenate([mine, breaks[(breaks > at + NEAR) & (breaks < at + long - NEAR)]]))
        row.append(np.full(len(own), nth))
        station.append(own)
    return np.concatenate(row), np.concatenate(station)


def _on(rows: "pd.DataFrame", row: np.ndarray, along: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Place, direction and elevation on elements; at a joint the direction is the mean of both, drawn out to fit."""

    def pair(name: str) -> np.ndarray:
        return rows[[f"{name}_easting", f"{name}_northing"]].to_numpy(float)[row]

    start, end, centre = pair("start"), pair("end"), pair("centre")
    length = rows["length"].to_numpy(float)[row]
    share = np.divide(along, length, out=np.zeros_like(along), where=length > 0)
    place, way = start + share[:, None] * (end - start), end - start
    ahead = way / np.maximum(np.hypot(*way.T), NEAR)[:, None]
    arc = np.isfinite(centre[:, 0])
    sense, radius = rows["sense"].to_numpy(float)[row], rows["radius"].to_numpy(float)[row]
    turn = np.where(arc, -sense * along / np.where(arc, radius, 1.0), 0.0)
    away, cos, sin = start - centre, np.cos(turn), np.sin(turn)
    spoke = np.column_stack([cos * away[:, 0] - sin * away[:, 1], sin * away[:, 0] + cos * away[:, 1]])
    place = np.where(arc[:, None], centre + spoke, place)
    tangent = -sense[:, None] * np.column_stack([-spoke[:, 1], spoke[:, 0]]) / np.where(arc, radius, 1.0)[:, None]
    ahead = np.where(arc[:, None], tangent, ahead)
    low, high = (rows[name].to_numpy(float)[row] for name in ("start_elevation", "end_elevation"))
    return place, _at_joints(ahead, row), low + share * (high - low)


def _at_joints(ahead: np.ndarray, row: np.ndarray) -> np.ndarray:
    last = np.flatnonzero(np.diff(row))
    mean = ahead[last] + ahead[last + 1]
    size = np.maximum((mean**2).sum(axis=1), 1.0)  # a right angle at the most is drawn out
    ahead = ahead.copy()
    ahead[last] = ahead[last + 1] = 2.0 * mean / size[:, None]
    return ahead


def _moves(
    station: np.ndarray, reaches: Sequence[Moved], axis: str, taper: float, ends: tuple[float, float]
) -> np.ndarray:
    """How far each station is moved: whole within a reach, less and less over the taper beyond it."""
    moved = np.zeros(len(station))
    for each in reaches:
        start, end = max(each.start, ends[0]), min(each.end, ends[1])
        beyond = np.maximum(start - station, station - end)
        moved += getattr(each, axis) * np.clip(1.0 - beyond / taper, 0.0, 1.0)
    return moved
