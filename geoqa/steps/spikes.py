"""Single shots that stray from the smooth run of their line, corners and ramps left in peace."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.smooth import smooth_line, smooth_profile
from geoqa.model import words
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.steps.flagging import all_flags, flagged
from geoqa.steps.strings import places_of, strings_of
from geoqa.steps.text import rows_of, taken

FEWEST = 8
"""Shots below which a line tells next to nothing about one of them."""
DIPS = frozenset({"ramp", "detectable-warning", "driveway"})
"""Kinds where curbs and walks are lowered."""
BUILT = 15.0
"""Feet around a stray shot in which a ramp or another line that strays the same way shows that it was built so."""
TOGETHER = 2.5
"""Score from which another line strays the same way."""


@dataclass(frozen=True, eq=False)
class _Line:
    """One line compared with itself: misfits of its shots, in elevation and square to it."""

    rows: np.ndarray
    rise: np.ndarray
    rise_score: np.ndarray
    aside: np.ndarray
    aside_score: np.ndarray
    stray_rise: np.ndarray
    stray_aside: np.ndarray
    designed: bool


class Spikes(Step):
    """Flag single shots that their neighbours on the line contradict.

    Where a design line is known, what is smoothed is the deviation from it, so that designed corners and dips do not
    count; elsewhere the shots themselves. Without design, a dip that another line shares, or that lies at
    a ramp or driveway, is taken as built. Two neighbours that stray together are no spike: they are
    more likely something built, or a run.
    """

    name = "spikes"
    needs = ("shots.kind", "shots.role", "shots.u_h_random", "shots.u_v_random")
    wants = ("line_matches",)
    adds = ("flags",)

    limit: float = Field(6.0, gt=0, description="Misfit over its uncertainty beyond which a shot is stray")
    least: Length = Field(Length.parse("0.10 ft"), description="Smaller misfits are never called stray")

    def run(self, layers: Any) -> dict[str, Any]:
        """Lines of the design first, strings for the rest; then what was built is taken out."""
        shots, unit = layers["shots"], layers.frame.unit
        least, around = self.least.to(unit), BUILT * 0.3048 / unit.metres_float
        lines = self._designed(shots, layers["line_matches"], least) if "line_matches" in layers else []
        done = np.zeros(len(shots), dtype=bool)
        for line in lines:
            done[line.rows] = True
        lines += self._strings(shots, done)
        parts, near = [], _Around(shots, lines, around)
        for line in lines:
            high = line.stray_rise & (np.abs(line.rise) >= least)
            wide = line.stray_aside & (np.abs(line.aside) >= least)
            if not line.designed:
                high[high] = [not near.built(line.rows[row], line.rise[row]) for row in np.flatnonzero(high)]
            rows = np.flatnonzero(high | wide)
            if not len(rows):
                continue
            reasons = [_reason(line, row, bool(high[row]), bool(wide[row]), unit.name) for row in rows]
            parts.append(
                flagged(shots, line.rows[rows], flag="spike", reasons=reasons, reject=False, step=self.name)
            )  # fmt: skip
        return {"flags": all_flags(parts)}

    def _designed(self, shots: pd.DataFrame, matches: pd.DataFrame, least: float) -> list[_Line]:
        chosen = matches[matches["chosen"]]
        place = rows_of(chosen["shot_key"], shots["shot_key"])
        strings = [taken(shots[name].str.strip(), place).to_numpy(object) for name in ("code", "line_id")]
        every = {name: shots[name].to_numpy(float) for name in _NUMBERS}
        made = []
        # by string as well: shots of another line under a wrong code are no neighbours
        keys = [chosen["design"].to_numpy(object), *strings]
        for _, members in chosen.assign(row=place).groupby(keys, sort=True, dropna=False):
            if len(members) < FEWEST:
                continue
            rows = members["row"].to_numpy()
            own = {name: values[rows] for name, values in every.items()}
            station = members["station"].to_numpy(float)
            rise = own["elevation"] - members["design_elevation"].to_numpy(float)
            aside = members["offset"].to_numpy(float)
            if _quiet(station, rise, least) and _quiet(station, aside, least):
                nothing, never = np.full(len(rows), np.nan), np.zeros(len(rows), dtype=bool)
                made.append(_Line(rows, nothing, nothing, nothing, nothing, never, never, designed=True))
                continue
            up = smooth_profile(station, rise, u_least=_usual(own["u_v_random"]), limit=self.limit)
            side = smooth_profile(station, aside, u_least=_usual(own["u_h_random"]), limit=self.limit)
            # a sound shot beside a sag differs from its neighbours, but not from the design
            off, wide = (_off(values, least) for values in (rise, aside))
            made.append(
                _Line(
                    rows,
                    up.residual,
                    up.score,
                    side.residual,
                    side.score,
                    up.stray & off,
                    side.stray & wide,
                    designed=True,
                )
            )
        return made

    def _strings(self, shots: pd.DataFrame, done: np.ndarray) -> list[_Line]:
        every = {name: shots[name].to_numpy(float) for name in _NUMBERS}
        made = []
        for string in strings_of(shots, least=FEWEST):
            if done[string.rows].mean() > 0.5:
                continue
            own = {name: values[string.rows] for name, values in every.items()}
            east, north = own["easting"], own["northing"]
            along = np.append(0.0, np.cumsum(np.hypot(np.diff(east), np.diff(north))))
            up = smooth_profile(along, own["elevation"], u_least=_usual(own["u_v_random"]), limit=self.limit)
            side = smooth_line(east, north, u_least=_usual(own["u_h_random"]), limit=self.limit)
            inner = np.zeros(len(east), dtype=bool)
            inner[2:-2] = True  # beside an end only one view is left, and what begins there looks like a spike
            made.append(
                _Line(
                    string.rows,
                    up.residual,
                    up.score,
                    side.offset,
                    side.score,
                    up.stray & inner,
                    side.stray & inner,
                    designed=False,
                )
            )
        return made


_NUMBERS = ("easting", "northing", "elevation", "u_h_random", "u_v_random")


def _quiet(along: np.ndarray, values: np.ndarray, least: float) -> bool:
    """Whether every shot lies closer than `least` to the chord of its neighbours: then none can be stray.

    The misfit that counts is the smallest of several views, and the chord is one of them.
    """
    there = np.isfinite(along) & np.isfinite(values)
    order = np.argsort(along[there], kind="stable")
    at, value = along[there][order], values[there][order]
    if len(at) < 3:
        return True
    run = at[2:] - at[:-2]
    share = np.where(run > 0, (at[1:-1] - at[:-2]) / np.where(run > 0, run, 1.0), 0.5)
    return bool((np.abs(value[1:-1] - value[:-2] - share * (value[2:] - value[:-2])) < least).all())


def _off(deviation: np.ndarray, least: float) -> np.ndarray:
    """Which deviations from design differ from those usual on their line."""
    if not np.isfinite(deviation).any():
        return np.zeros(len(deviation), dtype=bool)
    return np.abs(deviation - np.nanmedian(deviation)) >= least


def _usual(u: np.ndarray) -> float:
    return float(np.nanmedian(u)) if np.isfinite(u).any() else 0.0


class _Around:
    """Which stray shots lie at a ramp, or where another line strays the same way."""

    def __init__(self, shots: pd.DataFrame, lines: list[_Line], around: float) -> None:
        from scipy.spatial import cKDTree

        self.line, self.score = np.full(len(shots), -1), np.full(len(shots), np.nan)
        for number, line in enumerate(lines):
            self.line[line.rows], self.score[line.rows] = number, line.rise_score
        self.dips = shots["kind"].isin(DIPS).to_numpy(bool)
        self.placed = np.flatnonzero(shots[["easting", "northing"]].notna().all(axis=1))
        place = places_of(shots)
        self.place = place - (place[self.placed[0]] if len(self.placed) else 0.0)
        self.tree, self.around = cKDTree(self.place[self.placed]), around

    def built(self, row: int, rise: float) -> bool:
        """Whether what was measured at a row was more likely built so."""
        near = self.placed[self.tree.query_ball_point(self.place[row], self.around)]
        other = near[(self.line[near] != self.line[row]) & (self.line[near] >= 0)]
        return bool(self.dips[near].any() or (np.sign(rise) * self.score[other] > TOGETHER).any())


def _reason(line: _Line, row: int, high: bool, wide: bool, unit: str) -> str:
    what = "deviations from design" if line.designed else "neighbours on its line"
    parts = []
    if high:
        way = "above" if line.rise[row] > 0 else "below"
        parts.append(
            f"{words.quantity(abs(line.rise[row]), 'length', unit)} {way} ({abs(line.rise_score[row]):.0f} times u)"
        )
    if wide:
        way = "right" if line.aside[row] > 0 else "left"
        parts.append(
            f"{words.quantity(abs(line.aside[row]), 'length', unit)} {way} ({abs(line.aside_score[row]):.0f} times u)"
        )
    return f"{' and '.join(parts)} of what its {what} lead to expect; re-shoot it"
