"""The site as a picture under the map: street, walks, driveway and grass, drawn from the design; no photograph."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from geoqa.simulate.site import alignment, scenario

if TYPE_CHECKING:
    from geoqa.simulate.make import Simulated

PICTURE_FILE = "site.tif"
CAPTION = "Drawn from the design, not a photograph"
PIXEL = 0.5
"""Feet."""
HALF_WIDTH = 75.0
"""Feet of ground shown to either side of the centre line."""
STEP = 5.0
"""Feet of centre line between two corners of a strip."""

GRASS, STREET, WALK = 1, 2, 3
COLOURS = {0: (0, 0, 0, 0), GRASS: (150, 170, 128, 255), STREET: (118, 122, 130, 255), WALK: (216, 212, 202, 255)}
"""Of what is seen; nothing is drawn where the picture ends."""


def surfaces() -> list[tuple[int, np.ndarray]]:
    """What covers the ground, and its outline, (n, 2), relative to station 10+00; the later lies on the earlier."""
    flow, front, back = (scenario.SECTION[kind][1] for kind in ("curb-flow", "walk-front", "walk-back"))
    made = [
        (GRASS, _strip(scenario.BEGIN, scenario.FINISH, -HALF_WIDTH, HALF_WIDTH)),
        (STREET, _strip(scenario.BEGIN, scenario.FINISH, -flow, flow)),
        (STREET, _strip(*scenario.OSPREY, -HALF_WIDTH, HALF_WIDTH)),
    ]
    station, offset = np.array(scenario.DRIVEWAY[1]).T
    made.append((WALK, np.column_stack(alignment.place(station, offset))))
    for begin, finish in scenario.PARTS.values():
        made += [(WALK, _strip(begin, finish, side * front, side * back)) for side in scenario.SIDES.values()]
    return made


def _strip(begin: float, finish: float, first: float, second: float) -> np.ndarray:
    """Outline of the ground between two offsets from one station to another."""
    there = np.linspace(begin, finish, int(np.ceil((finish - begin) / STEP)) + 1)
    east, north = alignment.place(
        np.concatenate([there, there[::-1]]), np.repeat([first, second], [len(there), len(there)])
    )
    return np.column_stack([east, north])


def write_picture(simulated: "Simulated", path: Path) -> None:
    """Write the picture as a GeoTIFF with a palette, in the frame of the job."""
    import rasterio
    from rasterio.features import rasterize

    shift = np.array([simulated.zone.easting, simulated.zone.northing])
    shapes: list[tuple[dict[str, Any], int]] = [
        ({"type": "Polygon", "coordinates": [[*map(tuple, outline + shift), tuple(outline[0] + shift)]]}, value)
        for value, outline in surfaces()
    ]
    corners = surfaces()[0][1] + shift
    west, south = np.floor(corners.min(axis=0) / PIXEL) * PIXEL
    east, north = np.ceil(corners.max(axis=0) / PIXEL) * PIXEL
    size = {"width": round((east - west) / PIXEL), "height": round((north - south) / PIXEL)}
    place = rasterio.Affine(PIXEL, 0, west, 0, -PIXEL, north)
    values = rasterize(shapes, out_shape=(size["height"], size["width"]), transform=place, dtype="uint8")
    shape = {"driver": "GTiff", "count": 1, "dtype": "uint8", "nodata": 0, **size}
    options = {"photometric": "palette", "compress": "deflate", "zlevel": 9, "blockysize": 64}
    crs = rasterio.CRS.from_wkt(simulated.frame.horizontal_wkt)
    with rasterio.open(path, "w", crs=crs, transform=place, **shape, **options) as out:
        out.write(values, 1)
        out.write_colormap(1, COLOURS)
