"""Inlets beside flow lines: which take water off the line, and which stand too high to."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from geoqa.kernels.drainage.errors_along import error_covariance
from geoqa.kernels.drainage.standing_water import Rims
from geoqa.model.tables.layer import Layers


class Inlets(NamedTuple):
    """Inlets of a job, each once; as shot where they were, else as designed.

    `place` (m, 2); `rim` (m,) elevation, NaN where nobody has it; `shot` (m,) row of `observed` that gave it, -1 for
    the design.
    """

    place: np.ndarray
    rim: np.ndarray
    shot: np.ndarray

    def part(self, rows: np.ndarray) -> "Inlets":
        """Some of them."""
        return Inlets(*(each[rows] for each in self))


NO_INLETS = Inlets(np.zeros((0, 2)), np.zeros(0), np.zeros(0, dtype=np.int64))


class Raised(NamedTuple):
    """What stands in the way of water at the inlets of one line.

    `rims` are the raised ones, and `shot` their rows of `observed`; `unknown` the stations of those without elevation;
    `open` the stations and heights (s, 2) of those as high as a curb, which have their opening below the rim.
    """

    rims: Rims
    shot: np.ndarray
    unknown: np.ndarray
    open: np.ndarray


NO_RIMS = Raised(
    Rims(np.zeros(0), np.zeros(0), np.zeros((0, 0))), np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros((0, 2))
)


def inlets_of(layers: Layers, shots: pd.DataFrame, *, kinds: tuple[str, ...], same: float) -> Inlets:
    """Inlets of some kinds, of the design and as shot; a shot within `same` of a designed one is that one.

    Parameters
    ----------
    layers : Layers
    shots : DataFrame
        As `observed` gives them.
    kinds : tuple of str
    same : float
        In the job's unit.
    """
    points = layers["design_points"]
    points = points[points["kind"].isin(kinds)]
    drawn, level = points[["easting", "northing"]].to_numpy(float), points["elevation"].to_numpy(float)
    rows = np.flatnonzero((shots["kind"].isin(kinds) & (shots["why_plan"] == 0)).to_numpy(bool))
    place = shots[["easting", "northing"]].to_numpy(float)[rows]
    known = (shots["why_elevation"].to_numpy()[rows] == 0) & np.isfinite(shots["elevation"].to_numpy(float)[rows])
    rim = np.where(known, shots["elevation"].to_numpy(float)[rows], np.nan)
    apart = np.hypot(*(place[:, None] - drawn[None]).transpose(2, 0, 1))
    beside = apart <= same
    # as shot, where the shot has an elevation; else as designed
    better = (beside & np.isfinite(level)).any(axis=1) & ~known
    kept = ~beside[~better].any(axis=0)
    return Inlets(
        np.vstack([drawn[kept], place[~better]]), np.concatenate([level[kept], rim[~better]]),
        np.concatenate([np.full(int(kept.sum()), -1), rows[~better]]),
    )  # fmt: skip


def raised_beside(
    shots: pd.DataFrame, rows: np.ndarray, weights: np.ndarray, at: np.ndarray, inlets: Inlets, station: np.ndarray,
    *, opening: float,
) -> tuple[Raised, np.ndarray]:  # fmt: skip
    """Which inlets of a line are known to stand above it.

    Parameters
    ----------
    shots : DataFrame
        As `observed` gives them.
    rows : (k,) array
        Of the shots of the line.
    weights : (n, k) array
        Share of each of them in the elevation of each place.
    at : (n,) array
        Stations of the places.
    inlets : Inlets
        Those beside the line, m of them.
    station : (m,) array
        Of the inlets.
    opening : float
        A rim this far above the flow line and more is that of an opening in the curb.

    Returns
    -------
    raised : Raised
    free : (m,) bool
        Those that count as outlets.
    """
    free = np.ones(len(station), dtype=bool)
    if not len(at) or not len(station):
        return NO_RIMS._replace(rims=NO_RIMS.rims._replace(spread=np.zeros((0, len(at))))), free
    z = shots["elevation"].to_numpy(float)
    spread, above, u = np.zeros((len(station), len(at))), np.full(len(station), np.nan), np.zeros(len(station))
    for nth, one in enumerate(station.tolist()):
        if not at[0] <= one <= at[-1] or np.isnan(inlets.rim[nth]):
            continue
        beside = np.array([np.interp(one, at, each) for each in np.eye(len(at))])
        both = _covariance(shots, rows, weights, int(inlets.shot[nth]))
        difference = np.append(-beside, 1.0)
        above[nth] = inlets.rim[nth] - beside @ (weights @ z[rows])
        u[nth] = np.sqrt(max(float(difference @ both @ difference), 0.0))
        spread[nth] = np.sqrt(np.maximum(np.diag(both)[:-1] + both[-1, -1] - 2 * both[-1, :-1], 0.0))
    known = np.nan_to_num(above) > u
    high = known & (above < opening)
    tall = known & ~high
    raised = Raised(
        Rims(station[high], inlets.rim[high], spread[high]), inlets.shot[high], np.sort(station[np.isnan(inlets.rim)]),
        np.column_stack([station[tall], above[tall]]),
    )  # fmt: skip
    return raised, ~high


def _covariance(shots: pd.DataFrame, rows: np.ndarray, weights: np.ndarray, rim: int) -> np.ndarray:
    """Of the places of a line and, last, of a rim; a rim of the design has no error, (n + 1, n + 1)."""
    every = np.append(rows, rim) if rim >= 0 else rows
    own, shared = (shots[f"u_v_{part}"].to_numpy(float)[every] for part in ("random", "common"))
    errors = error_covariance(own, shared, shots["group_v"].to_numpy()[every])
    share = np.zeros((len(weights) + 1, len(every)))
    share[:-1, : len(rows)] = weights
    if rim >= 0:
        share[-1, -1] = 1.0
    return np.asarray(share @ errors @ share.T)
