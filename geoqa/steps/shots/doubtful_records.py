"""Rows whose record is in doubt: names used twice or damaged, elevations of none or exactly 0, unreadable numbers."""

from collections import Counter

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.read_facts import ANGLES, NOT_TAKEN, facts_of_shots
from geoqa.model.words import listed
from geoqa.steps.shots.damaged_names import damaged
from geoqa.steps.shots.flags import ZERO, all_flags, as_columns, flagged, noted


class DoubtfulRecords(Step):
    """Flag shot names used for different places, and coordinates recorded but not there.

    All rows are kept and judged. Shots of one name closer together than `apart` are taken as
    repeats of one place and pass without a word. An elevation of exactly 0 is in doubt where all others lie farther
    from it than they spread and than `level` (common practice, no source): some loggers write 0 for none. It is
    kept as it was read, and nothing vertical is judged by it until the job says what 0 means. Names, line IDs and codes
    that read as a spreadsheet leaves them (``Jan-02``, ``1.00E+03``, zeros lost) are told, and never changed.
    """

    name = "doubtful-records"
    needs = ("shots",)
    wants = ("shots.role", "control", "codes", "design_lines", "design_points", "sources")
    adds = ("flags", "notes")

    apart: Length = Field(
        Length.parse("0.10 ft"), description="Distance from which two shots of one name are two places"
    )
    level: Length = Field(Length.parse("30 ft"), description="Nearer to other elevations, a 0 may well be measured")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Compare the spread of each name, and what was written with what was read."""
        shots, unit = layers["shots"], layers.frame.unit
        none = self._not_there(shots, "elevation", "null-elevation")
        unread = [self._not_there(shots, column, "unreadable") for column in ("easting", "northing")]
        zero = self._zero(shots, self.level.to(unit))
        names = damaged(layers)
        facts = as_columns([{key: value for key, value in each.items() if key != "row"} for each in names])
        broken = flagged(
            shots, [each["row"] for each in names], flag="damaged-name", reject=False, step=self.name, **facts
        )
        told = Counter((each["variant"], each["subject"], each["written"], each["proposal"]) for each in names)
        notes = [
            {"note": "damaged-names", "variant": how, "subject": what, "written": word, "proposal": was, "count": count}
            for (how, what, word, was), count in sorted(told.items())
        ]
        return {
            "flags": all_flags(
                [self._twice(shots, self.apart.to(unit)), none, zero, *unread, *self._no_angles(layers), broken]
            ),
            "notes": noted(self.name, notes),
        }

    def _twice(self, shots: pd.DataFrame, apart: float) -> pd.DataFrame:
        code, names = pd.factorize(shots["shot"])
        several = np.bincount(code[code >= 0], minlength=len(names)) > 1
        rows = np.flatnonzero((code >= 0) & several[code]) if len(names) else np.zeros(0, np.int64)
        places = shots.iloc[rows].groupby(code[rows])[["easting", "northing"]].agg(["min", "max"])
        spread = np.hypot(*((places[axis]["max"] - places[axis]["min"]) for axis in ("easting", "northing")))
        far = spread[spread > apart]
        count = np.bincount(code[code >= 0], minlength=len(names))
        sources = {group: listed(sorted(set(shots["source"][code == group]))) for group in far.index}
        twice = rows[np.isin(code[rows], list(sources))]
        own = code[twice]
        return flagged(
            shots, twice, flag="duplicate-name", reject=False, step=self.name, written=shots["shot"].iloc[twice],
            count=count[own], number=far.reindex(own).to_numpy(float), unit="job",
            place=[sources[each] for each in own],
        )  # fmt: skip

    def _zero(self, shots: pd.DataFrame, level: float) -> pd.DataFrame:
        elevation = shots["elevation"].to_numpy(float)
        zero, others = elevation == 0.0, elevation[np.isfinite(elevation) & (elevation != 0.0)]
        nearest = np.abs(others).min() if len(others) > 1 else 0.0
        far = len(others) > 1 and nearest > max(level, float(np.ptp(others)))
        rows = np.flatnonzero(zero) if far else np.zeros(0, np.int64)
        return flagged(shots, rows, flag=ZERO, reject=False, step=self.name, number=float(nearest), unit="job")

    def _no_angles(self, layers: Layers) -> list[pd.DataFrame]:
        """Shots whose tilt or azimuth was written, and could not be one."""
        shots = layers["shots"]
        told = [
            (source, what, [int(line) for line in facts[NOT_TAKEN[column]].split()])
            for source, facts in facts_of_shots(dict(layers)).items()
            for column, what in ANGLES.items()
            if NOT_TAKEN[column] in facts
        ]
        rows = [
            (np.flatnonzero((shots["source"] == source) & shots["line"].isin(lines)), what)
            for source, what, lines in told
        ]
        return [
            flagged(shots, mine, flag="no-angle", reject=False, step=self.name, subject=what) for mine, what in rows
        ]

    def _not_there(self, shots: pd.DataFrame, column: str, flag: str) -> pd.DataFrame:
        written = shots[f"raw_{column}"].str.strip()
        rows = np.flatnonzero(shots[column].isna() & written.notna() & (written != ""))
        return flagged(shots, rows, flag=flag, reject=False, step=self.name, subject=column, written=written.iloc[rows])
