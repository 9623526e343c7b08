"""Points of a baseline and of its profile that stand in the job file itself, as rows of numbers."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError

from geoqa.errors import SourceError
from geoqa.model.alignment import Alignment
from geoqa.model.format import Format
from geoqa.model.source import Peek, Reader, Source
from geoqa.model.station import ALLOWED, parse_station
from geoqa.read.baseline.alignment_reader import AlignmentReader
from geoqa.read.baseline.profile import profile_of
from geoqa.read.baseline.table import intersections
from geoqa.read.delimited.delimited import TextTable
from geoqa.read.delimited.listing import Listing

if TYPE_CHECKING:
    from typing import Self


_UNIT = "in the unit that this table states, else the job's"


def _station(text: str) -> str:
    if parse_station(text) is None:
        raise PydanticCustomError(
            "station", "{value} is no station; {allowed}", {"value": repr(text), "allowed": ALLOWED}
        )
    return text


def _as_text(value: object) -> object:
    return repr(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


def _bare(value: object) -> object:
    if isinstance(value, str):
        told = {"value": repr(value[:40])}
        raise PydanticCustomError(
            "number", "must be a number without a unit, {unit}; it is {value}", told | {"unit": _UNIT}
        )
    return value


Number = Annotated[float, BeforeValidator(_bare), Field(allow_inf_nan=False, strict=True)]
StationText = Annotated[str, BeforeValidator(_as_text), AfterValidator(_station)]


class Row(BaseModel):
    """One row: frozen, and without keys nobody knows."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class IntersectionRow(Row):
    """A point of intersection, or an end of the line."""

    point: str = Field("", max_length=100, description="Its name, for whoever reads the job file.")
    easting: Number = Field(description=f"Easting, {_UNIT}.")
    northing: Number = Field(description=f"Northing, {_UNIT}.")
    radius: Number | None = Field(None, gt=0, description="Radius of the curve there; left out where there is none.")
    spiral: Number | None = Field(None, ge=0, description="Length of the spiral before and behind the curve.")
    spiral_in: Number | None = Field(None, ge=0, description="Length of the spiral before it, where they differ.")
    spiral_out: Number | None = Field(None, ge=0, description="Length of the spiral behind it, where they differ.")
    turn: Literal["L", "R"] | None = Field(None, description="The side it turns to, held against the points.")
    station: StationText | None = Field(None, description='Station of the first point, e.g. "10+00".')


class ProfileRow(Row):
    """A point of vertical intersection."""

    station: StationText = Field(description='As the drawing has it, e.g. "12+50.25".')
    elevation: Number = Field(description="Elevation of the point.")
    curve: Number | None = Field(None, ge=0, description="Length of the parabola about it.")
    curve_in: Number | None = Field(None, ge=0, description="Length of its first part, where the two differ.")
    curve_out: Number | None = Field(None, ge=0, description="Length of its second part, where the two differ.")
    equation: int | None = Field(None, ge=0, description="Station equations before it, where a station stands twice.")


class StatedPoints(Reader):
    """What rows of either kind share: they are checked with the job file, and there is no file to open."""

    in_memory: ClassVar[bool] = True

    points: tuple[Any, ...] = Field(description="Points in order, a table each.")

    @model_validator(mode="after")
    def _holds_together(self) -> Self:
        with_place(self)
        return self

    def peek(self, path: Path) -> Peek:
        """What the rows hold."""
        return Peek(columns=rows_of(self.points, path.name).table.columns)

    def fingerprint(self) -> str:
        """Hash of the rows."""
        return _hash(self.points)


class BaselinePoints(StatedPoints, AlignmentReader):
    """Points of intersection in the job file: the same alignment as from a table of the same numbers."""

    format: ClassVar[Format | None] = Format(
        title="points of intersection in the job file",
        keeps="lines, arcs, clothoids, spirals in and out, the station of the start",
        loses="no coordinate system, superelevation or cross sections",
    )

    points: tuple[IntersectionRow, ...] = Field(description="Points of intersection in order, a table each.")

    def read(self, path: Path, *, source: str) -> Source:
        """Make the alignment.

        Raises
        ------
        SourceError
            It does not hold together: the row and what is allowed are named.
        """
        rows = rows_of(self.points, path.name)
        made = intersections(rows, kink=self.kink_deg)
        return self.source_of(Alignment(name="points", pieces=made, place=rows.at(0)), file=path.name)


class ProfilePoints(StatedPoints):
    """Points of vertical intersection in the job file: the same profile as from a table of the same numbers."""

    role: ClassVar[str] = "profile"
    format: ClassVar[Format | None] = Format(
        title="points of vertical intersection in the job file",
        keeps="station, elevation, equal and unequal parabolas",
        loses="cross slopes and superelevation",
    )

    points: tuple[ProfileRow, ...] = Field(description="Points of the profile in order, a table each.")

    def read(self, path: Path, *, source: str) -> Source:
        """Make the profile.

        Raises
        ------
        SourceError
            Points are out of order, or curves overlap.
        """
        return profile_of(rows_of(self.points, path.name), unit=None)


def rows_of(points: Sequence[Row], name: str) -> Listing:
    """Rows of the job file as the table that a file of the same numbers would be."""
    import pandas as pd

    said = [{key: value for key, value in each if value not in (None, "")} for each in points]
    columns = tuple(dict.fromkeys(key for each in said for key in each))
    table = TextTable(
        name=name,
        columns=columns,
        header=True,
        text=tuple(pd.Series([_text(each.get(key)) for each in said], dtype="str") for key in columns),
        lines=np.arange(1, len(said) + 1, dtype=np.int64),
        decimal=".",
        facts={"rows": str(len(said))},
        evidence=(),
        troubles=(),
        counted="row",
    )
    place = {key: at for at, key in enumerate(columns)}
    return Listing(
        table=table, place=place, unit={}, evidence=[], troubles=[], allowed=0,
        dropped=np.zeros(len(said), dtype=bool),
    )  # fmt: skip


def with_place(reader: StatedPoints) -> None:
    """Read the rows once, so that what cannot be is told with the job file's other problems, at its row."""
    if (held := len(reader.points)) < 2:
        problem = PydanticCustomError("points", "needs two rows at least, and has {held}", {"held": held})
        raise ValidationError.from_exception_data(
            reader.role, [InitErrorDetails(type=problem, loc=("points",), input={})]
        )
    try:
        reader.read(Path("points"), source=reader.role)
    except SourceError as error:
        raise ValidationError.from_exception_data(reader.role, list(_problems(str(error)))) from None


_AT_ROW = re.compile(r"^'points'(?:, row (\d+))?(?:, \w+)?(?:, baseline '.*?')?: ", re.DOTALL)


def _problems(said: str) -> Iterator[InitErrorDetails]:
    found = _AT_ROW.match(said)
    row = (int(found[1]) - 1,) if found and found[1] else ()
    text = said[found.end() :] if found else said
    problem = PydanticCustomError("points", "{said}", {"said": text})
    yield InitErrorDetails(type=problem, loc=("points", *row), input={})


def _text(value: Any) -> str:
    return "" if value is None else value if isinstance(value, str) else repr(value)


def _hash(points: Sequence[Row]) -> str:
    rows: list[Mapping[str, Any]] = [each.model_dump(exclude_none=True) for each in points]
    return hashlib.sha256(json.dumps(rows, sort_keys=True).encode()).hexdigest()
