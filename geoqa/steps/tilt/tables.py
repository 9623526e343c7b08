"""Tables of a tilt test: the differences, what was learned from them, and the errors to expect."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from geoqa.kernels.precision.estimate import UNKNOWN, Estimate
from geoqa.kernels.tilt.compensation import TiltModel, turned
from geoqa.kernels.tilt.ellipse import next_ellipse
from geoqa.kernels.tilt.limits import tilted_shot
from geoqa.kernels.tilt.pace import median_estimate
from geoqa.model.quantity import LengthUnit
from geoqa.model.tables.columns import conform, empty
from geoqa.model.words import length
from geoqa.steps.tilt.proofs import believed

_BOTH_SIDES_95 = 1.959963984540054
PARTS = ("radial", "tangential", "vertical")
LONGEST_PAUSE = 300.0
"""Seconds after which a crew did something else between two shots of a point."""


def pairs_table(shots: pd.DataFrame, point: pd.Series, plumb: np.ndarray, model: TiltModel) -> pd.DataFrame:
    """One row for every tilted shot that has a plumb one of its point."""
    places = shots[["easting", "northing", "elevation"]]
    upright = plumb & places.notna().all(axis=1).to_numpy()
    # differences from a place near by keep all digits of large coordinates
    near = places - places[upright].iloc[0]
    means = near[upright].groupby(point[upright]).mean()
    counts = point[upright].value_counts()
    rows = ~plumb & places.notna().all(axis=1).to_numpy() & point.isin(means.index).to_numpy()
    apart = near[rows].to_numpy() - means.loc[point[rows]].to_numpy()
    radial, tangential = turned(apart[:, 0], apart[:, 1], shots.loc[rows, "tilt_azimuth"].to_numpy(float))
    made = pd.DataFrame(
        {
            "shot_key": shots.loc[rows, "shot_key"].to_numpy(),
            "point": point[rows].to_numpy(),
            "tilt": shots.loc[rows, "tilt"].to_numpy(float),
            "azimuth": shots.loc[rows, "tilt_azimuth"].to_numpy(float),
            "rod": shots.loc[rows, "rod_height"].to_numpy(float),
            "plumb_shots": counts.loc[point[rows]].to_numpy(),
            "difference_e": apart[:, 0],
            "difference_n": apart[:, 1],
            "difference_v": apart[:, 2],
            "radial": radial,
            "tangential": tangential,
        }
    )
    return conform("tilt_pairs", made)


def model_table(
    model: TiltModel, shots: pd.DataFrame, point: pd.Series, plumb: np.ndarray, unit: LengthUnit
) -> pd.DataFrame:
    """Every bias and spread with its band and the shots behind it; unknown ones say why."""
    seconds = _seconds(shots, point)
    missing = "cannot be told without the azimuth of the lean" if model.tangential is None else "cannot be told"
    rows: list[tuple[str, str, Estimate, int, bool, str]] = []
    for name, kind, words in _WORDS:
        found = getattr(model, name)
        count = model.plumb_shots if name.startswith("plumb") else model.tilted_shots
        said = _filled(words, found, model, unit) if found is not None and np.isfinite(found.value) else missing
        if name.startswith("plumb") and model.plumb_stated is not None:
            at = int(name == "plumb_v")
            was, count = model.plumb_stated[at], 0
            if believed(model)[at]:
                found, said = replace(found, value=was, low=np.nan, high=np.nan), _STATED
            else:
                said = _NOT_BELIEVED.format(was=length(was, unit.name))
        shown = unit.name if kind == "job" else kind
        rows.append((name.replace("_", "-"), shown, found or UNKNOWN, count, words in _BIASES, said))
    for name, left in zip(_LEFT, model.left, strict=True):
        said = _LEFT_WORDS if left else "no more than scatter" if model.tangential is not None else missing
        found = Estimate(value=left, se=np.nan, low=np.nan, high=np.nan, dof=0.0) if left else UNKNOWN
        rows.append((name, unit.name, found, model.tilted_shots, False, said))
    for name, mine in (("seconds-plumb", plumb), ("seconds-tilted", ~plumb)):
        own = seconds[mine]
        said = "median time from the shot before, on the same point"
        rows.append((name, "s", median_estimate(own), int(np.isfinite(own).sum()), False, said))
    made = pd.DataFrame(
        [
            (name, kind, each.value, each.low, each.high, count, bias and each.significant, said)
            for name, kind, each, count, bias, said in rows
        ],
        columns=["quantity", "unit", "value", "low", "high", "shots", "significant", "words"],
    )
    return conform("tilt_model", made)


_BIASES = (
    "turns the tip clockwise about the foot of the antenna; at 15° of lean {across} sideways for each degree",
    "puts the tip too far towards the antenna and too low; {along} for each degree",
    "true minus entered rod, from what changes between plumb and tilted",
)
_WORDS = (
    ("heading_bias", "deg", _BIASES[0]),
    ("angle_bias", "deg", _BIASES[1]),
    ("rod_error", "job", _BIASES[2]),
    ("heading_spread", "deg", "1 sigma of the lean's azimuth, from shot to shot"),
    ("angle_spread", "deg", "1 sigma of the tilt angle, as the plan shows it"),
    ("angle_spread_v", "deg", "the same as the elevations show it; much larger means another reason"),
    ("plumb_h", "job", "1 sigma of a plumb shot within a point and session, per axis"),
    ("plumb_v", "job", "1 sigma of a plumb shot within a point and session, in elevation"),
)


_STATED = "as stated: no point has two plumb shots in one session that would tell it"
_NOT_BELIEVED = (
    "at most, as the leaning shots show it; the stated {was} is not believed, and no point has two plumb shots"
)


_LEFT = ("left-sideways", "left-along", "left-up")
_LEFT_WORDS = "largest mean of a class of tilt that heading, angle and rod do not explain; chance below 1 %"


def _filled(words: str, estimate: Estimate, model: TiltModel, unit: LengthUnit) -> str:
    degree = np.radians(1.0) * model.rod_high
    across = length(degree * np.sin(np.radians(15.0)), unit.name)
    return words.format(across=across, along=length(degree, unit.name))


def _seconds(shots: pd.DataFrame, point: pd.Series) -> np.ndarray:
    """Seconds from the shot before, on the same point; NaN after a pause."""
    order = shots["time"].sort_values(kind="stable").index
    gap = shots["time"].loc[order].diff().dt.total_seconds()
    same = (point.loc[order] == point.loc[order].shift()).to_numpy()
    gap = gap.where(same & (gap > 0) & (gap <= LONGEST_PAUSE))
    return gap.reindex(shots.index).to_numpy(float)


def curve_table(model: TiltModel) -> pd.DataFrame:
    """Errors to expect by tilt, in steps of one degree up to the largest tilt tested; none without azimuths."""
    if model.tangential is None:
        return empty("tilt_curve")
    tilt = np.append(np.arange(0.0, model.tilt_high, 1.0), model.tilt_high)
    found = tilted_shot(model, tilt)
    made: dict[str, Any] = {"tilt": tilt} | {name: getattr(found, name) for name in vars(found)}
    for part in PARTS:
        middle, reach = made[f"shift_{part}"], _BOTH_SIDES_95 * made[f"u_{part}"]
        made[f"{part}_from"], made[f"{part}_to"] = middle - reach, middle + reach
        made[f"{part}_reach"] = _BOTH_SIDES_95 * made[f"u_{part}_high"]
    return conform("tilt_curve", pd.DataFrame(made))


def classes_table(model: TiltModel, pairs: pd.DataFrame) -> pd.DataFrame:
    """Sizes of the differences by class of tilt, with the ellipse of each; classes without shots are left out."""
    sized = model.classes
    rows = []
    for number in np.flatnonzero(sized.count > 0):
        low, high = float(sized.low[number]), float(sized.high[number])
        mine = pairs[(pairs["tilt"] >= low) & (pairs["tilt"] < high)]
        round_them = next_ellipse(mine["difference_e"], mine["difference_n"])
        row = {"low": low, "high": high, "largest": float(sized.largest[number]), "shots": int(sized.count[number])}
        row |= {
            name: float(getattr(sized, name)[number])
            for name in ("u_h", "u_h_low", "u_h_high", "u_v", "u_v_low", "u_v_high", "largest_h", "largest_v")
        }
        row |= {name: getattr(round_them, name) for name in ("centre_e", "centre_n", "major", "minor", "direction")}
        rows.append(row)
    return conform("tilt_classes", pd.DataFrame(rows)) if rows else empty("tilt_classes")
