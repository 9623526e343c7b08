"""A file about an origin of its own, as the job states it: put on the grid by one turn and one shift."""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from geoqa.model.source import Evidence, Source
from geoqa.model.tables.columns import COORDINATES

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class LocalOrigin:
    """Where a file's own coordinates lie.

    Attributes
    ----------
    point, at : (easting, northing)
        A place in the file's coordinates, and where it is on the grid; both in the file's unit.
    turn_deg : float
        Degrees, counter-clockwise, by which the file is turned from the grid.
    reference : str
        Where these are stated.
    """

    point: tuple[float, float]
    at: tuple[float, float]
    turn_deg: float
    reference: str

    def evidence(self) -> Evidence:
        """What is done with the file, for the record and for whoever checks the job."""
        (east, north), at = self.point, self.at
        answer = f"{east}, {north} lies at {at[0]}, {at[1]}, and all is turned back by {self.turn_deg}°"
        return Evidence(what="local origin", answer=answer, because=self.reference)


def on_the_grid(source: Source, local: LocalOrigin) -> Source:
    """Every place of a file on the grid; elevations, lengths and radii stay.

    Examples
    --------
    >>> import pandas as pd
    >>> points = pd.DataFrame({"easting": [0.0], "northing": [30.0]})
    >>> local = LocalOrigin(point=(0.0, 0.0), at=(500.0, 700.0), turn_deg=90.0, reference="sheet C-1")
    >>> put = on_the_grid(Source(layers={"design_points": points}), local).layers["design_points"]
    >>> put.loc[0, "easting"].round(6), put.loc[0, "northing"].round(6)
    (np.float64(530.0), np.float64(700.0))
    """
    layers = {name: _put(name, table, local) for name, table in source.layers.items()}
    return replace(source, layers=layers, evidence=(*source.evidence, local.evidence()))


def _put(name: str, table: "pd.DataFrame", local: LocalOrigin) -> "pd.DataFrame":
    columns: dict[str, Any] = {}
    for east, north, _ in COORDINATES.get(name, ()):
        if east in table and north in table:
            placed = _moved(table[[east, north]].to_numpy(float), local)
            columns[east], columns[north] = placed[:, 0], placed[:, 1]
    if name == "design_lines" and "geometry" in table:
        import shapely

        shapes = np.asarray(table["geometry"].to_numpy(), dtype=object)
        columns["geometry"] = shapely.transform(shapes, lambda pairs: _moved(pairs, local))
    if name == "baseline" and "azimuth" in table:
        columns["azimuth"] = np.mod(table["azimuth"].to_numpy(float) + local.turn_deg, 360.0)
    return table.assign(**columns) if columns else table


def _moved(pairs: Array, local: LocalOrigin) -> Array:
    angle = np.radians(-local.turn_deg)
    cos, sin = np.cos(angle), np.sin(angle)
    away = pairs - np.asarray(local.point)
    placed: Array = away @ np.array([[cos, sin], [-sin, cos]]) + np.asarray(local.at)
    return placed
