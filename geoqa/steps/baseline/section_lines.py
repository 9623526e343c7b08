"""Design lines of the typical section, along the baseline and its profile."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.errors import GeometryInputError, SourceError
from geoqa.kernels.baseline.parallel import ParallelPieces, parallel
from geoqa.kernels.baseline.profile import Profile, profile_at
from geoqa.kernels.design.along_elements import chords
from geoqa.kernels.design.elements import Elements
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers, shaped
from geoqa.steps.baseline.centre_line import TABLES, CentreLine, centre_line, profile_of
from geoqa.steps.shots.flags import noted


@dataclass(frozen=True, kw_only=True)
class _Stretch:
    """One row of the section, on continuous stations."""

    line: str
    kind: str
    start: float
    end: float
    after: str
    width: float
    rise: float
    place: str
    source: str


class SectionLines(Step):
    """Make design lines of the typical section: each at its offset from the baseline, at profile plus slopes.

    A banked section is not made: superelevation is not used, and a note says so where a file has it.
    """

    name: ClassVar[str] = "section-lines"
    only_with: ClassVar[tuple[str, ...]] = ("section",)
    needs: ClassVar[tuple[str, ...]] = ("section", "baseline_profile", *TABLES)
    adds: ClassVar[tuple[str, ...]] = ("design_lines", "design_elements", "notes")

    within: Length = Field(
        Length.parse("0.5 mm"),
        description="How far pieces may leave a spiral's parallel in plan, and a parabola in elevation.",
    )

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Expand every row of the section."""
        line, profile, rows = centre_line(layers), profile_of(layers), layers["section"].sort_values("sequence")
        stretches = [_stretch(line, row) for row in rows.to_dict("records")]
        within = self.within.to(layers.frame.unit)
        made: list[tuple[_Stretch, str, ParallelPieces]] = []
        taken = set(layers["design_lines"]["line"])
        for at, each in enumerate(stretches):
            _refuse_beyond(line, profile, each)
            name = _name(each, stretches, at)
            if name in taken:
                raise SourceError(f"{each.place}: there is a design line '{name}' already; give this one another name.")
            taken.add(name)
            parts = [_part(line, profile, part, within, each) for part in _chain(each, stretches[:at])]
            made.append((each, name, _joined(parts, each, line)))
        facts = []
        if rows["left_out"].fillna("").ne("").any():
            written = "superelevation of the section is not used; its slopes hold everywhere"
            facts.append({"note": "not-used", "subject": line.name, "written": written})
        elements = pd.concat([_elements(name, pieces) for _, name, pieces in made], ignore_index=True)
        lines = pd.DataFrame({"line": [name for _, name, _ in made], "kind": [each.kind for each, *_ in made],
                              "source": [each.source for each, *_ in made]}).astype("str")  # fmt: skip
        drawn = shaped(lines, _drawn(elements, lines["line"].tolist()), layers.frame)
        return {"design_lines": drawn, "design_elements": elements, "notes": noted(self.name, facts)}


def _stretch(line: CentreLine, row: dict[str, Any]) -> _Stretch:
    ends = [
        line.meant(row[f"{end}_station"], row[f"{end}_equation"], place=row["place"], what=f"the station {end}")
        for end in ("from", "to")
    ]
    if not ends[0] < ends[1]:
        raise SourceError(
            f"{row['place']}: the stretch ends before it starts; give from and to in the order of the stations."
        )
    after = row["after"] if isinstance(row["after"], str) else ""
    return _Stretch(
        line=row["line"], kind=row["kind"], start=ends[0], end=ends[1], after=after, width=row["width"],
        rise=row["slope"] * abs(row["width"]) + row["rise"], place=row["place"], source=row["source"],
    )  # fmt: skip


def _name(each: _Stretch, stretches: list[_Stretch], at: int) -> str:
    """Name of the design line of a row; rows of one line on several stretches are numbered."""
    same = [row for row, other in enumerate(stretches) if other.line == each.line]
    return each.line if len(same) == 1 else f"{each.line}-{same.index(at) + 1}"


def _refuse_beyond(line: CentreLine, profile: Profile, each: _Stretch) -> None:
    low, high = profile.station[0] - 1e-6, profile.station[-1] + 1e-6
    if each.start < low or each.end > high:
        ends = " to ".join(line.station_words(np.array([profile.station[0], profile.station[-1]])))
        raise SourceError(f"{each.place}: the stretch of '{each.line}' leaves the profile, which runs from {ends}.")


@dataclass(frozen=True)
class _Part:
    """A stretch on which offset and height over the profile are constant."""

    start: float
    end: float
    offset: float
    rise: float


def _chain(each: _Stretch, above: list[_Stretch]) -> list[_Part]:
    """Offset from the baseline and height over the profile, added up along the lines a row counts from."""
    if not each.after:
        return [_Part(each.start, each.end, each.width, each.rise)]
    rows = [(at, other) for at, other in enumerate(above) if other.line == each.after]
    if not rows:
        raise SourceError(f"{each.place}: '{each.line}' counts from '{each.after}', which no row above it makes.")
    parts: list[_Part] = []
    for at, other in rows:
        for part in _chain(other, above[:at]):
            start, end = max(part.start, each.start), min(part.end, each.end)
            if end - start > 1e-6:
                parts.append(_Part(start, end, part.offset + each.width, part.rise + each.rise))
    parts.sort(key=lambda part: part.start)
    edges = [each.start, *(part.end for part in parts)]
    if (
        not parts
        or any(abs(part.start - edge) > 1e-6 for part, edge in zip(parts, edges, strict=False))
        or (abs(edges[-1] - each.end) > 1e-6)
    ):
        raise SourceError(
            f"{each.place}: '{each.line}' counts from '{each.after}', which does not cover its whole stretch once."
        )
    return parts


def _part(line: CentreLine, profile: Profile, part: _Part, within: float, each: _Stretch) -> ParallelPieces:
    breaks = np.concatenate([profile.station - profile.curve_in, profile.station, profile.station + profile.curve_out])
    try:
        return parallel(
            line.course, start=part.start, end=part.end, offset=part.offset, breaks=breaks, within=within,
            elevation=lambda station: profile_at(profile, station)[0] + part.rise,
        )  # fmt: skip
    except GeometryInputError as error:
        raise SourceError(f"{each.place}: '{each.line}': {error}.") from error


def _joined(parts: list[ParallelPieces], each: _Stretch, line: CentreLine) -> ParallelPieces:
    for one, other in itertools.pairwise(parts):
        if np.hypot(*(other.start[0] - one.end[-1])) > 0.005:
            where = line.station_words(one.station[-1:])[0]
            raise SourceError(
                f"{each.place}: '{each.line}' jumps sideways at {where}, where the line it counts from does; give it "
                "two rows, one for each stretch."
            )
    return ParallelPieces(*(np.concatenate(values) for values in zip(*parts, strict=True)))


def _elements(name: str, pieces: ParallelPieces) -> pd.DataFrame:
    """Rows of `design_elements`."""
    ends = {
        f"{end}_{axis}": getattr(pieces, end)[:, column]
        for end in ("start", "end", "centre")
        for column, axis in enumerate(("easting", "northing"))
    }
    bent = pieces.sense != 0
    for axis in ("easting", "northing"):
        ends[f"centre_{axis}"] = np.where(bent, ends[f"centre_{axis}"], np.nan)
    return pd.DataFrame(
        {
            "line": name,
            "sequence": np.arange(len(pieces.length)),
            "shape": np.where(bent, "arc", "line"),
            **ends,
            "radius": pieces.radius,
            "sense": pieces.sense.astype(np.int64),
            "start_station": np.cumsum(pieces.length) - pieces.length,
            "length": pieces.length,
            "start_elevation": pieces.start_elevation,
            "end_elevation": pieces.end_elevation,
        }
    )


def _drawn(rows: pd.DataFrame, names: list[str]) -> list[Any]:
    """Shapes of the lines, for drawing only."""
    import shapely

    number = np.asarray(rows["line"].map({name: at for at, name in enumerate(names)}), dtype=np.int64)

    def pair(end: str) -> np.ndarray:
        return rows[[f"{end}_easting", f"{end}_northing"]].to_numpy(float)

    def numbers(name: str) -> np.ndarray:
        return rows[name].to_numpy(float)

    elements = Elements(
        line=number, shape=(rows["shape"] == "arc").to_numpy(np.int8), sense=rows["sense"].to_numpy(np.int8),
        start=pair("start"), end=pair("end"), centre=pair("centre"), radius=numbers("radius"),
        start_station=numbers("start_station"), length=numbers("length"),
        start_elevation=numbers("start_elevation"), end_elevation=numbers("end_elevation"),
    )  # fmt: skip
    vertices = chords(elements, max_sagitta=0.01)
    return [shapely.linestrings(vertices.coordinates[vertices.line == at]) for at in range(len(names))]
