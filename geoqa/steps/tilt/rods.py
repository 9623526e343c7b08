"""Rods of one tilt test, where the log or the job tells them apart: whether they differ, and which is the worse."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, log

import numpy as np
import pandas as pd

from geoqa.errors import GeometryInputError
from geoqa.kernels.precision.estimate import Estimate
from geoqa.kernels.tilt.compensation import TiltModel
from geoqa.kernels.tilt.limits import tilted_shot
from geoqa.model.quantity import LengthUnit
from geoqa.model.words import length, listed

_ROD = 0.02  # lengths within this share are one rod
_UNLIKE = 2.05  # standard errors of one of five comparisons: at most a fifth of sound pairs is parted
_SCATTERS = (
    ("tangential", "scatter sideways"),
    ("radial", "scatter along the lean"),
    ("vertical", "scatter in elevation"),
)
_BAND = 2 * 1.959963984540054


@dataclass(frozen=True, kw_only=True)
class Rods:
    """Rods of a test.

    Attributes
    ----------
    models : tuple of TiltModel
        One for each rod where they differ; empty where they may be one.
    words : str
        What is said of them; empty for one rod.
    """

    models: tuple[TiltModel, ...] = ()
    words: str = ""


def rods_of(shots: pd.DataFrame, facts: Mapping[str, Mapping[str, str]], unit: LengthUnit) -> pd.Series:
    """Name of the rod of each shot, by the receiver its file states and the length entered; one name where it is one.

    Examples
    --------
    >>> from geoqa.model.quantity import FOOT
    >>> shots = pd.DataFrame({"source": ["a", "a", "b"], "rod_height": [6.562, 6.562, 6.56]})
    >>> rods_of(shots, {"a": {"receiver": "R1"}, "b": {"receiver": "R2"}}, FOOT).tolist()
    ['receiver R1', 'receiver R1', 'receiver R2']
    >>> rods_of(shots, {}, FOOT).nunique()
    1
    """
    receiver = shots["source"].map(lambda name: facts.get(str(name), {}).get("receiver", ""))
    sizes = np.sort(shots["rod_height"].dropna().unique())
    kind = np.cumsum(np.r_[0, np.diff(sizes) > _ROD * sizes[:-1]]) if sizes.size else np.empty(0, int)
    lengths = {size: sizes[kind == group].min() for size, group in zip(sizes, kind, strict=True)}
    told = shots["rod_height"].map(lengths)
    parts = []
    if receiver.nunique() > 1:
        parts.append(receiver.map(lambda name: f"receiver {name}" if name else "no receiver stated"))
    if told.nunique() > 1:
        parts.append(told.map(lambda size: f"rod of {length(size, unit.name)}" if size == size else "rod not stated"))
    if not parts:
        return pd.Series("one rod", index=shots.index)
    return parts[0] if len(parts) == 1 else parts[0] + ", " + parts[1]


def rods_apart(
    shots: pd.DataFrame, rods: pd.Series, learn: Callable[[pd.DataFrame], TiltModel], *, plumb: np.ndarray
) -> Rods:
    """Learn each rod by itself, and tell whether they differ."""
    names = sorted(rods[~plumb & shots["rod_height"].notna().to_numpy()].unique())
    if len(names) < 2:
        return Rods()
    models: dict[str, TiltModel] = {}
    for name in names:
        try:
            models[name] = learn(pd.DataFrame(shots[(rods == name).to_numpy()]).reset_index(drop=True))
        except GeometryInputError:
            continue
    known = {name: model for name, model in models.items() if model.tangential is not None}
    if len(known) < len(names):
        few = [name for name in names if name not in known]
        return Rods(
            words=f"of {listed(few)} too little is known to tell it from the others: limits are of all together"
        )
    parted = _differences(list(known.values()))
    if not parted:
        return Rods(words=f"{listed(names)} show no difference: one limit for all")
    words = f"{listed(names)} differ in {listed(parted)}: each limit is that of the worse"
    return Rods(models=tuple(known.values()), words=words)


def worst_of(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Of tables of limits, row by row the one that allows least."""
    if len(tables) == 1 or not len(tables[0]):
        return tables[0]
    far = np.nan_to_num(np.array([each["cautious"] for each in tables]), nan=-1.0) + 1e-3 * np.nan_to_num(
        np.array([each["tilt"] for each in tables]), nan=-1.0
    )
    far -= 10.0 * ~np.array([each["plumb"] for each in tables], dtype=bool)
    rows = [tables[at].iloc[[row]] for row, at in enumerate(far.argmin(axis=0).tolist())]
    return pd.concat(rows, ignore_index=True)


def _differences(models: list[TiltModel]) -> list[str]:
    """What is not the same of all, each pair held against each other."""
    pairs = [(one, two) for at, one in enumerate(models) for two in models[at + 1 :]]
    found = [each for one, two in pairs for each in _of_pair(one, two)]
    return list(dict.fromkeys(found))


def _of_pair(one: TiltModel, two: TiltModel) -> list[str]:
    told = [
        what
        for what, mine, other in (
            ("heading", one.heading_bias, two.heading_bias),
            ("tilt angle", one.angle_bias, two.angle_bias),
        )
        if _unlike(mine, other)
    ]
    lean = np.array([min(one.tilt_high, two.tilt_high)])
    both = [tilted_shot(each, lean) for each in (one, two)]
    for part, what in _SCATTERS:
        sizes = [[float(getattr(each, f"u_{part}{end}")[0]) for end in ("", "_low", "_high")] for each in both]
        if np.isfinite(sizes).all() and min(map(min, sizes)) > 0:
            errors = [(log(high) - log(low)) / _BAND for _, low, high in sizes]
            if abs(log(sizes[0][0] / sizes[1][0])) > _UNLIKE * hypot(*errors):
                told.append(what)
    return told


def _unlike(one: Estimate | None, two: Estimate | None) -> bool:
    if one is None or two is None or not np.isfinite(one.se + two.se):
        return False
    return abs(one.value - two.value) > _UNLIKE * hypot(one.se, two.se)
