"""Whether features lie within the right of way that the licensee supplied; no opinion about the boundary itself."""

import numpy as np
import pandas as pd
import shapely
from pydantic import Field

from geoqa.contract.utilities import RIGHT_OF_WAY
from geoqa.contract.utility_sentences import within
from geoqa.kernels.design.along_elements import chords
from geoqa.model import words
from geoqa.model.step import Step
from geoqa.model.tables.layer import Layers
from geoqa.model.words import RIGHT_OF_WAY as KIND
from geoqa.steps.design.alignments import Alignments
from geoqa.steps.judging.text_columns import taken
from geoqa.steps.linework.derived import derived_rows
from geoqa.steps.linework.observed import NEEDS, observed
from geoqa.steps.linework.observed import WANTS as OBSERVED_WANTS
from geoqa.steps.utilities.bodies import pipe_kinds
from geoqa.steps.utilities.ends import lines_of, pipe_ends
from geoqa.steps.utilities.judged import found, together

_SAGITTA = 0.003
"""Metres: how far a drawn chord may leave its arc."""
_TOUCH = 0.003
"""Metres: ends nearer than this meet."""


class RightOfWay(Step):
    """Judge the distance of features from the nearest boundary of the right of way, positive inside.

    The polygon is the one of `[right_of_way]`, taken as exact. Asked are shots on pipes, shots of structures that are
    noted, and the kinds that `kinds` names.
    """

    name = "right-of-way"
    needs = ("limits", *NEEDS)
    wants = (
        "codes",
        "right_of_way",
        "structure_notes",
        "precision",
        "design_lines",
        "design_elements",
        *OBSERVED_WANTS,
    )
    adds = ("findings", "evidence")

    kinds: tuple[str, ...] = Field((), description="Further kinds that are asked, beside pipes and structures")

    def run(self, layers: Layers) -> dict[str, pd.DataFrame]:
        """Every shot that is asked."""
        if "right_of_way" not in layers or not len(layers["right_of_way"]):
            return together()
        design, shots = lines_of(layers), observed(layers)
        asked = {*self.kinds, *pipe_kinds(layers)}
        at_structures = set(pipe_ends(layers)["row"]) - {-1}
        row = np.flatnonzero(shots["kind"].isin(asked) | np.isin(np.arange(len(shots)), list(at_structures)))
        if design is None or not len(row):
            return together()
        area = polygon(design, layers.frame.unit.metres_float)
        distance, across = _inside(area, shots[["easting", "northing"]].to_numpy(float)[row])
        unit = layers.frame.unit.name
        rows = derived_rows(
            layers, row[:, None], {"easting": across[:, :1], "northing": across[:, 1:]}, distance,
            show=lambda value: words.usual(value, unit),
        )  # fmt: skip
        lost = RIGHT_OF_WAY.why("not-closed") if area is None else 0
        rows["why"] = np.where(rows["why"] > 0, rows["why"], lost)
        said = layers["right_of_way"].iloc[0]
        names = shots["name"].to_numpy(dtype=object)[row]
        kind = shots["kind"].to_numpy(dtype=object)[row]
        rows = rows.assign(
            kind=kind, subject=KIND, source=said["source"], design=np.nan, shot=taken(shots["shot"], row),
            easting=shots["easting"].to_numpy(float)[row], northing=shots["northing"].to_numpy(float)[row],
            label=[within(str(a), str(b)) for a, b in zip(kind, names, strict=True)],
        )  # fmt: skip
        return together(found(layers, rows, check=RIGHT_OF_WAY, least=0.0, words=str(said["reference"])))


def polygon(design: Alignments, metres: float) -> "shapely.Polygon | shapely.MultiPolygon | None":
    """The area within the lines of the right of way; None where they do not close."""
    drawn = chords(design.elements, max_sagitta=_SAGITTA / metres)
    lines = [
        shapely.linestrings(np.round(drawn.coordinates[drawn.line == at] / (_TOUCH / metres)) * (_TOUCH / metres))
        for at in np.flatnonzero(design.kinds == KIND)
        if (drawn.line == at).sum() > 1
    ]
    areas = shapely.get_parts(shapely.polygonize(lines))
    loose = shapely.polygonize_full(lines)[1:]
    if not len(areas) or any(len(shapely.get_parts(each)) for each in loose):
        return None
    return shapely.union_all(areas)


def _inside(area: "shapely.Geometry | None", places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance to the boundary, positive inside, and the unit vector along which it grows."""
    if area is None:
        return np.full(len(places), np.nan), np.ones((len(places), 2))
    known = np.isfinite(places).all(axis=1)
    points = shapely.points(np.where(known[:, None], places, 0.0))
    feet = shapely.get_coordinates(shapely.shortest_line(points, area.boundary)).reshape(-1, 2, 2)[:, 1]
    sign = np.where(shapely.contains_properly(area, points), 1.0, -1.0)
    away = (np.where(known[:, None], places, 0.0) - feet) * sign[:, None]
    far = np.hypot(*away.T)
    across = np.where(far[:, None] > 0, away / np.where(far > 0, far, 1.0)[:, None], [[1.0, 0.0]])
    return np.where(known, sign * far, np.nan), across
