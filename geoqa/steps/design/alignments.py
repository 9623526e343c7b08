"""Design lines as the kernels want them, with their names, kinds and sources."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
import shapely

from geoqa.errors import GeometryInputError, LayerError
from geoqa.kernels.design.along_elements import chords, point_at
from geoqa.kernels.design.cells import ElementIndex, index_elements
from geoqa.kernels.design.elements import Elements, line_table
from geoqa.model.tables.layer import Layers
from geoqa.steps.judging.text_columns import rows_of


@dataclass(frozen=True, kw_only=True, eq=False)
class Alignments:
    """Design lines; the number of a line is its place in `names`.

    Attributes
    ----------
    elements : Elements
    names, kinds, sources : (k,) object arrays of text
        Sorted by name.
    start, end : (k,) float64
        Stations of the ends; NaN for a line without elements.
    """

    elements: Elements
    names: np.ndarray
    kinds: np.ndarray
    sources: np.ndarray
    start: np.ndarray
    end: np.ndarray
    _indexes: dict[bool, ElementIndex] = field(default_factory=dict, repr=False)

    @cached_property
    def groups(self) -> np.ndarray:
        """Different kinds of the lines, sorted; the number of a group in an index is its place here."""
        return np.array(sorted(set(self.kinds)), dtype=object)

    def index(self, reach: float, *, by_kind: bool) -> ElementIndex:
        """The elements sorted for searching, lines of each kind by themselves or not; made at the first search.

        Cells have the size that suits the first reach; with another reach a search gives the same answers.
        """
        if by_kind not in self._indexes:
            group = rows_of(self.kinds, self.groups)[self.elements.line] if by_kind else None
            self._indexes[by_kind] = index_elements(self.elements, reach=reach, element_group=group)
        return self._indexes[by_kind]

    def pieces(self, line: Any, start: Any, end: Any) -> list[Any]:
        """Drawn pieces of lines between two stations, for drawing only; chords on arcs."""
        line, start, end = (np.atleast_1d(each) for each in (line, start, end))
        whole = chords(self.elements, max_sagitta=0.01)
        # chords stand line by line, by station: between two stations they are one slice
        first = np.searchsorted(whole.line, line)
        last = np.searchsorted(whole.line, line, side="right")
        head, tail = (point_at(self.elements, line, station) for station in (start, end))
        ends = np.column_stack([head.easting, head.northing, tail.easting, tail.northing])
        drawn = []
        for a, b, one, other, place in zip(first.tolist(), last.tolist(), start, end, ends, strict=True):
            low = a + np.searchsorted(whole.station[a:b], one, side="right")
            high = a + np.searchsorted(whole.station[a:b], other, side="left")
            points = np.concatenate([place[None, :2], whole.coordinates[low:high], place[None, 2:]])
            drawn.append(shapely.linestrings(points) if np.isfinite(points).all() else None)
        return drawn


def alignments(layers: Layers) -> Alignments:
    """Design lines of the layers `design_lines` and `design_elements`; made once in a run.

    Raises
    ------
    LayerError
        An element of a line that is not listed, or a line whose elements do not fit each other.
    """
    made: Alignments = layers.derived("alignments", ("design_lines", "design_elements"), lambda: _alignments(layers))
    return made


def _alignments(layers: Layers) -> Alignments:
    lines = layers["design_lines"].sort_values("line", ignore_index=True)
    rows = layers["design_elements"]
    number = rows_of(rows["line"], lines["line"])
    if (number < 0).any():
        raise LayerError(f"Element of line '{rows['line'].iloc[int(np.argmin(number))]}', which is no design line.")
    order = np.lexsort((rows["sequence"].to_numpy(), number))
    rows, number = rows.iloc[order], number[order]
    names = lines["line"].to_numpy(dtype=object)
    try:
        elements = elements_of(rows, number)
    except GeometryInputError:
        for each in np.unique(number):
            try:
                elements_of(rows[number == each], number[number == each])
            except GeometryInputError as error:
                raise LayerError(f"Design line '{names[each]}' cannot be used: {error}") from error
        raise
    table = line_table(elements)
    start, end = np.full((2, len(lines)), np.nan)
    start[table.line], end[table.line] = table.start_station, table.end_station
    kinds, sources = (lines[column].to_numpy(dtype=object) for column in ("kind", "source"))
    return Alignments(elements=elements, names=names, kinds=kinds, sources=sources, start=start, end=end)


def elements_of(rows: pd.DataFrame, number: np.ndarray) -> Elements:
    """Elements of rows of `design_elements` or `asbuilt_elements`, sorted, with the number of the line of each.

    Raises
    ------
    LayerError
        A shape that is neither line nor arc.
    GeometryInputError
        The elements of a line do not fit each other.
    """

    def pair(name: str) -> np.ndarray:
        return rows[[f"{name}_easting", f"{name}_northing"]].to_numpy(float)

    shape = rows["shape"].map({"line": 0, "arc": 1})
    if shape.isna().any():
        raise LayerError(
            f"A design element of shape '{rows['shape'][shape.isna()].iloc[0]}' on line "
            f"'{rows['line'][shape.isna()].iloc[0]}' cannot be used; shapes are line and arc."
        )
    return Elements(
        line=number,
        shape=shape.to_numpy(np.int8),
        start=pair("start"),
        end=pair("end"),
        centre=pair("centre"),
        radius=rows["radius"].to_numpy(float),
        sense=rows["sense"].to_numpy(np.int8),
        start_station=rows["start_station"].to_numpy(float),
        length=rows["length"].to_numpy(float),
        start_elevation=rows["start_elevation"].to_numpy(float),
        end_elevation=rows["end_elevation"].to_numpy(float),
    )
