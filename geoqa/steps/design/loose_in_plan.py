"""What sessions of which no check shot tells where they lie share in plan against the design."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from geoqa.contract.work import OFFSET, POSITION
from geoqa.kernels.causes.block_shifts import shared_shifts
from geoqa.model.check import Check
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.deviations import along_lines, at_points
from geoqa.steps.judging.second_readings import SECOND
from geoqa.steps.judging.text_columns import rows_of

NOISE = 2.0
"""Standard uncertainties up to which what a session shares is no shift."""
SPREAD = 0.5
"""Feet: prior 1 sigma of what a session may be off by in plan."""


@dataclass(frozen=True, kw_only=True, eq=False)
class InPlan:
    """What the shots of one session share in plan.

    Attributes
    ----------
    shift : (2,) float64
        Easting and northing of what is beyond noise, 0 along a direction in which nothing is.
    u, open_by : float
        1 sigma of it along the direction that is known best, and how far the session may be off there by noise.
    share : float
        Of the shots, how many it explains better than none.
    lines, shots : int
    """

    shift: np.ndarray
    u: float
    open_by: float
    share: float
    lines: int
    shots: int


def in_plan(rows: pd.DataFrame, stated: float, feet: float) -> InPlan:
    """Estimate what the shots of a session share in plan, so that a line that is built off moves it little.

    Along parallel lines only what lies across them is known; nothing is said of the rest.

    Parameters
    ----------
    rows : DataFrame
        Of `places_off`, one session alone.
    stated : float
        1 sigma that its places are stated to share.
    feet : float
        A foot in job units.
    """
    line = pd.factorize(rows["group"])[0]
    lines, shots = int(line.max(initial=-1)) + 1, int(rows["row"].nunique())
    none = InPlan(shift=np.zeros(2), u=np.nan, open_by=0.0, share=0.0, lines=lines, shots=shots)
    if shots < 2:
        return none
    across = rows[["along_e", "along_n"]].to_numpy(float)
    value = rows["value"].to_numpy(float)
    u = np.maximum(rows["u"].to_numpy(float), 1e-9)
    _, turned = np.linalg.eigh((across / u[:, None]).T @ (across / u[:, None]))
    direction = np.column_stack([across @ turned, np.zeros(len(rows))])
    shot = pd.factorize(rows["row"])[0]
    fit = shared_shifts(direction, value, u, shot, np.zeros(len(rows), int), count=1, spread=SPREAD * feet).of(0)
    left = value - direction @ fit.shift
    middles = pd.Series(left).groupby(line).median().to_numpy(float)
    among = float(np.sqrt((middles**2).sum() / max(lines - 1, 1) / lines)) if lines > 1 else 0.0
    noise = NOISE * np.hypot(stated, np.hypot(fit.u[:2], among))
    own = np.where(np.abs(fit.shift[:2]) > noise, fit.shift[:2], 0.0)
    best = int(np.argmin(fit.u[:2]))
    return InPlan(
        shift=turned @ own, u=float(np.hypot(fit.u[best], among)), share=float(fit.share), lines=lines, shots=shots,
        open_by=float(min(abs(fit.shift[best]), noise[best])),
    )  # fmt: skip


def in_plan_of(layers: Layers) -> list[tuple[Check, pd.DataFrame]]:
    """Offsets, and positions of points, that can be judged, with the azimuth of their line or from their point."""
    made = []
    if "line_matches" in layers and "design_lines" in layers:
        made.append((OFFSET, _known(along_lines(layers, OFFSET.name), layers["line_matches"])))
    if "point_matches" in layers and "design_points" in layers:
        made.append((POSITION, _known(at_points(layers, POSITION.name), layers["point_matches"])))
    return [(check, rows) for check, rows in made if len(rows)]


def places_off(found: list[tuple[Check, pd.DataFrame]]) -> pd.DataFrame:
    """How far shots lie off their design in plan, one row a direction in which that is known.

    Returns
    -------
    DataFrame
        `row` (place in shots), `group` (line, or kind of points), `value`, `u`, and the unit vector `along_e`,
        `along_n` that it is counted along.
    """
    parts = [pd.DataFrame({name: np.zeros(0) for name in _COLUMNS})]
    for check, rows in found:
        angle, far = np.radians(rows["azimuth"].to_numpy(float)), rows["deviation"].to_numpy(float)
        ones = np.ones(len(rows))
        if check is OFFSET:
            parts.append(_along(rows, rows["subject"], far, np.cos(angle), -np.sin(angle)))
        else:
            group = "\x1f" + rows["kind"].astype("str")
            parts.append(_along(rows, group, far * np.sin(angle), ones, 0 * ones))
            parts.append(_along(rows, group, far * np.cos(angle), 0 * ones, ones))
    return pd.concat(parts[1:] or parts, ignore_index=True)


_COLUMNS = ("row", "group", "value", "u", "along_e", "along_n")


def _known(rows: pd.DataFrame, matches: pd.DataFrame) -> pd.DataFrame:
    """Rows that can be judged, with their azimuth."""
    chosen = matches[matches["chosen"]].reset_index(drop=True)
    azimuth = np.append(chosen["azimuth"].to_numpy(float), np.nan)[rows_of(rows["shot"], chosen["shot_key"])]
    there = (rows["why"] == 0) & rows["deviation"].notna() & rows["u_random"].notna() & np.isfinite(azimuth)
    kept = rows.assign(azimuth=azimuth)[there].reset_index(drop=True)
    return kept[[name for name in kept if name not in ("cause", "remedy", *SECOND)]]


def _along(rows: pd.DataFrame, group: pd.Series, *numbers: ArrayLike) -> pd.DataFrame:
    value, east, north = (np.asarray(each, dtype=np.float64) for each in numbers)
    made = (rows["row"].to_numpy(), group.to_numpy(), value, rows["u_random"].to_numpy(float), east, north)
    return pd.DataFrame(dict(zip(_COLUMNS, made, strict=True)))
