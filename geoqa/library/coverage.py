"""Reaches of design lines that lie too far from any shot."""

from typing import Any

import geopandas
import numpy as np
import pandas as pd

from geoqa.errors import LayerError, QuantityError
from geoqa.kernels.design.elements import line_table
from geoqa.kernels.design.reaches import gaps
from geoqa.library.accepted import Placed
from geoqa.library.lengths import distance_in
from geoqa.library.shapes import elements_of, labels_of, series_of
from geoqa.library.systems import unit_of
from geoqa.model.quantity import Length
from geoqa.steps.design.alignments import Alignments


def coverage(
    located: pd.DataFrame, lines: Placed, *, spacing: str | Length, line_id: str | None = None
) -> geopandas.GeoDataFrame:
    """Find the reaches of lines between shots, and between an end and the shot next to it, that are too long.

    Parameters
    ----------
    located : DataFrame
        Shots beside those lines, from `station_offset` or `match`: ``line`` and ``station``, and ``along`` where it is
        there. A shot past the end of its line, or on no line, is no evidence.
    lines : GeoDataFrame or GeoSeries
        The lines they were located on.
    spacing : str or Length
        Longest reach allowed.
    line_id : str, optional
        Column of `lines` that names them, as it was given to `station_offset`; their index if not given.

    Returns
    -------
    GeoDataFrame
        One row a reach that is too long, by line and station: ``line``, ``station``, ``station_end``, ``length``, and
        the piece of the line. A line without any shot is one reach, however short it is. A new index from 0.

    Raises
    ------
    FrameError
        Lines are not in a projected system with a linear unit.
    GeometryInputError
        A row holds something other than one line.
    LayerError
        A column is missing, a shot names a line that is not there, or names of lines are not unique.
    QuantityError
        `spacing` is no positive length with its unit.

    Notes
    -----
    The kernel `geoqa.kernels.design.reaches.gaps` of the step ``coverage``, which also asks whether shots may be used
    at all.

    Examples
    --------
    >>> import geopandas, pandas as pd, geoqa
    >>> walk = geopandas.GeoSeries.from_wkt(["LINESTRING (0 0, 0 100)"], index=["W-1"], crs="EPSG:6547")
    >>> located = pd.DataFrame({"line": ["W-1"] * 3, "station": [10.0, 25.0, 80.0]})
    >>> geoqa.coverage(located, walk, spacing="25 ft").drop(columns="geometry")
      line  station  station_end  length
    0  W-1     25.0         80.0    55.0
    """
    design = series_of(lines, what="lines")
    longest = distance_in(spacing, unit_of(design, what="lines"), name="spacing")
    if not longest > 0:
        raise QuantityError(f'spacing is {spacing}; give a positive length, for example "25 ft".')
    labels = labels_of(lines, line_id)
    elements = elements_of(design)
    table = line_table(elements)
    start, end = np.full((2, len(design)), np.nan)
    start[table.line], end[table.line] = table.start_station, table.end_station
    found = gaps(_stations(located), _owners(located, labels), start, end, spacing=longest)
    unnamed = np.full(len(design), "", dtype=object)
    drawn = Alignments(elements=elements, names=unnamed, kinds=unnamed, sources=unnamed, start=start, end=end).pieces(
        found.line, found.start, found.end
    )
    return geopandas.GeoDataFrame(
        {"line": labels.take(found.line), "station": found.start, "station_end": found.end, "length": found.length},
        geometry=np.array([*drawn, None], dtype=object)[:-1],
        crs=design.crs,
    )


def _stations(located: pd.DataFrame) -> np.ndarray:
    """Stations that are evidence; NaN for a shot past an end."""
    for name in ("line", "station"):
        if name not in getattr(located, "columns", ()):
            raise LayerError(f"located has no column '{name}'; give what station_offset or match returned.")
    stations = located["station"].to_numpy(float, na_value=np.nan)
    return np.where(located["along"].to_numpy(float) == 0, stations, np.nan) if "along" in located else stations


def _owners(located: pd.DataFrame, labels: Any) -> np.ndarray:
    """Row of each shot's line; -1 for none."""
    owner = pd.Index(labels).get_indexer(pd.Index(located["line"]))
    if (strange := (owner < 0) & located["line"].notna().to_numpy()).any():
        name = located["line"][strange].tolist()[0]
        raise LayerError(f"located names a line {name!r} that lines do not have; give the lines it was located on.")
    return owner
