"""Single shots that stray from the smooth run of their line, corners and ramps left in peace."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.shots.smooth import Smoothed, smooth_line, smooth_profile
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of, taken
from geoqa.steps.shots.flags import all_flags, as_columns, flagged
from geoqa.steps.shots.listings import counted
from geoqa.steps.shots.strings import places_of, strings_in

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

    designed: bool
    rows: np.ndarray
    rise: np.ndarray
    rise_score: np.ndarray
    aside: np.ndarray
    aside_score: np.ndarray
    stray_rise: np.ndarray
    stray_aside: np.ndarray


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

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Lines of the design first, strings for the rest; then what was built is taken out."""
        layers = counted(layers)
        shots, unit = layers["shots"], layers.frame.unit
        least, around = self.least.to(unit), BUILT * 0.3048 / unit.metres_float
        lines = self._designed(shots, layers["line_matches"], least) if "line_matches" in layers else []
        done = np.zeros(len(shots), dtype=bool)
        for line in lines:
            done[line.rows] = True
        lines += self._strings(layers, done)
        near = _Around(shots, lines, around)
        found: list[int] = []
        facts: list[dict[str, Any]] = []
        for line in lines:
            high = line.stray_rise & (np.abs(line.rise) >= least)
            wide = line.stray_aside & (np.abs(line.aside) >= least)
            if not line.designed:
                high[high] = [not near.built(line.rows[row], line.rise[row]) for row in np.flatnonzero(high)]
            stray = np.flatnonzero(high | wide)
            found += line.rows[stray].tolist()
            facts += [_facts(line, row, bool(high[row]), bool(wide[row])) for row in stray.tolist()]
        part = flagged(shots, found, flag="spike", reject=False, step=self.name, **as_columns(facts))
        return {"flags": all_flags([part])}

    def _designed(self, shots: pd.DataFrame, matches: pd.DataFrame, least: float) -> list[_Line]:
        chosen = matches[matches["chosen"]]
        place = rows_of(chosen["shot_key"], shots["shot_key"])
        strings = [taken(shots[name].str.strip(), place).to_numpy(object) for name in ("code", "line_id")]
        every = {name: shots[name].to_numpy(float) for name in _NUMBERS}
        # by string as well: shots of another line under a wrong code are no neighbours
        number = chosen.groupby([chosen["design"].to_numpy(object), *strings], sort=True, dropna=False).ngroup()
        line = number.to_numpy(np.int64)
        order = np.argsort(line, kind="stable")
        order = order[np.bincount(line)[line[order]] >= FEWEST] if len(line) else order
        line, rows = line[order], place[order]
        station = chosen["station"].to_numpy(float)[order]
        rise = every["elevation"][rows] - chosen["design_elevation"].to_numpy(float)[order]
        aside = chosen["offset"].to_numpy(float)[order]
        loud = _off_chord(line, station, rise, least) | _off_chord(line, station, aside, least)
        up, side = (
            _compared(line, station, value, every[u][rows], loud, self.limit)
            for value, u in ((rise, "u_v_random"), (aside, "u_h_random"))
        )
        # a sound shot beside a sag differs from its neighbours, but not from the design
        off, wide = (_off(line, values, least) for values in (rise, aside))
        parts = (rows, up.residual, up.score, side.residual, side.score, up.stray & off, side.stray & wide)
        cuts = np.flatnonzero(np.diff(line)) + 1
        return (
            [_Line(True, *columns) for columns in zip(*(np.split(part, cuts) for part in parts), strict=True)]
            if len(line)
            else []
        )

    def _strings(self, layers: Layers, done: np.ndarray) -> list[_Line]:
        shots = layers["shots"]
        every = {name: shots[name].to_numpy(float) for name in _NUMBERS}
        lines = []
        for string in strings_in(layers, least=FEWEST):
            if done[string.rows].mean() > 0.5:
                continue
            own = {name: values[string.rows] for name, values in every.items()}
            east, north = own["easting"], own["northing"]
            along = np.append(0.0, np.cumsum(np.hypot(np.diff(east), np.diff(north))))
            up = smooth_profile(along, own["elevation"], u_least=_usual(own["u_v_random"]), limit=self.limit)
            side = smooth_line(east, north, u_least=_usual(own["u_h_random"]), limit=self.limit)
            inner = np.zeros(len(east), dtype=bool)
            inner[2:-2] = True  # beside an end only one view is left, and what begins there looks like a spike
            lines.append(
                _Line(
                    False,
                    string.rows,
                    up.residual,
                    up.score,
                    side.offset,
                    side.score,
                    up.stray & inner,
                    side.stray & inner,
                )
            )
        return lines


_NUMBERS = ("easting", "northing", "elevation", "u_h_random", "u_v_random")


def _off_chord(line: np.ndarray, along: np.ndarray, values: np.ndarray, least: float) -> np.ndarray:
    """Shots of lines on which one lies `least` or more from the chord of its neighbours: on others none can be stray.

    The misfit that counts is the smallest of several views, and the chord is one of them.
    """
    there = np.flatnonzero(np.isfinite(along) & np.isfinite(values))
    there = there[np.lexsort((along[there], line[there]))]
    at, value, own = along[there], values[there], line[there]
    run = at[2:] - at[:-2]
    share = np.where(run > 0, (at[1:-1] - at[:-2]) / np.where(run > 0, run, 1.0), 0.5)
    far = np.abs(value[1:-1] - value[:-2] - share * (value[2:] - value[:-2])) >= least
    loud = own[1:-1][far & (own[2:] == own[:-2])]
    return np.isin(line, loud)


def _compared(
    line: np.ndarray, station: np.ndarray, value: np.ndarray, u: np.ndarray, loud: np.ndarray, limit: float
) -> Smoothed:
    """Every loud line compared with itself; NaN on the others."""
    least = pd.Series(u).groupby(line).transform("median").fillna(0.0).to_numpy()
    value = np.where(loud, value, np.nan)
    return smooth_profile(station, value, line=line, u_least=least, limit=limit)


def _off(line: np.ndarray, deviation: np.ndarray, least: float) -> np.ndarray:
    """Which deviations from design differ from those usual on their line."""
    usual = pd.Series(deviation).groupby(line).transform("median").to_numpy()
    with np.errstate(invalid="ignore"):
        return np.abs(deviation - usual) >= least


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


def _facts(line: _Line, row: int, high: bool, wide: bool) -> dict[str, Any]:
    """Misfit in elevation and square to the line, each with its 1 sigma; NaN where it is not stray."""
    made: dict[str, Any] = {"variant": "design" if line.designed else "neighbours", "unit": "job"}
    if high:
        made |= {"number": line.rise[row], "u": _over(line.rise[row], line.rise_score[row])}
    if wide:
        made |= {"second": line.aside[row], "third": _over(line.aside[row], line.aside_score[row])}
    return made


def _over(misfit: float, score: float) -> float:
    return abs(misfit / score)
