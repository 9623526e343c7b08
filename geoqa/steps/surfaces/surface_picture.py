"""The as-built surface minus the design surface in few cells, for a look at the whole job."""

import pandas as pd
from pydantic import Field

from geoqa.model.quantity import Length
from geoqa.model.step import Step
from geoqa.model.tables.columns import conform, empty
from geoqa.model.tables.layer import Layers
from geoqa.steps.surfaces.surface_difference import difference_cells

MOST_CELLS = 40_000
"""Of the box round the as-built surface: what the map of a job of any size can carry."""


class SurfacePicture(Step):
    """Tell how far the as-built surface lies above or below the design surface, in cells coarse enough for a map.

    As `surface-difference`, which makes the raster, with cells made larger until the box round the as-built surface
    holds no more than 40,000. It shows where to look and judges nothing.
    """

    name = "surface-picture"
    only_with = ("surface_points",)
    needs = ("surface_points", "surface_faces")
    wants = ("asbuilt_surface_points", "asbuilt_surface_faces")
    gives = ("surface_picture",)

    cell: Length = Field(Length.parse("1 ft"), description="Least side of a cell; larger where there would be too many")
    surface: str = Field("", description="Name of the design surface; where one was read, it need not be named")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """One row for each cell that has a number."""
        if "asbuilt_surface_points" not in layers or not len(layers["asbuilt_surface_faces"]):
            return {"surface_picture": empty("surface_picture")}
        cells = difference_cells(layers, self.surface, self.cell, most=MOST_CELLS)
        return {"surface_picture": empty("surface_picture") if cells is None else conform("surface_picture", cells)}
