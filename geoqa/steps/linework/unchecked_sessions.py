"""Sessions without a check shot that lie off the design as a whole: the work or the session, and nothing tells which.

Between shots of such a session and those of another one the whole of it may be the survey's.
"""

import numpy as np
import pandas as pd

from geoqa.kernels.linework.shift import moved_in_plan
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.applied_shifts import AXES, sessions
from geoqa.steps.judging.text_columns import rows_of

LINES = 3
"""Design lines that have to share what is taken for a shift of a session: one line alone may be built off."""
SHOTS = 6
"""Fewest shots on them."""
NOISE = 2.0
"""Standard uncertainties up to which the mean of a session is no shift."""


def loose_by(layers: Layers, made: pd.DataFrame) -> np.ndarray:
    """How far the session of each shot may be off as a whole, without its check shots to tell it: (n, 3), 0 for none.

    Parameters
    ----------
    layers : Layers
        With `line_matches`, if shots were matched.
    made : DataFrame
        Of `observed`.
    """
    loose = np.zeros((len(made), 3))
    if "line_matches" not in layers or not len(layers["line_matches"]):
        return loose
    of, names = pd.factorize(sessions(layers["shots"]).take(made["row"].to_numpy()), sort=True, use_na_sentinel=False)
    if len(names) < 2:
        return loose
    matches = layers["line_matches"]
    matches = matches[matches["chosen"] & (matches["along"].abs() < 1e-6)]
    row = rows_of(matches["shot_key"], made["shot"])
    matches, row = matches[row >= 0], row[row >= 0]
    checked = _checked(layers)
    asked = [
        (number, ("elevation", name) not in checked, not {("easting", name), ("northing", name)} & checked)
        for number, name in enumerate(names)
    ]
    for number, level, plan in asked:
        if not (level or plan):
            continue
        mine = of == number
        at = mine[row]
        if level:
            loose[mine, 2] = _in_elevation(made, matches[at], row[at])
        if plan:
            loose[mine, :2] = _in_plan(made, matches[at], row[at])
    return loose


def _checked(layers: Layers) -> set[tuple[str, str]]:
    """Axis and name of sessions of which check shots tell how far they are off."""
    if "session_shifts" in layers:
        table = layers["session_shifts"]
        table = table[table["u"].notna()]
        return set(zip(table["axis"], table["session"].map(str), strict=True))
    shots = layers["shots"]
    own = sessions(shots)[(shots["role"] == "check").to_numpy(bool)] if "control" in layers else ()
    return {(axis, str(name)) for name in set(own) for axis in AXES}


def _in_elevation(made: pd.DataFrame, matches: pd.DataFrame, row: np.ndarray) -> float:
    rise = made["elevation"].to_numpy(float)[row] - matches["design_elevation"].to_numpy(float)
    known = np.isfinite(rise) & ((made["why_elevation"] == 0) & ~made["blunder_elevation"]).to_numpy(bool)[row]
    lines = pd.Series(rise[known]).groupby(matches["design"].to_numpy(dtype=object)[known]).median().to_numpy(float)
    if len(lines) < LINES or known.sum() < SHOTS:
        return 0.0
    common = float(made["u_v_common"].to_numpy(float)[row[known]].mean())
    shift, noise = abs(float(lines.mean())), np.hypot(common, lines.std(ddof=1) / np.sqrt(len(lines)))
    return shift if shift > NOISE * noise else 0.0


def _in_plan(made: pd.DataFrame, matches: pd.DataFrame, row: np.ndarray) -> tuple[float, float]:
    offset, azimuth = (matches[name].to_numpy(float) for name in ("offset", "azimuth"))
    known = np.isfinite(offset + azimuth) & ((made["why_plan"] == 0) & ~made["blunder_plan"]).to_numpy(bool)[row]
    line = matches["design"].to_numpy(dtype=object)[known]
    if len(set(line)) < LINES or known.sum() < SHOTS:
        return 0.0, 0.0
    u = np.maximum(made["u_h_random"].to_numpy(float)[row[known]], 1e-9)
    found = moved_in_plan(offset[known], azimuth[known], u)
    if not np.isfinite(found.shift).all():
        return 0.0, 0.0
    bearing = np.radians(azimuth[known])
    left = offset[known] - found.shift[0] * np.cos(bearing) + found.shift[1] * np.sin(bearing)
    by_line = pd.DataFrame({"left": left, "weight": u**-2.0}).groupby(line)
    size = float((by_line["left"].mean() ** 2 * by_line["weight"].sum()).sum()) / max(by_line.ngroups - 2, 1)
    common = float(made["u_h_common"].to_numpy(float)[row[known]].mean())
    noise = np.hypot(common, np.sqrt(max(size, 1.0) * np.diag(found.covariance)))
    # along either axis alone it may be noise, and the shift is one
    sure = (np.abs(found.shift) > NOISE * noise).any()
    return tuple(np.abs(found.shift).tolist()) if sure else (0.0, 0.0)
