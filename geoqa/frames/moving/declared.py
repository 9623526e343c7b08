"""What the numbers of a file mean: what the job declares, what the file says, and what is left to assume.

The job's word stands over the file's, but a contradiction between the two is never settled in
silence: it is an error until the job says that it is meant.
"""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from geoqa.errors import FrameError
from geoqa.frames.systems import engine
from geoqa.frames.systems.definitions import linear_unit, short, systems, vertical_system
from geoqa.frames.systems.projection import same_projection
from geoqa.model.frame import Frame
from geoqa.model.quantity import UNITS, LengthUnit
from geoqa.model.source import Evidence, Source
from geoqa.model.tables.columns import COORDINATES

if TYPE_CHECKING:
    import pyproj


@dataclass(frozen=True, kw_only=True)
class FileFrame:
    """Meaning of one file's numbers.

    Attributes
    ----------
    system : str
        Code or WKT of its projected system.
    system_unit : LengthUnit
        The system's own unit.
    unit : LengthUnit
        What eastings, northings and horizontal lengths are in.
    elevation_unit : LengthUnit
        What elevations and vertical lengths are in.
    evidence : tuple of Evidence
    """

    system: str
    system_unit: LengthUnit
    unit: LengthUnit
    elevation_unit: LengthUnit
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True, kw_only=True)
class _Settling:
    """One file being settled: which one, whether the job's word may stand, and what was found so far."""

    source: Source
    frame: Frame
    what: str
    accept: bool
    evidence: list[Evidence] = field(default_factory=list)

    def note(self, about: str, answer: str, because: str, *, first: bool = False) -> None:
        self.evidence.append(Evidence(what=about, answer=answer, because=because, first=first))

    def conflict(self, about: str, file_says: str, job_says: str) -> None:
        said = f"the file says {file_says}, the job says {job_says}"
        if not self.accept:
            raise FrameError(
                f"{self.what}: {about} conflict: {said}. Correct the job file, or set accept = true beside it "
                "if the file's own statement is known to be wrong."
            )
        self.note(about, job_says, f"{said}; accepted in the job file")


def settle(
    source: Source,
    *,
    frame: Frame,
    what: str,
    declared: str | None = None,
    unit: LengthUnit | None = None,
    vertical: LengthUnit | str | None = None,
    ellipsoid_heights: bool = False,
    accept: bool = False,
) -> FileFrame:
    """Settle what a file's numbers mean.

    Parameters
    ----------
    source : Source
        With what the file says of itself in `crs` and `unit`.
    frame : Frame
        The job's; assumed for whatever nobody states.
    what : str
        Which file, for messages.
    declared, unit, vertical
        The job's word: system, unit of length, and vertical system or unit of elevations.
    ellipsoid_heights : bool
        Elevations are heights above the ellipsoid.
    accept : bool
        The job's word stands where the file contradicts it.

    Raises
    ------
    FrameError
        The job and the file contradict each other, the file contradicts itself, or its vertical
        datum is another than the job's.
    """
    settling = _Settling(source=source, frame=frame, what=what, accept=accept)
    stated = _stated(settling, declared)
    system = declared or stated or frame.horizontal_wkt
    plan, height = systems(system, f"{what}: frame")
    if declared is None and stated is None:
        settling.note(
            "coordinate system",
            f"assumed: the job's frame, {frame.horizontal_name}",
            "neither the file nor the job says",
        )
    elif declared and stated and not same_projection(declared, stated):
        settling.conflict("coordinate system", _name(stated), _name(declared))
    system_unit = linear_unit(plan, what=f"{what}: {plan.name}")
    file_plan, file_height = systems(stated) if stated else (None, None)
    own = None if file_plan is None else linear_unit(file_plan, what=f"{what}: the file's own coordinate system")
    length = _unit(settling, own, unit, system_unit if declared else None) or system_unit
    if unit is not None and unit != system_unit:
        settling.note(
            "unit",
            f"{unit.full_name}, as the job says",
            f"the coordinate system itself is in {system_unit.full_name}",
        )
    if isinstance(vertical, str) and vertical not in UNITS and not any(mark in vertical for mark in ":[{"):
        raise FrameError(
            f"{what}: vertical '{vertical}' is neither a unit ({', '.join(UNITS)}) nor a vertical system. "
            "State one of either, for example EPSG:8228 (NAVD88 height (ft))."
        )
    job_height = vertical or (height.to_wkt() if height is not None and declared else None)
    return FileFrame(
        system=system,
        system_unit=system_unit,
        unit=length,
        elevation_unit=_elevation_unit(
            settling,
            UNITS.get(job_height, job_height) if isinstance(job_height, str) else job_height,
            None if file_height is None else file_height.to_wkt(),
            length,
            ellipsoid_heights,
        ),
        evidence=tuple(settling.evidence),
    )


def _stated(settling: _Settling, declared: str | None) -> str | None:
    """Coordinate system the file itself states, if it can be used."""
    text = settling.source.crs
    if text is None:
        return None
    try:
        systems(text, f"{settling.what}: the file's own coordinate system")
    except FrameError as error:
        if declared is None:
            raise FrameError(f"{error} If the file's statement is wrong, declare its frame in the job.") from error
        try:
            said = engine.crs(text).name
        except FrameError:
            settling.note(
                "coordinate system",
                f"as the job declares: {_name(declared)}",
                f"the file's own statement '{short(text)}' cannot be read",
            )
        else:
            settling.conflict("coordinate system", said, _name(declared))
        return None
    return text


def _unit(
    settling: _Settling, own: LengthUnit | None, unit: LengthUnit | None, system_unit: LengthUnit | None
) -> LengthUnit | None:
    """Unit by the job's word (`unit`, else the unit of the system it declares), else by the file's.

    `own` is the unit of the system that the file itself states.
    """
    file_unit = settling.source.unit
    if own is not None:
        if file_unit is not None and file_unit != own and unit is None:
            raise FrameError(
                f"{settling.what}: unit conflict inside the file: its header says {file_unit.full_name}, its "
                f"coordinate system {_name(settling.source.crs or '')}; set unit for this file in the job"
                f"{_apart(settling.source, file_unit, own)}."
            )
        file_unit = file_unit or own
    job_unit, doubt = unit or system_unit, settling.source.unit_doubt
    if doubt and own is None:
        return _doubtful_unit(settling, job_unit)
    if job_unit is None and file_unit is not None:
        where = "coordinate system" if settling.source.unit is None else "header"
        settling.note("unit", file_unit.full_name, f"the file's own {where} says so")
    elif job_unit is not None and file_unit is not None and job_unit != file_unit:
        apart = _apart(settling.source, file_unit, job_unit)
        settling.conflict("unit", file_unit.full_name, f"{job_unit.full_name}{apart}")
    return job_unit or file_unit


def _doubtful_unit(settling: _Settling, job_unit: LengthUnit | None) -> LengthUnit | None:
    """Unit of a file whose own word is not certain: the job's, wherever it says one."""
    source, frame = settling.source, settling.frame
    if job_unit is not None:
        if job_unit != source.unit:
            said = f"the file's own {source.unit_doubt} does not bind: the job's word stands"
            settling.note("unit", job_unit.full_name, said)
        return job_unit
    if source.unit is None:
        raise FrameError(
            f"{settling.what}: its unit is not known: the file says {source.unit_doubt}. State what its coordinates "
            f'are in beside the file: unit = "{frame.unit.name}" (ft, ftUS or m).'
        )
    apart = _apart(source, source.unit, frame.unit) if source.unit != frame.unit else ""
    because = f"the file's own header says so ({source.unit_doubt})"
    if apart:
        because += f'; state unit = "{frame.unit.name}" beside it if that is meant{apart}'
    settling.note("unit", source.unit.full_name, because, first=bool(apart))
    return source.unit


def _elevation_unit(
    settling: _Settling,
    job_says: LengthUnit | str | None,
    file_says: str | None,
    unit: LengthUnit,
    ellipsoid: bool,
) -> LengthUnit:
    what = settling.what
    system = job_says if isinstance(job_says, str) else None
    if ellipsoid and (system or file_says):
        named = vertical_system(system or file_says or "", what).name
        raise FrameError(
            f"{what}: heights are declared as ellipsoid heights, and a vertical system is named too ({named}); "
            "they are either elevations in that system or ellipsoid heights: take heights = or vertical = out of its "
            "table."
        )
    if system and file_says and not _same_height(system, file_says):
        settling.conflict("vertical system", vertical_system(file_says).name, vertical_system(system, what).name)
    named_by = system or file_says
    if named_by:
        _check_datum(named_by, settling.frame, what)
    if isinstance(job_says, LengthUnit):
        return job_says
    if named_by:
        return linear_unit(vertical_system(named_by, what), what=f"{what}: vertical")
    return _assumed(settling, unit, ellipsoid)


def _assumed(settling: _Settling, unit: LengthUnit, ellipsoid: bool) -> LengthUnit:
    frame = settling.frame
    in_frame = unit == frame.unit and frame.vertical_unit is not None and not ellipsoid
    assumed = frame.vertical_unit if in_frame and frame.vertical_unit is not None else unit
    if assumed != frame.unit:
        like = "the job's vertical system is in it" if in_frame else "eastings and northings are in it"
        settling.note(
            "unit of elevations",
            f"assumed: {assumed.full_name}",
            f"neither the file nor the job says; {like}",
            first=True,
        )
    return assumed


def _check_datum(text: str, frame: Frame, what: str) -> None:
    if frame.vertical_wkt is None:
        return
    one, job = vertical_system(text, f"{what}: vertical"), vertical_system(frame.vertical_wkt)
    if _datum(one) != _datum(job):
        raise FrameError(
            f"{what}: its elevations are in {one.name}, the job's in {job.name}; they lie on different vertical "
            "datums, and no shift between vertical datums is made here. Convert the elevations first, "
            "and declare the result."
        )


def _datum(crs: "pyproj.CRS") -> str:
    name = crs.name if crs.datum is None else crs.datum.name
    return name.casefold().replace("_", " ")


def _same_height(one: str, two: str) -> bool:
    first, second = vertical_system(one), vertical_system(two)
    units = {linear_unit(each, what="vertical") for each in (first, second)}
    return _datum(first) == _datum(second) and len(units) == 1


def _name(text: str) -> str:
    plan, height = systems(text)
    unit = linear_unit(plan, what="frame").full_name
    return f"{plan.name} ({unit})" + ("" if height is None else f" + {height.name}")


def _apart(source: Source, one: LengthUnit, two: LengthUnit) -> str:
    """How far two readings of this file's middle position lie apart, in the second unit."""
    for name, table in source.layers.items():
        for east, north, _ in COORDINATES.get(name, ()):
            if east in table and north in table:
                pairs = table[[east, north]].to_numpy(float)
                pairs = pairs[np.isfinite(pairs).all(axis=1)]
                if len(pairs):
                    shift = np.median(pairs, axis=0) * (float(one.metres / two.metres) - 1.0)
                    return f"; here the two lie {shift[0]:.2f} {two.name} east, {shift[1]:.2f} {two.name} north apart"
    return ""
