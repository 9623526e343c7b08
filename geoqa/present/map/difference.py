"""As-built minus design surface as a small picture: one pixel a cell, in few colours that the legend tells."""

import math
import struct
import zlib
from dataclasses import dataclass

import numpy as np

from geoqa.model import words
from geoqa.model.tables.layer import Layers

SHARES = (0.5, 1.0, 2.0)
"""Ends of the classes on either side of the design, in limits."""
ABOVE = ("#c9b3d8", "#9467b0", "#5e2b7f")
"""From little to much; none is the colour of a verdict, for nothing is judged here."""
BELOW = ("#b4dba9", "#5aa868", "#1b6f38")
NEAR = "#e3decb"
ALPHA = 205
"""Of 255: design and linework stay readable through it."""


@dataclass(frozen=True, kw_only=True)
class Difference:
    """A picture of the difference, and what its legend says.

    Attributes
    ----------
    png : bytes
        One pixel a cell, north up; clear where there is no number.
    about : dict
        Words, classes with colour and text, and where the picture lies from the origin, in units of the grid.
    """

    png: bytes
    about: dict[str, object]


def difference(layers: Layers, origin: tuple[float, float]) -> Difference | None:
    """Draw the layer `surface_picture`.

    Parameters
    ----------
    layers : Layers
    origin : (easting, northing)
        From which the page counts: near the job, so that no digit is lost.

    Returns
    -------
    Difference or None
        None where the job has no such cells.
    """
    if "surface_picture" not in layers or not len(layers["surface_picture"]):
        return None
    cells, unit = layers["surface_picture"], layers.frame.unit.name
    column, row = (cells[name].to_numpy(np.int64) for name in ("column", "row"))
    left, top, side = column.min(), row.min(), float(cells["cell"].iloc[0])
    values = cells["difference"].to_numpy(float)
    limit, said = _limit(layers, values, unit)
    pixels = np.zeros((row.max() - top + 1, column.max() - left + 1), dtype=np.uint8)
    pixels[row - top, column - left] = 1 + classes_of(values, limit)
    first = cells.iloc[0]
    about = {
        "words": f"As-built minus design surface {first['surface']}, cells of "
        f"{words.quantity(side, 'length', unit, digits=1)}{said}. It shows where to look and judges nothing: between "
        "shots the as-built surface is what was triangulated.",
        "classes": [{"colour": colour, "text": text}
                    for colour, text in zip(_colours(), _texts(limit, unit), strict=True)][::-1],
        "west": float(first["easting"] - (first["column"] - left + 0.5) * side - origin[0]),
        "north": float(first["northing"] + (first["row"] - top + 0.5) * side - origin[1]),
        "pixel": side, "width": pixels.shape[1], "height": pixels.shape[0], "opacity": 1,
    }  # fmt: skip
    return Difference(png=png(pixels, [(0, 0, 0, 0), *(_rgba(each) for each in _colours())]), about=about)


def classes_of(values: np.ndarray, limit: float) -> np.ndarray:
    """Class of each difference, from far below, 0, by near the design, 3, to far above, 6.

    Examples
    --------
    >>> classes_of(np.array([-0.25, -0.15, -0.07, 0.0, 0.05, 0.1, 0.2, 0.21]), 0.1).tolist()
    [0, 1, 2, 3, 3, 4, 5, 6]
    """
    ends = limit * np.array(SHARES)
    size = np.searchsorted(ends * (1 + 1e-9), np.abs(values), side="left")
    return np.asarray(len(SHARES) + np.where(values < 0, -size, size), dtype=np.uint8)


def _limit(layers: Layers, values: np.ndarray, unit: str) -> tuple[float, str]:
    """The nearest limit of a surface, else a round size of the differences, with words for it."""
    if "limits" in layers:
        limits = layers["limits"]
        ends = np.abs(limits.loc[limits["check"] == "surface", ["lower", "upper"]].to_numpy(float)).ravel()
        ends = ends[np.isfinite(ends) & (ends > 0)]
        if len(ends):
            limit = float(ends.min())
            return limit, f"; the tolerance of the surface is {_length(limit, unit)}"
    most = float(np.percentile(np.abs(values), 90)) or 0.01
    size = 10.0 ** math.floor(math.log10(most))
    return next(each * size for each in (1.0, 2.0, 5.0, 10.0) if each * size >= most), ""


def _colours() -> list[str]:
    return [*BELOW[::-1], NEAR, *ABOVE]


def _texts(limit: float, unit: str) -> list[str]:
    half, one, two = (_length(share * limit, unit) for share in SHARES)
    sides = [
        [f"more than {two} {side}", f"{one} to {two} {side}", f"{half} to {one} {side}"] for side in ("below", "above")
    ]
    return [*sides[0], f"within {half} of the design", *sides[1][::-1]]


def _length(value: float, unit: str) -> str:
    """As limits are written: no more decimals than it has."""
    return words.quantity(value, "length", unit, digits=words.limit_digits(value, unit))


def _rgba(colour: str) -> tuple[int, int, int, int]:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return red, green, blue, ALPHA


def png(pixels: np.ndarray, palette: list[tuple[int, int, int, int]]) -> bytes:
    r"""Encode a picture of few colours.

    Parameters
    ----------
    pixels : (h, w) uint8 array
        Places in the palette, first row first.
    palette : list of (red, green, blue, alpha)
        At most 256.

    Returns
    -------
    bytes
        PNG with a palette, W3C Recommendation PNG, 2nd edition, 2003, 5.3 and 11.2; the same for the same pixels.

    Examples
    --------
    >>> made = png(np.array([[0, 1], [1, 0]], dtype=np.uint8), [(0, 0, 0, 0), (255, 0, 0, 255)])
    >>> made[:8], made[12:16], made[-8:-4]
    (b'\x89PNG\r\n\x1a\n', b'IHDR', b'IEND')
    """
    height, width = pixels.shape
    rows = np.zeros((height, width + 1), dtype=np.uint8)  # before each row the number of its filter: none
    rows[:, 1:] = pixels
    colours = b"".join(bytes(each[:3]) for each in palette)
    parts = (
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)), (b"PLTE", colours),
        (b"tRNS", bytes(each[3] for each in palette)), (b"IDAT", zlib.compress(rows.tobytes(), 9)), (b"IEND", b""),
    )  # fmt: skip
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in parts
    )
