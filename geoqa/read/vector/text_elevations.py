"""Elevations that a drawing only writes beside its vertices: counted and told, never taken."""

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from geoqa.model.quantity import METRE, LengthUnit
from geoqa.model.source import Evidence
from geoqa.read.vector.sound_text import sound_text

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

BESIDE, BESIDE_METRES = 2.0, 0.6
"""Within which a number stands beside a vertex, in feet and in metres. Common practice, no source."""
_FORMAT_CODE = re.compile(r"\\[A-Za-z][^;\\]*;|[{}]")
_NUMBER = re.compile(r"(?:[A-Za-z.:=/ ]{0,12}[ .:=])?([+-]?\d{1,5}\.\d{1,3})'?")


def number_written(text: str) -> float:
    r"""The elevation that a text may be: a number with decimals, alone or behind a short word; NaN otherwise.

    Examples
    --------
    >>> [number_written(each) for each in ("1461.25", "TC 1461.25", "{\\H0.1;1461.3}")]
    [1461.25, 1461.25, 1461.3]
    >>> [number_written(each) for each in ("12+50.25", "2.00%", "R25", "1461", "CP-1.5")]
    [nan, nan, nan, nan, nan]
    """
    found = _NUMBER.fullmatch(_FORMAT_CODE.sub("", text).strip())
    return float(found[1]) if found else np.nan


def text_elevations(
    document: "Document", flat: Iterable[NDArray[np.float64]], unit: LengthUnit | None
) -> list[Evidence]:
    """What to know of numbers beside vertices that have no elevation of their own.

    Parameters
    ----------
    document : ezdxf document
    flat : iterable of (n, 3) array
        Vertices of every line and point that is read; those at Z = 0 or without one are asked about.
    unit : LengthUnit or None
        Of the drawing; where it states none, feet.
    """
    import shapely

    vertices = np.concatenate([np.empty((0, 3)), *flat])
    vertices = vertices[np.isfinite(vertices[:, :2]).all(axis=1) & ~(np.abs(vertices[:, 2]) > 0)]
    places, numbers = _written(document)
    if not len(vertices) or not len(numbers):
        return []
    within = BESIDE_METRES if unit is METRE else BESIDE
    tree = shapely.STRtree(shapely.points(places))
    vertex, text = tree.query(shapely.points(vertices[:, :2]), predicate="dwithin", distance=within)
    low, high = np.full(len(vertices), np.inf), np.full(len(vertices), -np.inf)
    np.minimum.at(low, vertex, numbers[text])
    np.maximum.at(high, vertex, numbers[text])
    one, several = low == high, low < high
    if not one.any():
        return []
    answer = (
        f"{one.sum()} of {len(vertices)} vertices and points without one have a number beside them, "
        f"{low[one].min():.2f} to {low[one].max():.2f}"
        + (f"; {several.sum()} more have several" if several.any() else "")
    )
    because = (
        f"text within {within:g} of the file's unit; not taken, as a number may be of something else: "
        "have the lines drawn with their elevations"
    )
    return [Evidence(what="elevations as text", answer=answer, because=because)]


def _written(document: "Document") -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where numbers stand in model space, and the numbers."""
    places, numbers = [], []
    for entity in document.modelspace().query("TEXT MTEXT"):
        text = getattr(entity, "text", "") if entity.dxftype() == "MTEXT" else entity.dxf.get("text", "")
        number, place = number_written(sound_text(str(text))), entity.dxf.get("insert")
        if np.isfinite(number) and place is not None and np.isfinite([place[0], place[1]]).all():
            places.append((float(place[0]), float(place[1])))
            numbers.append(number)
    return np.array(places, dtype=float).reshape(-1, 2), np.array(numbers, dtype=float)
