"""A picture of the ground under the map, in the job's grid: orthophoto or design raster; never measured on."""

from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from geoqa.model.frame import Frame
from geoqa.model.quantity import LengthUnit
from geoqa.model.source import Evidence, Reader

Box = tuple[float, float, float, float]
"""West, south, east, north in the job's grid."""


@dataclass(frozen=True, kw_only=True)
class Picture:
    """An encoded picture and where it lies: north up, square pixels, in the job's grid.

    Attributes
    ----------
    west, north : float
        The outer corner of its first pixel, in the job's unit.
    pixel : float
        Side of one of its pixels, in the job's unit.
    width, height : int
        Pixels.
    media : str
        Media type of `data`.
    data : bytes
    own_pixel : float
        Side of a pixel of the file it was made from, in the job's unit.
    remarks : tuple of str
        What a reader of the map should know of how it was made.
    evidence : tuple of Evidence
        What was found out about the file's coordinates.
    """

    west: float
    north: float
    pixel: float
    width: int
    height: int
    media: str
    data: bytes
    own_pixel: float
    remarks: tuple[str, ...] = ()
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Background:
    """A picture as a job shows it.

    Attributes
    ----------
    file : str
        As the job names it.
    caption : str
        The job's own words; may be empty.
    opacity : float
        From 0, not seen, to 1, covering.
    picture : Picture
    """

    file: str
    caption: str
    opacity: float
    picture: Picture

    def describe(self, unit: LengthUnit) -> str:
        """Say for the legend what is shown, how fine it is, and what it is not for.

        Examples
        --------
        >>> from geoqa.model.quantity import FOOT
        >>> picture = Picture(west=0.0, north=0.0, pixel=0.5, width=2, height=2, media="image/webp", data=b"",
        ...                   own_pixel=0.25, remarks=("band 4 is not shown",))
        >>> Background(file="ortho.tif", caption="", opacity=0.5, picture=picture).describe(FOOT)
        'ortho.tif, pixel 0.25 ft, shown at 0.5 ft; band 4 is not shown. Picture only: nothing is measured on it.'
        """
        made = self.picture
        shown = f", shown at {made.pixel:.3g} {unit.name}" if made.pixel > 1.005 * made.own_pixel else ""
        name = f"{self.caption} ({self.file})" if self.caption else self.file
        parts = [f"{name}, pixel {made.own_pixel:.3g} {unit.name}{shown}", *made.remarks]
        return "; ".join(parts) + ". Picture only: nothing is measured on it."


class BackgroundReader(Reader):
    """Base of every reader of pictures: beside `peek` and `read`, it makes the picture."""

    role: ClassVar[str] = "background"

    def picture(self, path: Path, *, frame: Frame, box: Box, declared: str | None, accept: bool, what: str) -> Picture:
        """Make the part of the file inside `box` into a picture in the job's grid.

        Parameters
        ----------
        path : path
        frame : Frame
            The job's.
        box : west, south, east, north
            What the map needs, in the job's grid.
        declared : str or None
            Coordinate system the job declares for the file, code or WKT.
        accept : bool
            The job's word stands where the file contradicts it.
        what : str
            Which file, for messages.

        Raises
        ------
        SourceError, FrameError
            The file is no picture, has no place on the ground, stands on another datum, or shows
            nothing of the box.
        """
        raise NotImplementedError

    def beside(self, path: Path) -> tuple[Path, ...]:
        """Other files that say where the picture lies, such as a world file."""
        return ()
