"""What arguments may be, under the names that signatures use."""

from collections.abc import Sequence
from typing import Any, Protocol, TypeAlias

import geopandas
import numpy as np
import pandas as pd

from geoqa.model.quantity import Length

Placed: TypeAlias = geopandas.GeoDataFrame | geopandas.GeoSeries
"""A table whose rows have a place, with the system they are in."""
Places: TypeAlias = geopandas.GeoDataFrame | geopandas.GeoSeries | np.ndarray | Sequence[Sequence[float]]
"""The same, or eastings and northings as an array."""
Numbers: TypeAlias = float | Sequence[float | None] | np.ndarray | pd.Series
"""One number for all rows, or one a row."""
Lengths: TypeAlias = str | Length | float | Sequence[float | None] | np.ndarray | pd.Series
"""A length with its unit, or numbers whose unit is stated beside them."""
Labels: TypeAlias = Sequence[Any] | np.ndarray | pd.Series | pd.Index
"""A name a row."""


class System(Protocol):
    """A coordinate system as an object, such as the ``crs`` of a GeoDataFrame."""

    @property
    def srs(self) -> str:
        """As it was stated."""

    def to_wkt(self, version: str = ..., /) -> str:
        """Give its definition as text."""
