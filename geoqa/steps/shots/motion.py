"""Time and motion: nobody walks 300 feet in 3 seconds."""

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length, LengthUnit
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.shots.flags import all_flags, flagged
from geoqa.steps.shots.listings import counted

CLEARLY = 3.0
"""Ratio of two detours from which the smaller one is innocent."""


class Motion(Step):
    """Flag shots whose place and time no crew could have reached.

    Consecutive shots of one file are compared. Where the path is far shorter without one of the two, it is
    that one; otherwise both are named. A clock that runs backwards against the rows of a file that is otherwise
    in the order of time is flagged as well. Two crews in one file would be flagged: give each a file.
    """

    name = "motion"
    needs = ("shots",)
    adds = ("flags",)

    fastest: Length = Field(Length.parse("10 m"), description="Distance that a crew may cover in one second")
    short: Length = Field(Length.parse("30 ft"), description="Distances up to this one are always possible")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """File by file, in the order of time."""
        layers = counted(layers)
        shots, unit = layers["shots"], layers.frame.unit
        parts = []
        for _, members in shots.groupby("source", sort=True):
            rows = shots.index.get_indexer(members.index)
            there = members["time"].notna().to_numpy() & members[["easting", "northing"]].notna().all(axis=1).to_numpy()
            parts.append(self._too_fast(shots, rows[there], unit))
            parts.append(self._backwards(shots, rows[members["time"].notna().to_numpy()]))
        return {"flags": all_flags(parts)}

    def _too_fast(self, shots: pd.DataFrame, rows: np.ndarray, unit: LengthUnit) -> pd.DataFrame:
        seconds = _seconds(shots, rows)
        order = np.lexsort((rows, seconds))
        rows, seconds = rows[order], seconds[order]
        place = shots[["easting", "northing"]].to_numpy(float)[rows]

        if len(rows) < 2:
            return flagged(shots, [], flag="motion", reject=False, step=self.name)
        far, took = np.hypot(*np.diff(place, axis=0).T), np.diff(seconds)
        bad = (far > self.short.to(unit)) & (far > self.fastest.to(unit) * np.maximum(took, 1.0))
        detour = _detours(place)
        guilty: dict[int, int] = {}
        for one in np.flatnonzero(bad).tolist():
            two = one + 1
            for each, other in ((one, two), (two, one)):
                if detour[each] * CLEARLY > detour[other]:
                    guilty.setdefault(each, one)
        listed = sorted(guilty)
        at = np.array([guilty[each] for each in listed], dtype=np.int64)
        return flagged(
            shots, rows[listed], flag="motion", reject=False, step=self.name, number=far[at], unit="job",
            second=took[at], place=shots["shot"].iloc[rows[at]], other=shots["shot"].iloc[rows[at + 1]],
        )  # fmt: skip

    def _backwards(self, shots: pd.DataFrame, rows: np.ndarray) -> pd.DataFrame:
        order = np.argsort(shots["line"].to_numpy()[rows], kind="stable")
        rows = rows[order]
        step = np.diff(_seconds(shots, rows))
        back = np.flatnonzero(step < 0)
        if not len(step) or len(back) > max(1, 0.02 * len(step)):
            back = back[:0]
        return flagged(
            shots, rows[back + 1], flag="clock", reject=False, step=self.name, number=-step[back], unit="s"
        )  # fmt: skip


def _detours(place: np.ndarray) -> np.ndarray:
    """By how much the path is longer for each shot; at the ends, the leg to it."""
    leg = np.hypot(*np.diff(place, axis=0).T)
    past = np.hypot(*(place[2:] - place[:-2]).T)
    return np.concatenate([leg[:1], leg[:-1] + leg[1:] - past, leg[-1:]])


def _seconds(shots: pd.DataFrame, rows: np.ndarray) -> np.ndarray:
    return shots["time"].iloc[rows].astype("int64").to_numpy() / 1e6
