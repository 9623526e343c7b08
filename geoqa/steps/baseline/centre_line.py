"""The baseline of a run as the kernels want it, and its stations in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from geoqa.errors import GeometryInputError, SourceError
from geoqa.kernels.baseline.course import Course
from geoqa.kernels.baseline.equations import Stretches, called, continuous, stretches_between
from geoqa.kernels.baseline.nearest import BesideCourse, Standing, station_offset
from geoqa.kernels.baseline.profile import Profile
from geoqa.model import words
from geoqa.model.station import CONTINUOUS, after_equation
from geoqa.model.tables.layer import Layers

TABLES = ("baseline", "baseline_equations")

WHY = {
    Standing.BEFORE: "before the start of the baseline",
    Standing.AFTER: "beyond the end of the baseline",
    Standing.AMBIGUOUS: "about as near to two places of the baseline",
}
"""Why a point has no station, in words."""
FAR = "farther from the baseline than the reach"


@dataclass(frozen=True, kw_only=True, eq=False)
class CentreLine:
    """The baseline: its course, its stretches between equations, its name."""

    name: str
    course: Course
    stretches: Stretches
    unit: str
    left_out: str

    def station_words(self, station: np.ndarray, digits: int = 2) -> np.ndarray:
        """Continuous stations as the drawing writes them, (n,) text; with the equation passed where there are any."""
        written, passed = called(self.stretches, station)
        texts = [words.station(value, digits) for value in written]
        if len(self.stretches) > 1:
            texts = [text + after_equation(count) for text, count in zip(texts, passed.tolist(), strict=True)]
        return np.array(texts, dtype=object)

    def meant(self, written: float, equation: Any, *, place: str, what: str, beyond: bool = False) -> float:
        """The continuous station that a file means; one `beyond` the line may be meant where there is no equation.

        Raises
        ------
        SourceError
            It lies beyond the line, or the number occurs in two stretches and none is said.
        """
        stated = None if pd.isna(equation) else int(equation)
        if stated == CONTINUOUS or (beyond and len(self.stretches) == 1):
            return written
        found = continuous(self.stretches, written, stated)
        if len(found) == 1:
            return found[0]
        ends = " to ".join(self.station_words(np.array([self.stretches.start[0], self.stretches.end])))
        said = words.station(written) + ("" if stated is None else after_equation(stated))
        if not found:
            raise SourceError(
                f"{place}: {what} {said} does not lie on the baseline {self.name}, which runs from {ends}."
            )
        names = " or ".join(self.station_words(np.array(found)))
        raise SourceError(
            f"{place}: {what} {said} occurs {len(found)} times on the baseline {self.name}; write {names}."
        )


def centre_line(layers: Layers) -> CentreLine:
    """The baseline of the layers `baseline` and `baseline_equations`; made once in a run."""
    made: CentreLine = layers.derived("centre_line", TABLES, lambda: _centre_line(layers))
    return made


def _centre_line(layers: Layers) -> CentreLine:
    rows = layers["baseline"].sort_values("sequence")
    names = ("easting", "northing", "length")

    def curvature(name: str) -> np.ndarray:
        radius = rows[name].to_numpy(float)
        return np.where(np.isnan(radius), 0.0, 1.0 / radius)

    course = Course(
        **{name: rows[name].to_numpy(float) for name in names},
        azimuth=np.radians(rows["azimuth"].to_numpy(float)),
        start_curvature=curvature("start_radius"),
        end_curvature=curvature("end_radius"),
        station=rows["start_station"].to_numpy(float),
        stationed=rows["stationed"].to_numpy(float),
    )
    equations = layers["baseline_equations"]
    stretches = stretches_between(
        float(course.station[0]),
        course.end_station,
        equations["back"].to_numpy(float),
        equations["ahead"].to_numpy(float),
    )
    return CentreLine(
        name=str(rows["baseline"].iloc[0]), course=course, stretches=stretches, unit=layers.frame.unit.name,
        left_out=str(rows["left_out"].iloc[0] or ""),
    )  # fmt: skip


def profile_of(layers: Layers) -> Profile:
    """The profile of the layer `baseline_profile`, on continuous stations.

    Raises
    ------
    SourceError
        A point does not lie on the baseline, they are out of order, or their curves overlap.
    """
    line, rows = centre_line(layers), layers["baseline_profile"]
    station = [
        line.meant(row.station, row.equation, place=row.place, what="the point of the profile at", beyond=True)
        for row in rows.itertuples()
    ]
    columns = [np.array(station), *(rows[name].to_numpy(float) for name in ("elevation", "curve_in", "curve_out"))]
    try:
        return Profile(station=columns[0], elevation=columns[1], curve_in=columns[2], curve_out=columns[3])
    except GeometryInputError as error:
        raise SourceError(f"{rows['place'].iloc[0].partition(', ')[0]}: {error}") from error


@dataclass(frozen=True, kw_only=True, eq=False)
class Along:
    """Points along the baseline, (n,) arrays: stations continuous, and why there is none."""

    station: np.ndarray
    offset: np.ndarray
    why: np.ndarray


def along(line: CentreLine, easting: Any, northing: Any, *, reach: float) -> Along:
    """Points along the baseline; `why` is empty for those that have a station, None for those that lie nowhere."""
    beside: BesideCourse = station_offset(
        line.course, np.asarray(easting, dtype=float), np.asarray(northing, dtype=float), margin=_margin(line.unit)
    )
    why = np.array([WHY.get(Standing(code), "") for code in beside.standing.tolist()], dtype=object)
    far = np.abs(beside.offset) > reach
    why[far] = FAR
    why[beside.standing == Standing.NO_PLACE] = None
    return Along(station=np.where(far, np.nan, beside.station), offset=np.where(far, np.nan, beside.offset), why=why)


def _margin(unit: str) -> float:
    """About the error of a shot: places of the line that differ by less in distance cannot be told apart."""
    return 0.03 if unit == "m" else 0.1


def point_columns(line: CentreLine, found: Along, index: pd.Index) -> pd.DataFrame:
    """Columns of points along the baseline."""
    written, passed = called(line.stretches, found.station)
    there = np.isfinite(found.station)
    texts = found.why.copy()
    texts[there] = [
        f"{line.name} {words.along_baseline(text, offset, line.unit)}"
        for text, offset in zip(line.station_words(found.station[there]), found.offset[there], strict=True)
    ]
    return pd.DataFrame(
        {
            "baseline_station": written,
            "baseline_offset": found.offset,
            "baseline_equation": pd.array(np.where(there, passed, -1), dtype="Int64"),
            "baseline_place": pd.array(texts, dtype="str"),
        },
        index=index,
    ).assign(baseline_equation=lambda made: made["baseline_equation"].where(there))


def stretch_columns(line: CentreLine, start: Along, end: Along, long: np.ndarray, index: pd.Index) -> pd.DataFrame:
    """Columns of stretches along the baseline, from the lower to the higher station; rows not `long` are points."""
    made = point_columns(line, start, index)
    ends = point_columns(line, end, index)
    swap = long & (end.station < start.station)
    first = {name: made[name].where(~swap, ends[name]) for name in made}
    last = ends["baseline_station"].where(~swap, made["baseline_station"])
    texts = made["baseline_place"].to_numpy(dtype=object).copy()
    for row in np.flatnonzero(long):
        texts[row] = _stretch_words(line, *((end, start) if swap[row] else (start, end)), int(row))
    return pd.DataFrame(
        {
            "baseline_station": first["baseline_station"],
            "baseline_station_end": last.where(long),
            "baseline_offset": first["baseline_offset"],
            "baseline_equation": first["baseline_equation"],
            "baseline_place": pd.array(texts, dtype="str"),
        },
        index=index,
    )


def _stretch_words(line: CentreLine, start: Along, end: Along, row: int) -> str | None:
    ends = [(each.station[row], each.offset[row], each.why[row]) for each in (start, end)]
    known = [offset for station, offset, _ in ends if np.isfinite(station)]
    if not known:
        return ends[0][2]
    digits = words.stretch_digits(start.station[row], end.station[row], line.unit)
    texts = [
        line.station_words(np.array([station]), digits)[0] if np.isfinite(station) else why or words.MISSING
        for station, _, why in ends
    ]
    sides = {words.side_of(offset, line.unit) for offset in known}
    if texts[0] == texts[1] and len(known) > 1:
        return f"{line.name} {texts[0]}, {' to '.join(words.beside(each, line.unit) for each in sorted(known))}"
    side = sides.pop() if len(sides) == 1 else "both sides"
    return f"{line.name} {texts[0]} to {texts[1]}, {side}" + (" side" if side in ("left", "right") else "")
