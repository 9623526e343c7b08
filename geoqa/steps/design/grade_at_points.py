"""Elevations of point features off in plan: against the design where they were built, as well as at their design point.

On a slope the design point and the as-built place beside it have two elevations. The grade between them comes from the
design lines round the point, or else from the design points of its kind.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.work import ELEVATION
from geoqa.kernels.design.along_elements import chords
from geoqa.kernels.design.rise import Rise, rise_between
from geoqa.model import words
from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments

BELOW = words.BURIED_KINDS - {"valve"}
"""Kinds whose elevation follows no surface; the box of a valve does."""
REACH = Length.parse("50 ft")
"""Design farther away says nothing of the grade at a point."""
EVERY = Length.parse("10 ft")
"""Distance at which a design line is asked for its elevation."""
MATTERS = Length.parse("0.005 ft")
"""A smaller rise changes no printed number."""
ONE_PLACE = Length.parse("5 ft")
"""Farther off, it is not the same place of the design."""
SURFACE = Length.parse("3 ft")
"""A point farther above or below the lines round it does not follow them."""
UNEVEN = 0.6
"""Share of a rise that its uncertainty may be; where it is more, the grade is not known."""
STEEPEST = 1 / 3
"""Steepest slope that is reckoned with where the design gives none; common practice, no source."""
MOVED = 2.447747
"""Plan distance in u per axis beyond which a point is off in plan: 95 % of scatter in a plane."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Grade:
    """What the design does between a design point and the as-built place; arrays of shape (n,).

    Attributes
    ----------
    rise, u : float64
        In elevation, and 1 sigma of it as the design gives it; NaN where the design does not give it.
    steepest : float64
        What a slope of `STEEPEST` could make of the plan distance, where that is not known and the shot is off in plan;
        NaN elsewhere.
    """

    rise: np.ndarray
    u: np.ndarray
    steepest: np.ndarray


def grade_at_points(layers: Layers, rows: pd.DataFrame, u_plan: np.ndarray) -> Grade:
    """Rise of the design from design points to the places of their shots.

    Parameters
    ----------
    layers : Layers
    rows : DataFrame, n rows
        With `kind`, `easting`, `northing`, `distance`, `azimuth` (from the design point) and `design_elevation`.
    u_plan : (n,) array
        1 sigma of each shot per axis.
    """
    unit = layers.frame.unit
    distance = rows["distance"].to_numpy(float)
    at = rows[["easting", "northing"]].to_numpy(float)
    azimuth = np.radians(rows["azimuth"].to_numpy(float))
    node = at - distance[:, None] * np.column_stack([np.sin(azimuth), np.cos(azimuth)])
    ask = (distance > 0) & (distance <= ONE_PLACE.to(unit)) & ~rows["kind"].isin(BELOW).to_numpy(bool)
    ask &= rows["design_elevation"].notna().to_numpy(bool)
    rise, u = np.full((2, len(rows)), np.nan)
    reach, mine = REACH.to(unit), np.flatnonzero(ask)
    if len(mine):
        found = rise_between(node[mine], at[mine], _known_lines(layers), reach=reach)
        level = rows["design_elevation"].to_numpy(float)[mine]
        follows = (np.abs(found.level - level) <= SURFACE.to(unit)) & _sure(found, unit)
        rise[mine], u[mine] = np.where(follows, found.rise, np.nan), np.where(follows, found.u, np.nan)
        for kind in sorted(set(rows["kind"].iloc[mine])):
            left = mine[(rows["kind"].iloc[mine] == kind).to_numpy(bool) & np.isnan(rise[mine])]
            found = rise_between(node[left], at[left], _known_points(layers, kind), reach=reach)
            sure = _sure(found, unit)
            rise[left], u[left] = np.where(sure, found.rise, np.nan), np.where(sure, found.u, np.nan)
    aside = np.where(distance > 0, np.abs(rise) / np.where(distance > 0, distance, 1.0), np.nan) * u_plan
    unknown = ask & np.isnan(rise) & (distance > MOVED * u_plan)
    return Grade(rise=rise, u=np.hypot(u, aside), steepest=np.where(unknown, STEEPEST * distance, np.nan))


def _sure(found: Rise, unit: LengthUnit) -> np.ndarray:
    """Rises that are known well enough to be taken: beside a curb or a break of the grade they are not."""
    least = MATTERS.to(unit)
    return np.asarray(found.u <= np.maximum(UNEVEN * np.abs(found.rise), 2 * least))


def _known_lines(layers: Layers) -> np.ndarray:
    """Places along design lines with their elevations, shape (m, 3)."""
    unit = layers.frame.unit

    def made() -> np.ndarray:
        if "design_elements" not in layers or not len(layers["design_elements"]):
            return np.zeros((0, 3))
        design = alignments(layers)
        drawn = chords(design.elements, max_sagitta=0.05, max_length=EVERY.to(unit))
        surface = ~np.isin(design.kinds[drawn.line].astype(str), [*words.BURIED_KINDS, words.LIMITS_OF_WORK])
        kept = surface & np.isfinite(drawn.elevation) & (drawn.elevation != 0)
        return np.column_stack([drawn.coordinates, drawn.elevation])[kept]

    known: np.ndarray = layers.derived("elevations of design lines", ("design_lines", "design_elements"), made)
    return known


def _known_points(layers: Layers, kind: str) -> np.ndarray:
    points = layers["design_points"]
    mine = points[(points["kind"] == kind) & points["elevation"].notna() & (points["elevation"] != 0)]
    return mine[["easting", "northing", "elevation"]].to_numpy(float)


def two_elevations(rows: pd.DataFrame, grade: Grade, unit: str, least: float) -> pd.DataFrame:
    """Rows of elevations of points with their second reading, where the grade matters.

    Where the grade is known, the number is that at the as-built place, and the one at the design point is the second:
    what is out must be out by both. Where it is not, the second is the best that a slope could make of it.

    Parameters
    ----------
    rows : DataFrame
        With `design`, `measured`, `deviation`, `distance`, `cause`.
    grade : Grade
        Of the same rows.
    unit : str
    least : float
        A rise below this does not matter.
    """
    known = np.abs(np.nan_to_num(grade.rise)) >= least
    rise = np.where(known, grade.rise, 0.0)
    node = rows["deviation"].to_numpy(float)
    level = np.sign(node) * np.maximum(np.abs(node) - grade.steepest, 0.0)
    rows["design"], rows["deviation"] = rows["design"] + rise, node - rise
    rows["second"] = np.where(known, node, level)
    rows["second_why"] = np.where(known, ELEVATION.why("place-or-node"), ELEVATION.why("no-grade"))
    rows["second_for"] = "out"
    told, doubted = np.full((2, len(rows)), None, dtype=object)
    for place in np.flatnonzero(np.isfinite(node) & (known | np.isfinite(grade.steepest))).tolist():
        off = words.length(float(rows["distance"].iloc[place]), unit)
        if known[place]:
            told[place] = (
                f"{off} off in plan, where the design lies {words.length(rise[place], unit, signed=True)} from its "
                f"design point: compared at the as-built place; at the design point it would be "
                f"{words.length(node[place], unit, signed=True)}"
            )
        else:
            doubted[place] = (
                f"{off} off in plan; what the design elevation is at the as-built place cannot be known, a slope of "
                f"1:3 makes {words.length(grade.steepest[place], unit)} of it"
            )
    rows["cause"] = rows["cause"].where(rows["cause"].notna(), pd.Series(told, dtype="str"))
    rows["second_cause"] = pd.Series(doubted, dtype="str")
    return rows
