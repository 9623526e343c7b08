"""An origin of its own that a design may have, told by the marks it names, before anything says a frame."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from geoqa.frames.files.design_pieces import design_pieces, named_marks
from geoqa.frames.files.moved_origin import FEWEST, FIT, MOST_APART, REACH
from geoqa.frames.files.moved_words import FEWEST_ON
from geoqa.frames.moving.local_origin import LocalOrigin
from geoqa.kernels.control.moved_marks import moved_marks, turned_back
from geoqa.kernels.design.moved_origin import on_design
from geoqa.model.quantity import FOOT, LengthUnit
from geoqa.model.words import many

if TYPE_CHECKING:
    import pandas as pd


def own_origin(
    design: "Mapping[str, pd.DataFrame]",
    control: "pd.DataFrame | None",
    shots: "Sequence[pd.DataFrame]",
    unit: LengthUnit | None,
) -> LocalOrigin | None:
    """Where the named marks say a design lies, if half of the shots lie near it by that, and far fewer as it stands.

    Parameters
    ----------
    design : mapping
        Its tables, in numbers as the files have them, like all others.
    control : table or None
    shots : sequence of tables
    unit : LengthUnit or None
        Of the numbers; taken as feet where nobody says it.
    """
    names, grid, plan = named_marks(design, control)
    per_metre = 1.0 / (unit or FOOT).metres_float
    marks = moved_marks(grid, plan, fit=FIT * per_metre)
    at = np.concatenate([np.empty((0, 2)), *(each[["easting", "northing"]].to_numpy(float) for each in shots)])
    at = at[np.isfinite(at).all(axis=1)]
    if marks.answer not in ("shift", "turned") or marks.odd >= 0 or len(at) < FEWEST:
        return None
    pieces, _ = design_pieces(design)
    alike = np.zeros(len(pieces), dtype=np.int64)
    there = turned_back(at, -marks.turn, plan, grid)
    near = [
        on_design(each, np.zeros(len(at), dtype=np.int64), pieces, alike, near=REACH * per_metre).mean()
        for each in (at, there)
    ]
    if near[1] < max(FEWEST_ON, near[0] + 1 - MOST_APART):
        return None
    point, place = (tuple(round(float(each), 4) for each in marked.mean(axis=0)) for marked in (plan, grid))
    return LocalOrigin(
        point=(point[0], point[1]),
        at=(place[0], place[1]),
        turn_deg=round(marks.turn, 6) + 0.0,
        reference=f"found on {many(len(names), 'named mark')}; state the sheet and note here",
    )
