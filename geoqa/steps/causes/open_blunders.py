"""Numbers under an open blunder: not judged, and shown both ways, as read and as they would be without it."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from geoqa.contract.causes import cause_named
from geoqa.model import words
from geoqa.model.quantity import Length, length_unit
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import CODE_ASKED
from geoqa.steps.causes.survey_doubt import in_doubt
from geoqa.steps.judging.text_columns import rows_of

FLAG = "open-blunder"
"""Flag of a shot that a named cause acts on; also the reason why its numbers are not judged."""


DOUBT = "unexplained-control"
"""Flag of a shot whose session is off at control by more than any known cause explains; it only warns."""

LEAN_DOUBT = "lean-in-doubt"
"""Flag of a shot whose deviation a lean without compensation would explain in part; it only warns."""


def under_blunder(layers: Layers, *, vertical: bool) -> np.ndarray:
    """Shots whose elevation, or whose plan position, a named cause acts on.

    What moves a shot in plan spoils its elevation too, for it is compared with the design at another place; what only
    lifts it leaves its plan position good. Several steps share it: it must not be changed.
    """
    made: np.ndarray = layers.derived(
        f"under a blunder, {vertical}", ("shots", "cause_shots"), lambda: _under_blunder(layers, vertical=vertical)
    )
    return made


def _under_blunder(layers: Layers, *, vertical: bool) -> np.ndarray:
    shots = layers["shots"]
    spoiled = np.zeros(len(shots), dtype=bool)
    if "cause_shots" in layers:
        moved = _holding(layers)
        keys = moved["shot_key"] if vertical else moved.loc[moves_in_plan(moved), "shot_key"]
        spoiled[rows_of(keys.drop_duplicates(), shots["shot_key"])] = True
    return spoiled


def moves_in_plan(moved: pd.DataFrame) -> np.ndarray:
    """Rows of `cause_shots` that move their shot in plan, or of which that is not known."""
    return ~(np.hypot(moved["shift_easting"], moved["shift_northing"]) == 0).to_numpy(bool)


def rejected_otherwise(layers: Layers) -> np.ndarray:
    """Shots that are not in use for another reason than an open blunder.

    Several steps share it: it must not be changed.
    """
    read = ("shots", "flags", "cause_shots")
    made: np.ndarray = layers.derived("rejected otherwise", read, lambda: _rejected_otherwise(layers))
    return made


def _rejected_otherwise(layers: Layers) -> np.ndarray:
    shots, flags = layers["shots"], layers["flags"]
    unused = ~shots["use"].to_numpy(bool)
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return unused
    other = flags.loc[flags["reject"] & (flags["flag"] != FLAG), "shot_key"].drop_duplicates()
    mine = flags.loc[flags["flag"] == FLAG, "shot_key"].drop_duplicates()
    unused[rows_of(mine, shots["shot_key"])] = False
    unused[rows_of(other, shots["shot_key"])] = True
    return unused


def code_asked(layers: Layers) -> np.ndarray:
    """Shots that are not in use for no other reason than that their code is in question, an open blunder apart.

    Several steps share it: it must not be changed.
    """
    made: np.ndarray = layers.derived("code asked", ("shots", "flags"), lambda: _code_asked(layers))
    return made


def _code_asked(layers: Layers) -> np.ndarray:
    shots, flags = layers["shots"], layers["flags"]
    rejects = flags.loc[flags["reject"] & (flags["flag"] != FLAG), ["flag", "shot_key"]]
    asked = rejects["flag"].isin(CODE_ASKED)
    made = np.zeros(len(shots), dtype=bool)
    made[rows_of(rejects.loc[asked, "shot_key"].drop_duplicates(), shots["shot_key"])] = True
    made[rows_of(rejects.loc[~asked, "shot_key"].drop_duplicates(), shots["shot_key"])] = False
    return made & ~shots["use"].to_numpy(bool)


def places_unknown(layers: Layers, reach: float) -> bool:
    """Whether a named cause moves most shots farther than `reach`, so that what was built where cannot be seen."""
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return False
    moved = _holding(layers)
    far = np.hypot(moved["shift_easting"], moved["shift_northing"]) > reach
    return bool(moved.loc[far, "shot_key"].nunique() * 2 > len(layers["shots"]))


def places_off(layers: Layers, keys: pd.Series) -> np.ndarray:
    """How far in plan each shot may lie from where it is shown among its neighbours, by an open blunder or a doubt.

    What all shots of a cause share moves none of them against the others.

    Parameters
    ----------
    layers : Layers
        With `cause_shots` and `survey_doubt`, if the diagnosis ran.
    keys : Series of str, (n,)
    """
    far = np.zeros(len(keys))
    if "cause_shots" in layers and len(layers["cause_shots"]):
        moved = _holding(layers)
        aside = moved[["shift_easting", "shift_northing"]]
        aside = aside - aside.groupby([moved["cause"], moved["subject"]], dropna=False).transform("mean")
        size = pd.Series(np.hypot(*aside.to_numpy(float).T))
        worst = size.groupby(moved["shot_key"].to_numpy(dtype=object)).max()
        far = np.append(np.nan_to_num(worst.to_numpy(float)), 0.0)[rows_of(keys, pd.Series(worst.index, dtype="str"))]
    return far + np.nan_to_num(in_doubt(layers, keys, vertical=False))


def _holding(layers: Layers) -> pd.DataFrame:
    """Shots under a named cause, without those for which it is a doubt only."""
    moved = layers["cause_shots"]
    return pd.DataFrame(moved[moved["holds"]])


@dataclass(frozen=True, kw_only=True, eq=False)
class Moved:
    """What named causes, or doubts, do to the shot of each row.

    Attributes
    ----------
    acts : (n,) bool array
        Whether any does.
    holds : (n,) bool array
        Whether it is more than a doubt.
    shift, u : (n, 3) float64
        Shown minus true, all causes together; 1 sigma, NaN where it is not known.
    titles : (n,) object array of str
        Of the causes.
    unsure : (n,) bool array, optional
        Of shots taken while one of them may have begun, so that it acts in whole, in part or not at all.
    """

    acts: np.ndarray
    holds: np.ndarray
    shift: np.ndarray
    u: np.ndarray
    titles: np.ndarray
    unsure: np.ndarray | None = None


def moved_by(layers: Layers, keys: pd.Series) -> Moved | None:
    """What acts on the shots of rows; None where nothing does.

    Parameters
    ----------
    layers : Layers
        With `cause_shots`, if the diagnosis ran.
    keys : Series of str, (n,)
        Shot of each row.
    """
    if "cause_shots" not in layers or not len(layers["cause_shots"]):
        return None
    moved, unique = layers["cause_shots"], keys.drop_duplicates()
    row, number = rows_of(moved["shot_key"], unique), rows_of(keys, unique)
    mine, row = np.flatnonzero(row >= 0), row[row >= 0]
    axes = ("easting", "northing", "elevation")
    shift, variance = np.zeros((2, len(unique), 3))
    np.add.at(shift, row, np.nan_to_num(moved[[f"shift_{name}" for name in axes]].to_numpy(float)[mine]))
    np.add.at(variance, row, moved[[f"u_{name}" for name in axes]].to_numpy(float)[mine] ** 2)
    holds, titles = np.zeros(len(unique), bool), np.full(len(unique), "", dtype=object)
    unsure = np.zeros(len(unique), bool)
    np.logical_or.at(holds, row, moved["holds"].to_numpy(bool)[mine])
    np.logical_or.at(unsure, row, (moved["holds"] & ~moved["sure"].fillna(True).astype(bool)).to_numpy(bool)[mine])
    for place, cause in zip(row.tolist(), moved["cause"].iloc[mine], strict=True):
        titles[place] = titles[place] + (" and " if titles[place] else "") + cause_named(cause).title.lower()
    return Moved(
        acts=(titles != "")[number], holds=holds[number], shift=shift[number], u=np.sqrt(variance)[number],
        titles=titles[number], unsure=unsure[number],
    )  # fmt: skip


WAITS, BOTH, IN_PART = (
    "waits for: {}; {} as read, {} without it",
    "with and without {}: {} as read, {} without it, which is the number told",
    "in doubt: {} would explain a part of it; {} as read, {} without it",
)
"""What is said of a number that is not judged, of one that is out whichever way, and of a doubt."""
PLACED = Length.parse("0.10 ft")
"""Shift in plan from which the place of a finding is said to be that as read."""


def place_as_read(shift: np.ndarray, unit: str) -> str:
    """What is said of the place of a finding whose shot a blunder moves in plan: empty where it moves it little.

    Parameters
    ----------
    shift : (k,) array
        Easting and northing first; shown minus true. What is not known is not said.
    unit : str

    Examples
    --------
    >>> place_as_read(np.array([-4.46, -0.89]), "ft")
    '; its place is told as read, and lies 4.548 ft from there without it'
    >>> place_as_read(np.array([0.02, 0.0]), "ft")
    ''
    """
    far = float(np.hypot(*shift[:2]))
    if not far >= PLACED.to(length_unit(unit)):
        return ""
    return f"; its place is told as read, and lies {words.length(far, unit)} from there without it"


def both_numbers(moved: Moved, deviation: np.ndarray, without: np.ndarray, unit: str) -> tuple[pd.Series, pd.Series]:
    """Words for rows on which something acts, null for the others; and those for rows that are out both ways.

    Parameters
    ----------
    moved : Moved
    deviation, without : (n,) array
        As read, and as it would be without the blunder; NaN is not known.
    unit : str
    """
    said, out = np.full((2, len(deviation)), None, dtype=object)
    for place in np.flatnonzero(moved.acts & np.isfinite(deviation)).tolist():
        there = np.isfinite(without[place])
        both = (
            words.length(deviation[place], unit, signed=True),
            words.length(without[place], unit, signed=True) if there else "not known",
        )
        said[place] = (WAITS if moved.holds[place] else IN_PART).format(moved.titles[place], *both)
        if moved.holds[place]:
            where = place_as_read(moved.shift[place], unit)
            said[place] += where
            out[place] = BOTH.format(moved.titles[place], *both) + where
    return pd.Series(said, dtype="str"), pd.Series(out, dtype="str")
