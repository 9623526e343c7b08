"""What every reader of an alignment shares: the keys of `[baseline]`, and the way from the record to tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar

from pydantic import Field, field_validator
from pydantic_core import PydanticCustomError

from geoqa.errors import SourceError
from geoqa.model.alignment import SPIRAL, Alignment, Equation
from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Evidence, Reader, Source, Trouble
from geoqa.model.station import ALLOWED, CONTINUOUS, parse_station

if TYPE_CHECKING:
    import pandas as pd


class AlignmentReader(Reader):
    """Keys of `[baseline]` that do not hang on the kind of file."""

    role: ClassVar[str] = "baseline"

    name: str = Field("", max_length=100, description="Which alignment of the file, or what it is called.")
    start: str | None = Field(None, description='Station of its start, e.g. "10+00"; 0+00 if neither says.')
    equations: tuple[tuple[str, str], ...] = Field(
        (), description='Station equations in order, each ["back", "ahead"], e.g. [["15+00", "20+00"]].'
    )
    kink_deg: float = Field(
        0.05, gt=0, le=60, description="Largest change of direction where two pieces meet, degrees."
    )

    @field_validator("start")
    @classmethod
    def _start_is_station(cls, value: str | None) -> str | None:
        if value is not None:
            _station(value)
        return value

    @field_validator("equations")
    @classmethod
    def _equations_are_stations(cls, value: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
        for pair in value:
            for each in pair:
                _station(each)
        return value

    def started(self) -> float | None:
        """The station the job states for the start."""
        return None if self.start is None else _station(self.start)

    def source_of(
        self,
        alignment: Alignment,
        *,
        file: str,
        unit: LengthUnit | None = None,
        crs: str | None = None,
        facts: Mapping[str, str] | None = None,
        evidence: tuple[Evidence, ...] = (),
        troubles: tuple[Trouble, ...] = (),
    ) -> Source:
        """Tables of an alignment that holds together, with what the job states laid over it.

        Parameters
        ----------
        alignment : Alignment
            As the file has it, in the file's unit.
        file : str
            Name of the file, for messages.

        Raises
        ------
        SourceError
            Something in it cannot be; the message names file, place, and what is allowed.
        """
        from geoqa.model.baseline import first_fault

        alignment = self._as_stated(alignment, file)
        fault = first_fault(alignment, kink=self.kink_deg)
        if fault is not None:
            place, what = fault
            raise SourceError(f"'{file}'{f', {place}' if place else ''}, baseline '{alignment.name}': it {what}.")
        said = tuple(Evidence(what="baseline", answer=each, because="as the file has it") for each in alignment.notes)
        return Source(
            layers=alignment_tables(alignment, file=file),
            crs=crs,
            unit=unit,
            facts={**(facts or {}), "baseline": alignment.name},
            evidence=(*evidence, *said, _counted(alignment)),
            troubles=troubles,
        )

    def _as_stated(self, alignment: Alignment, file: str) -> Alignment:
        start, name = self.started(), self.name or alignment.name
        if start is not None and alignment.pieces:
            by = start - alignment.pieces[0].station
            if by and (alignment.equations or alignment.profile):
                raise SourceError(
                    f"'{file}': the job says start = \"{self.start}\", and the file's own stations have equations "
                    "or a profile that hang on them; leave start out."
                )
            pieces = tuple(replace(each, station=each.station + by) for each in alignment.pieces)
            alignment = replace(alignment, pieces=pieces)
        if self.equations:
            if alignment.equations:
                raise SourceError(f"'{file}' has station equations of its own; leave equations out of the job.")
            made = (Equation(back=_station(b), ahead=_station(a), place="equations") for b, a in self.equations)
            alignment = replace(alignment, equations=tuple(made))
        return replace(alignment, name=name)


def alignment_tables(alignment: Alignment, *, file: str) -> dict[str, pd.DataFrame]:
    """The layers `baseline`, `baseline_equations` and, where there is one, `baseline_profile`."""
    import pandas as pd

    from geoqa.model.tables.columns import conform, empty

    rows = [
        {
            "baseline": alignment.name,
            "sequence": at,
            "shape": each.kind,
            "easting": each.easting,
            "northing": each.northing,
            "azimuth": each.azimuth % 360.0,
            "length": each.length,
            "start_radius": _or_missing(each.start_radius),
            "end_radius": _or_missing(each.end_radius),
            "start_station": each.station,
            "stationed": each.length,
            "left_out": alignment.superelevation,
        }
        for at, each in enumerate(alignment.pieces)
    ]
    equations = [{"back": each.back, "ahead": each.ahead} for each in alignment.equations]
    tables = {
        "baseline": conform("baseline", pd.DataFrame(rows)),
        "baseline_equations": conform("baseline_equations", pd.DataFrame(equations))
        if equations
        else empty("baseline_equations"),
    }
    if alignment.profile:
        points = [
            {
                "equation": CONTINUOUS,
                **{name: getattr(each, name) for name in ("station", "elevation", "curve_in", "curve_out")},
                "place": f"'{file}', {each.place}",
            }
            for each in alignment.profile
        ]
        tables["baseline_profile"] = conform("baseline_profile", pd.DataFrame(points))
    return tables


def _or_missing(radius: float) -> float:
    return float("nan") if radius in (float("inf"), float("-inf")) else radius


def _counted(alignment: Alignment) -> Evidence:
    counts = {kind: sum(each.kind == kind for each in alignment.pieces) for kind in ("line", "arc", SPIRAL)}
    length = sum(each.length for each in alignment.pieces)
    answer = ", ".join(f"{count} {kind}" for kind, count in counts.items() if count)
    return Evidence(what="baseline", answer=f"{answer}; {length:.2f} long", because=f"'{alignment.name}'")


def _station(text: Any) -> float:
    read = parse_station(str(text))
    if read is None or read[1] is not None:
        raise PydanticCustomError(
            "station", "{value} is no station; {allowed}", {"value": repr(text), "allowed": ALLOWED}
        )
    return read[0]
