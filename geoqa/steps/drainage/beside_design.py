"""Which design line each observed shot lies beside, and how much of its error lasts from shot to shot."""

from typing import NamedTuple

import numpy as np

from geoqa.kernels.drainage.errors_along import lasting_at_least
from geoqa.model.tables.layer import Layers
from geoqa.steps.design.alignments import alignments
from geoqa.steps.judging.text_columns import rows_of
from geoqa.steps.linework.observed import observed


class BesideDesign(NamedTuple):
    """Of every shot of `observed`, arrays of shape (n,).

    `line` is the number of its design line, -1 for none, and -2 where it may be of either of two; `station` along it;
    `level`, the elevation of the design there; and `past`, how far it lies past an end.
    """

    line: np.ndarray
    station: np.ndarray
    level: np.ndarray
    past: np.ndarray


def beside_design(layers: Layers) -> BesideDesign:
    """Design lines of the shots of `observed`."""
    shots = observed(layers)
    line, numbers = np.full(len(shots), -1), np.full((3, len(shots)), np.nan)
    if "line_matches" in layers:
        table = layers["line_matches"]
        row = rows_of(table["shot_key"], shots["shot"])
        line[row[(row >= 0) & table["ambiguous"].to_numpy(bool)]] = -2
        mine = np.flatnonzero((row >= 0) & table["chosen"].to_numpy(bool))
        line[row[mine]] = rows_of(table["design"].iloc[mine], alignments(layers).names)
        for values, name in zip(numbers, ("station", "design_elevation", "along"), strict=True):
            values[row[mine]] = table[name].to_numpy(float)[mine]
    return BesideDesign(line, *numbers)


class AlongDesign(NamedTuple):
    """Usable shots along design lines, arrays of shape (n,): what each is off in elevation, and its own 1 sigma."""

    line: np.ndarray
    station: np.ndarray
    deviation: np.ndarray
    u: np.ndarray
    group: np.ndarray
    minutes: np.ndarray


def along_design(layers: Layers) -> AlongDesign:
    """Shots that tell what errors have in common for minutes."""
    shots, design = observed(layers), beside_design(layers)
    usable = (shots["why_plan"] == 0) & (shots["why_elevation"] == 0) & (shots["role"] == "feature")
    rows = np.flatnonzero(usable.to_numpy(bool) & (design.line >= 0) & np.isfinite(design.level))
    elevation, u, minutes = (shots[name].to_numpy(float)[rows] for name in ("elevation", "u_v_random", "minutes"))
    return AlongDesign(
        design.line[rows], design.station[rows], elevation - design.level[rows], u, shots["group_v"].to_numpy()[rows],
        minutes,
    )  # fmt: skip


def lasting_share(layers: Layers) -> float:
    """Share of the own variance of elevations that lasts from shot to shot, as shots along design lines prove."""
    return lasting_at_least(*along_design(layers))
