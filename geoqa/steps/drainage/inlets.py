"""Inlets beside flow lines: which take water off the line, and which stand too high to."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from geoqa.kernels.drainage.errors_along import ErrorsAlong
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
    `open` the stations and heights (s, 2) of those as high as a curb, which have their opening below the rim;
    `doubtful` the same (d, 2) of raised ones of which nobody says whether they open in the curb.
    """

    rims: Rims
    shot: np.ndarray
    unknown: np.ndarray
    open: np.ndarray
    doubtful: np.ndarray


NO_RIMS = Raised(
    Rims(np.zeros(0), np.zeros(0), np.zeros((0, 0))),
    np.zeros(0, dtype=np.int64),
    np.zeros(0),
    np.zeros((0, 2)),
    np.zeros((0, 2)),
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
    shots: pd.DataFrame, errors: ErrorsAlong, at: np.ndarray, elevation: np.ndarray, inlets: Inlets,
    station: np.ndarray, *, opening: float, doubt: float,
) -> tuple[Raised, np.ndarray]:  # fmt: skip
    """Which inlets of a line are known to stand above it.

    Parameters
    ----------
    shots : DataFrame
        As `observed` gives them.
    errors : ErrorsAlong
        Of the places of the line.
    at, elevation : (n,) array
        Stations and elevations of the places.
    inlets : Inlets
        Those beside the line, m of them.
    station : (m,) array
        Of the inlets.
    opening : float
        A rim this far above the flow line and more is that of an opening in the curb.
    doubt : float
        One this far above it and more may be.

    Returns
    -------
    raised : Raised
    free : (m,) bool
        Those that count as outlets.
    """
    free = np.ones(len(station), dtype=bool)
    if not len(at) or not len(station):
        return NO_RIMS._replace(rims=NO_RIMS.rims._replace(spread=np.zeros((0, len(at))))), free
    spread, above, u = np.zeros((len(station), len(at))), np.full(len(station), np.nan), np.zeros(len(station))
    variance, line = errors.plain().variance(), len(at)
    for nth, one in enumerate(station.tolist()):
        if not at[0] <= one <= at[-1] or np.isnan(inlets.rim[nth]):
            continue
        leg = min(int(np.searchsorted(at, one, side="right")) - 1, line - 2) if line > 1 else 0
        share = (one - at[leg]) / (at[leg + 1] - at[leg]) if line > 1 else 0.0
        beside = [leg, leg + 1] if line > 1 else [0]
        weight = np.array([1 - share, share])[: len(beside)]
        both = _with_rim(shots, errors, int(inlets.shot[nth]))
        above[nth] = inlets.rim[nth] - weight @ elevation[beside]
        u[nth] = np.sqrt(max(both.of_sum([*beside, line], [*-weight, 1.0]), 0.0))
        rim = both.between(np.full(line, line), np.arange(line)) if inlets.shot[nth] >= 0 else np.zeros(line)
        own = float(both.variance()[-1]) if inlets.shot[nth] >= 0 else 0.0
        spread[nth] = np.sqrt(np.maximum(variance + own - 2 * rim, 0.0))
    known = np.nan_to_num(above) > u
    high = known & (above < opening)
    tall = known & ~high
    raised = Raised(
        Rims(station[high], inlets.rim[high], spread[high]), inlets.shot[high], np.sort(station[np.isnan(inlets.rim)]),
        np.column_stack([station[tall], above[tall]]),
        np.column_stack([station[high & (above >= doubt)], above[high & (above >= doubt)]]),
    )  # fmt: skip
    return raised, ~high


def _with_rim(shots: pd.DataFrame, errors: ErrorsAlong, rim: int) -> ErrorsAlong:
    """Of the places of a line, without what lasts, and, last, of a rim; a rim of the design has no error."""
    own, shared = (float(shots[f"u_v_{part}"].iloc[rim]) if rim >= 0 else 0.0 for part in ("random", "common"))
    group = int(shots["group_v"].iloc[rim]) if rim >= 0 else -1
    return ErrorsAlong.of_shots(
        np.append(errors.own, own), np.append(errors.shared, shared), np.append(errors.group, group),
        start=np.append(errors.start, len(errors.own) + 1), weight=np.append(errors.weight, 1.0),
    )  # fmt: skip
