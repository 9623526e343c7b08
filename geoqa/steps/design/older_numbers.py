"""Numbers against a design that is older than the register says: they wait, and are shown both ways."""

import numpy as np
import pandas as pd

from geoqa.model import words
from geoqa.model.reasons import WHY
from geoqa.model.tables.layer import Layers
from geoqa.steps.causes.older_lines import to_the_right
from geoqa.steps.causes.open_blunders import BOTH, WAITS
from geoqa.steps.judging.text_columns import rows_of

OLDER = "the older design"
"""What such a number waits for, in words."""
_PLAN = ("shift_easting", "shift_northing")


def held_by_older_design(layers: Layers, rows: pd.DataFrame, *, check: str) -> None:
    """Let numbers wait whose line is of an older design; add them without the shift that all shots of it share.

    Parameters
    ----------
    layers : Layers
        With `older_designs`, if that step ran.
    rows : DataFrame
        Of `along_lines`, changed in place.
    check : {"offset", "elevation"}
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
    if check == "offset":
        right = to_the_right(rows["azimuth"].to_numpy(float)[mine])
        plan = (right * table[list(_PLAN)].to_numpy(float)[of]).sum(axis=1)
        shift = np.where(np.isfinite(shift), shift, plan)
    without = read[mine] - shift
    for name, values in (("without", without), ("without_own", without), ("u_without", table["u"].to_numpy(float)[of])):
        column = rows[name].to_numpy(float, copy=True) if name in rows else np.full(len(rows), np.nan)
        column[mine] = values
        rows[name] = column
    unit = layers.frame.unit.name
    both = [
        [words.length(value, unit, signed=True) for value in pair] for pair in zip(read[mine], without, strict=True)
    ]
    for name, text in (("cause", WAITS), ("cause_both", BOTH)):
        column = (
            rows[name].to_numpy(dtype=object, copy=True) if name in rows else np.full(len(rows), None, dtype=object)
        )
        column[mine] = [text.format(OLDER, *pair) for pair in both]
        rows[name] = pd.Series(column, index=rows.index, dtype="str")
    rows["why"] = np.where(np.isin(np.arange(len(rows)), mine), WHY["older-design"], rows["why"])
