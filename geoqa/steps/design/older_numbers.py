"""Numbers against a design that is older than the register says, or in the other foot: they wait, shown both ways."""

import numpy as np
import pandas as pd

from geoqa.model import words
from geoqa.model.reasons import OF_THE_DESIGN, WHY
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.older_lines import to_the_right
from geoqa.steps.causes.open_blunders import BOTH, WAITS, Moved
from geoqa.steps.judging.text_columns import rows_of

TITLES = {
    "older-design": "the older design",
    "other-foot": "the unit of the design",
    "design-apart": "the place of the design",
}
"""What such a number waits for, in words, by its reason."""
_PLAN = ("shift_easting", "shift_northing")


def held_by_older_design(layers: Layers, rows: pd.DataFrame, *, check: str) -> None:
    """Let numbers wait whose line or point is of a design in doubt; add them without the shift its shots share.

    Parameters
    ----------
    layers : Layers
        With `older_designs`, if that step ran.
    rows : DataFrame
        Of `along_lines` or `at_points`, changed in place.
    check : {"offset", "position", "elevation"}
    """
    table = layers["older_designs"] if "older_designs" in layers else None  # noqa: SIM401 - layers have no default
    if table is None or not len(table):
        return
    table = table[table["check"] == check].reset_index(drop=True)
    place = rows_of(rows["subject"], table["line"])
    read = rows["deviation"].to_numpy(float)
    mine = np.flatnonzero((place >= 0) & (rows["why"] == 0).to_numpy(bool) & np.isfinite(read))
    if not len(mine):
        return
    of = place[mine]
    shift = table["shift"].to_numpy(float)[of]
    east, north = table[list(_PLAN)].to_numpy(float)[of].T
    without = read[mine] - shift
    if check == "offset":
        right = to_the_right(rows["azimuth"].to_numpy(float)[mine])
        without = np.where(np.isfinite(shift), without, read[mine] - right[:, 0] * east - right[:, 1] * north)
    if check == "position":
        angle = np.radians(rows["azimuth"].to_numpy(float)[mine])
        without = np.hypot(read[mine] * np.sin(angle) - east, read[mine] * np.cos(angle) - north)
    for name, values in (("without", without), ("without_own", without), ("u_without", table["u"].to_numpy(float)[of])):
        column = rows[name].to_numpy(float, copy=True) if name in rows else np.full(len(rows), np.nan)
        column[mine] = values
        rows[name] = column
    unit, signed = layers.frame.unit.name, check != "position"
    reasons = table["reason"].to_numpy(dtype=object)[of]
    both = [
        [TITLES[reason], *(words.length(value, unit, signed=signed) for value in pair)]
        for reason, *pair in zip(reasons, read[mine], without, strict=True)
    ]
    for name, text in (("cause", WAITS), ("cause_both", BOTH)):
        column = (
            rows[name].to_numpy(dtype=object, copy=True) if name in rows else np.full(len(rows), None, dtype=object)
        )
        column[mine] = [text.format(*each) for each in both]
        rows[name] = pd.Series(column, index=rows.index, dtype="str")
    why = rows["why"].to_numpy(copy=True)
    why[mine] = [WHY[reason] for reason in reasons]
    rows["why"] = why


def waits_for(why: pd.Series, moved: Moved | None) -> np.ndarray:
    """What numbers wait for, in words: a matter of their design, or what acts on their shot.

    Parameters
    ----------
    why : Series of int, n
        Codes of reasons.
    moved : Moved, optional
        Of these shots.
    """
    titles: np.ndarray = (
        np.full(len(why), "", dtype=object) if moved is None else np.asarray(moved.titles, dtype=object)
    )
    for name in OF_THE_DESIGN:
        titles = np.where((why == WHY[name]).to_numpy(bool), TITLES[name], titles)
    return titles
