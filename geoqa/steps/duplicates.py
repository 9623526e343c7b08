"""Rows whose record is in doubt: names used twice, elevations recorded as none, numbers that could not be read."""

from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.steps.flagging import all_flags, flagged
from geoqa.steps.text import listed


class Duplicates(Step):
    """Flag shot names used for different places, and coordinates recorded but not there.

    All rows are kept and judged. Shots of one name closer together than `apart` are taken as
    repeats of one place and pass without a word.
    """

    name = "duplicates"
    needs = ("shots",)
    adds = ("flags",)

    apart: Length = Field(
        Length.parse("0.10 ft"), description="Distance from which two shots of one name are two places"
    )

    def run(self, layers: Any) -> dict[str, Any]:
        """Compare the spread of each name, and what was written with what was read."""
        shots, unit = layers["shots"], layers.frame.unit
        none = self._not_there(shots, "elevation", "null-elevation", "elevation recorded as {}, taken as none")
        unread = [
            self._not_there(shots, column, "unreadable", column + " {} could not be used as a number")
            for column in ("easting", "northing")
        ]
        return {"flags": all_flags([self._twice(shots, self.apart.to(unit), unit.name), none, *unread])}

    def _twice(self, shots: pd.DataFrame, apart: float, unit: str) -> pd.DataFrame:
        code, names = pd.factorize(shots["shot"])
        several = np.bincount(code[code >= 0], minlength=len(names)) > 1
        rows = np.flatnonzero((code >= 0) & several[code]) if len(names) else np.zeros(0, np.int64)
        places = shots.iloc[rows].groupby(code[rows])[["easting", "northing"]].agg(["min", "max"])
        spread = np.hypot(*((places[axis]["max"] - places[axis]["min"]) for axis in ("easting", "northing")))
        reasons = {
            group: f"name '{names[group]}' is used {(code == group).sum()} times, "
            f"over {words.quantity(far, 'length', unit)}, in {listed(sorted(set(shots['source'][code == group])))}"
            for group, far in spread[spread > apart].items()
        }
        twice = rows[np.isin(code[rows], list(reasons))]
        return flagged(
            shots, twice, flag="duplicate-name", reasons=[reasons[each] for each in code[twice]],
            reject=False, step=self.name,
        )  # fmt: skip

    def _not_there(self, shots: pd.DataFrame, column: str, flag: str, reason: str) -> pd.DataFrame:
        written = shots[f"raw_{column}"].str.strip()
        rows = np.flatnonzero(shots[column].isna() & written.notna() & (written != ""))
        return flagged(
            shots, rows, flag=flag, reasons=[reason.format(f"'{each}'") for each in written.iloc[rows]],
            reject=False, step=self.name,
        )  # fmt: skip
