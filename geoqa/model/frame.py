"""The job's frame: coordinate system, vertical datum, epoch and unit, all explicit."""

from dataclasses import dataclass, fields
from typing import Any

from geoqa.model.quantity import LengthUnit


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What a coordinate of this job means.

    Attributes
    ----------
    horizontal : str
        As the job wrote it, e.g. ``EPSG:6547``, or ``WKT`` for one given as text.
    horizontal_name : str
    horizontal_wkt : str
        WKT2 of the horizontal system: what is handed to every library that asks.
    unit : LengthUnit
        The one linear unit inside, horizontal and vertical alike, from the system's own factor.
    vertical, vertical_name, vertical_wkt : str or None
    vertical_unit : LengthUnit or None
        The vertical system's own unit; elevations are scaled to `unit` by us, at the door.
    realization : str or None
    epoch : float or None
        Decimal year of the coordinates, where the job states it.
    geoid : str or None
        Name of the geoid grid in use.
    combined_factor : float or None
        Grid over ground, with `ground_origin` (easting, northing) it is held at.
    ground_shift : (easting, northing)
        What was added to ground coordinates after scaling, for example (-2,000,000, 0) where they were shortened.
    ground_reference : str or None
        Where factor, origin and shift are stated.
    database : str
        Version of the coordinate-system database that resolved the codes.
    """

    horizontal: str
    horizontal_name: str
    horizontal_wkt: str
    unit: LengthUnit
    vertical: str | None = None
    vertical_name: str | None = None
    vertical_wkt: str | None = None
    vertical_unit: LengthUnit | None = None
    realization: str | None = None
    epoch: float | None = None
    geoid: str | None = None
    combined_factor: float | None = None
    ground_origin: tuple[float, float] | None = None
    ground_shift: tuple[float, float] = (0.0, 0.0)
    ground_reference: str | None = None
    database: str = ""

    def describe(self) -> str:
        """Say the whole frame in one line, for a title block.

        Examples
        --------
        >>> from geoqa.model.quantity import FOOT
        >>> Frame(horizontal="EPSG:6547", horizontal_name="NAD83(2011) / North Dakota South (ft)",
        ...       horizontal_wkt="", unit=FOOT).describe()
        'NAD83(2011) / North Dakota South (ft) (EPSG:6547), international foot, vertical datum not stated'
        """
        code = f" ({self.horizontal})" if ":" in self.horizontal else ""
        parts = [f"{self.horizontal_name}{code}", self.unit.full_name]
        if self.vertical_name:
            parts.append(f"{self.vertical_name}" + (f" ({self.vertical})" if ":" in (self.vertical or "") else ""))
        else:
            parts.append("vertical datum not stated")
        if self.geoid:
            parts.append(f"geoid {self.geoid}")
        if self.realization:
            parts.append(self.realization)
        if self.epoch is not None:
            parts.append(f"epoch {self.epoch:.2f}")
        if self.combined_factor is not None and self.ground_origin is not None:
            parts.append(self._ground())
        return ", ".join(parts)

    def facts(self) -> dict[str, Any]:
        """Every fact of it, JSON-ready: for the record of a run, and for files that say what their coordinates mean.

        Examples
        --------
        >>> from geoqa.model.quantity import FOOT
        >>> told = Frame(horizontal="local", horizontal_name="site grid", horizontal_wkt="", unit=FOOT).facts()
        >>> told["words"], told["unit"], told["unit_metres"], told["vertical"]
        ('site grid, international foot, vertical datum not stated', 'ft', '0.3048', None)
        """
        told = {each.name: getattr(self, each.name) for each in fields(self)}
        told["unit"], told["vertical_unit"] = self.unit.name, self.vertical_unit and self.vertical_unit.name
        return {"words": self.describe(), "unit_metres": self.unit.metres_exact, **told}

    def _ground(self) -> str:
        """Factor, origin and shift of ground coordinates, as a reader checks them against the plan's notes."""
        east, north = self.ground_origin or (0.0, 0.0)
        said = f"ground coordinates: combined factor {self.combined_factor!r} about E {east:.3f} N {north:.3f}"
        if any(self.ground_shift):
            said += f", then E {self.ground_shift[0]:+.3f} N {self.ground_shift[1]:+.3f}"
        return said + (f" ({self.ground_reference})" if self.ground_reference else "")
