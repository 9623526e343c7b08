"""Design lines as line strings with elevations, for drawing; the elements themselves keep their arcs."""

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from shapely import LineString


def drawn_lines(elements: "pd.DataFrame", *, chord: float = 5.0) -> "dict[str, LineString]":
    """Line strings with elevations for drawing; an arc becomes chords of at most `chord` feet."""
    import shapely

    starts = elements[["start_easting", "start_northing", "start_elevation"]].to_numpy(float)
    vertices: dict[str, list[np.ndarray]] = {}
    for start, row in zip(starts, elements.itertuples(), strict=True):
        vertices.setdefault(str(row.line), [start]).extend(_element_vertices(row, chord))
    return {name: shapely.linestrings(np.array(each)) for name, each in vertices.items()}


def _element_vertices(row: Any, chord: float) -> np.ndarray:
    """Vertices of one element after its first."""
    end = np.array([[row.end_easting, row.end_northing, row.end_elevation]])
    if row.shape == "line":
        return end
    pieces = int(np.ceil(row.length / chord))
    share = np.arange(1, pieces) / pieces
    centre = np.array([row.centre_easting, row.centre_northing])
    spoke = np.array([row.start_easting, row.start_northing]) - centre
    turn = row.sense * row.length / row.radius * share
    east = centre[0] + spoke[0] * np.cos(turn) + spoke[1] * np.sin(turn)
    north = centre[1] + spoke[1] * np.cos(turn) - spoke[0] * np.sin(turn)
    level = row.start_elevation + (row.end_elevation - row.start_elevation) * share
    return np.vstack([np.column_stack([east, north, level]), end])
