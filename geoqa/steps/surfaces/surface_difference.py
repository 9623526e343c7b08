"""The as-built surface minus the design surface, on a grid."""

import math

import numpy as np
import pandas as pd
from pydantic import Field

from geoqa.kernels.design.tin_elevation import surface_at
from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.surfaces.design_surface import AXES, CORNERS, surface_named
from geoqa.steps.surfaces.surface_deviations import APART

MOST_CELLS = 1_000_000
"""Of the box round the as-built surface; where it would hold more, cells are made larger."""


class SurfaceDifference(Step):
    """Tell how far the as-built surface lies above or below the design surface, at the centres of square cells.

    The corners of cells lie on whole multiples of their side, so that grids of two rounds lie on each other. A cell has
    a number where both surfaces have a face over its centre, and those of the design give one answer. It shows where to
    look and judges nothing: between shots the as-built surface is what was triangulated.
    """

    name = "surface-difference"
    needs = ("surface_points", "surface_faces", "asbuilt_surface_points", "asbuilt_surface_faces")
    gives = ("surface_difference",)

    cell: Length = Field(Length.parse("1 ft"), description="Side of a cell; larger where the grid would be too large")
    surface: str = Field("", description="Name of the design surface; where one was read, it need not be named")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One row for each cell that has a number."""
        made = difference_cells(layers, self.surface, self.cell, most=MOST_CELLS)
        return {
            "surface_difference": empty("surface_difference") if made is None else conform("surface_difference", made)
        }


def difference_cells(layers: Layers, name: str, cell: Length, *, most: int) -> pd.DataFrame | None:
    """As-built minus design surface at the centres of square cells.

    Parameters
    ----------
    layers : Layers
        With the points and faces of both surfaces.
    name : str
        Of the design surface; may be empty where there is one alone.
    cell : Length
        Least side of a cell; doubled until the box round the as-built surface holds no more than `most`.
    most : int

    Returns
    -------
    DataFrame or None
        Columns of `surface_difference`, a row for each cell that has a number; None without one of the surfaces.
    """
    surface = surface_named(layers, name)
    points = layers["asbuilt_surface_points"][AXES].to_numpy(float)
    faces = layers["asbuilt_surface_faces"][CORNERS].to_numpy(np.int64)
    if surface is None or not len(faces):
        return None
    used = points[np.unique(faces), :2]
    side = cell_side(used, cell.to(layers.frame.unit), most)
    first, last = np.floor(used.min(axis=0) / side), np.ceil(used.max(axis=0) / side)
    across, up = (last - first).astype(np.int64).tolist()
    # rows are counted from the north, as those of a raster
    row, column = np.divmod(np.arange(across * up), across)
    east, north = (first[0] + column + 0.5) * side, (last[1] - row - 0.5) * side
    built = surface_at(points, faces, east, north)
    on = np.flatnonzero(built.face >= 0)
    design = surface_at(surface.points, surface.faces, east[on], north[on])
    sure = np.nan_to_num(design.highest - design.lowest, nan=np.inf) <= APART.to(layers.frame.unit)
    on, level = on[sure], design.elevation[sure]
    made = pd.DataFrame(
        {
            "column": column[on], "row": row[on], "easting": east[on], "northing": north[on], "cell": side,
            "asbuilt": built.elevation[on], "design": level, "difference": built.elevation[on] - level,
        }
    )  # fmt: skip
    return made.assign(surface=surface.name)


def cell_side(places: np.ndarray, side: float, most: int = MOST_CELLS) -> float:
    """Side of a cell: as asked, doubled until the box round the places holds no more than `most`.

    Examples
    --------
    >>> cell_side(np.array([[0.0, 0.0], [3000.0, 1000.0]]), 1.0)
    2.0
    """
    extent = np.ptp(places, axis=0)
    while math.prod((np.ceil(extent / side) + 1).tolist()) > most:
        side *= 2
    return side
