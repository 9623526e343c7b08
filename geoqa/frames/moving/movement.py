"""How positions get from a file's frame into the job's: not at all, by an exact scale, or by a known operation."""

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geoqa.errors import FrameError
from geoqa.frames.moving.declared import FileFrame
from geoqa.frames.moving.operations import Operation, pick
from geoqa.frames.systems.factors import convergence, ground_to_grid
from geoqa.frames.systems.geographic import bounds
from geoqa.frames.systems.projection import origin_shift
from geoqa.model.frame import Frame
from geoqa.model.source import Evidence

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Movement:
    """From a file's frame into the job's.

    Attributes
    ----------
    frame : Frame
    file : FileFrame
    scale, vertical_scale : fractions.Fraction
        File unit over job unit, exact.
    shift : (easting, northing)
        Difference of the false origins as two definitions of one projection state them, job unit.
    operation : Operation or None
        None where both are one projection.
    ground : bool
        Coordinates are on the ground, about the frame's ground origin.
    epoch : float or None
    """

    frame: Frame
    file: FileFrame
    scale: Fraction
    vertical_scale: Fraction
    shift: tuple[float, float] = (0.0, 0.0)
    operation: Operation | None = None
    ground: bool = False
    epoch: float | None = None

    @property
    def similar(self) -> bool:
        """True where shapes are kept: an arc stays an arc."""
        return self.operation is None

    @property
    def length_factor(self) -> float:
        """Factor for lengths that lie in the plane."""
        ground = self.frame.combined_factor if self.ground else None
        return float(self.scale) * (1.0 if ground is None else ground)

    def positions(self, easting: ArrayLike, northing: ArrayLike, *, what: str) -> tuple[Array, Array]:
        """Move eastings and northings into the job's frame; NaN stays NaN."""
        east, north = np.asarray(easting, float), np.asarray(northing, float)
        if self.operation is None:
            east, north = _scaled(east, self.scale, self.shift[0]), _scaled(north, self.scale, self.shift[1])
        else:
            own = self.file.unit.metres / self.file.system_unit.metres
            east, north = _scaled(east, own), _scaled(north, own)
            east, north = self.operation.apply(east, north, what=what, epoch=self.epoch)
        return ground_to_grid(self.frame, east, north) if self.ground else (east, north)

    def elevations(self, elevation: ArrayLike) -> Array:
        """Scale elevations into the job's unit, by the declared units alone."""
        return _scaled(np.asarray(elevation, float), self.vertical_scale)

    def lengths(self, values: ArrayLike, *, vertical: bool) -> Array:
        """Scale lengths that have no position, such as a reported precision, into the job's unit."""
        return _scaled(np.asarray(values, float), self.vertical_scale if vertical else self.scale)

    def turn(self, easting: ArrayLike, northing: ArrayLike, moved: tuple[Array, Array]) -> Array:
        """Degrees to add to azimuths from the file's grid north, for azimuths from the job's."""
        if self.operation is None:
            return np.zeros(len(moved[0]))
        own = self.file.unit.metres / self.file.system_unit.metres
        there = convergence(
            self.file.system, _scaled(np.asarray(easting, float), own), _scaled(np.asarray(northing, float), own)
        )
        return there - convergence(self.frame, *moved)

    def evidence(self) -> tuple[Evidence, ...]:
        """How the positions were moved, for the record."""
        lines = []
        if self.operation is not None:
            better = "" if self.operation.best else "; a better operation is known and was not there"
            lines.append(
                Evidence(
                    what="coordinate operation",
                    answer=self.operation.description,
                    because=f"from {self.operation.source} to {self.operation.target}, "
                    f"stated accuracy {self.operation.accuracy:g} m{better}",
                )
            )
        elif self.scale != 1 or any(self.shift):
            lines.append(
                Evidence(
                    what="eastings and northings",
                    answer=f"{self.file.unit.name} to {self.frame.unit.name}, times {self.scale}",
                    because="one projection in two units; the scale is exact",
                )
            )
        if self.vertical_scale != 1:
            lines.append(
                Evidence(
                    what="elevations",
                    answer=f"{self.file.elevation_unit.name} to {self.frame.unit.name}, times {self.vertical_scale}",
                    because="scaled by the declared units",
                )
            )
        if self.ground:
            lines.append(
                Evidence(
                    what="ground to grid",
                    answer=f"factor {self.frame.combined_factor!r} about {self.frame.ground_origin}, "
                    f"shift {self.frame.ground_shift}",
                    because="the job says that the file is in ground coordinates; stations run on the grid; "
                    f"source: {self.frame.ground_reference or 'not stated'}",
                )
            )
        return tuple(lines)


def movement(
    file: FileFrame,
    frame: Frame,
    *,
    what: str,
    easting: ArrayLike = (),
    northing: ArrayLike = (),
    ground: bool = False,
    epoch: float | None = None,
    accuracy_limit: float | None = None,
    accept_second_best: bool = False,
) -> Movement:
    """Find the way from a file's frame into the job's.

    Parameters
    ----------
    file : FileFrame
    frame : Frame
    what : str
        Which file, for messages.
    easting, northing : array_like, (n,)
        The file's positions, in its own unit: they say where an operation is needed.
    ground : bool
        The file is in ground coordinates about the frame's ground origin.
    epoch : float, optional
        Decimal year of the file's coordinates.
    accuracy_limit : float, optional
        Worst accuracy of an operation that is taken, metres.
    accept_second_best : bool

    Raises
    ------
    FrameError
        There is no operation that may be taken.
    """
    scale = file.unit.metres / frame.unit.metres
    vertical = file.elevation_unit.metres / frame.unit.metres
    if ground and frame.combined_factor is None:
        raise FrameError(f"{what}: ground coordinates need combined_factor and ground_origin in [frame].")
    own = file.unit.metres / file.system_unit.metres
    east, north = _scaled(np.asarray(easting, float), own), _scaled(np.asarray(northing, float), own)
    metres = origin_shift(file.system, frame)
    if metres is not None:
        shift = (metres[0] / frame.unit.metres_float, metres[1] / frame.unit.metres_float)
        return Movement(frame=frame, file=file, scale=scale, vertical_scale=vertical, shift=shift, ground=ground)
    if ground:
        raise FrameError(f"{what}: ground coordinates must be in the job's own projection, {frame.horizontal_name}.")
    operation = pick(
        file.system,
        frame.horizontal_wkt,
        what=what,
        area=bounds(file.system, east, north),
        accuracy_limit=accuracy_limit,
        accept_second_best=accept_second_best,
    )
    return Movement(
        frame=frame,
        file=file,
        scale=scale,
        vertical_scale=vertical,
        operation=operation,
        epoch=frame.epoch if epoch is None else epoch,
    )


def _scaled(values: Array, scale: Fraction, shift: float = 0.0) -> Array:
    if scale == 1 and shift == 0.0:
        return values  # bit for bit
    return values * float(scale) + shift
