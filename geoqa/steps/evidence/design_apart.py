"""Whether design and shots lie apart as a whole: then nothing that is said line by line can be believed."""

from typing import Any

import numpy as np

from geoqa.model.tables.layer import Layers

MOST, FEWEST = 0.8, 8
"""Share and count of shots without design within reach from which it is no matter of single lines."""
SIDES = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def apart_as_a_whole(layers: Layers, rows: np.ndarray, distance: np.ndarray) -> list[dict[str, Any]]:
    """The fact of the note, or none.

    Parameters
    ----------
    layers : Layers
    rows : (n,) int array
        Places of shots of judged kinds without design within reach.
    distance : (n,) array
        To the nearest design of their kind; infinite where the design has nothing of it.
    """
    shots = layers["shots"]
    at = shots[["easting", "northing"]].to_numpy(float)
    kinds: set[str] = set()
    places = [np.zeros((0, 2))]
    if "design_points" in layers:
        kinds |= set(layers["design_points"]["kind"])
        places.append(layers["design_points"][["easting", "northing"]].to_numpy(float))
    if "design_lines" in layers and "design_elements" in layers:
        kinds |= set(layers["design_lines"]["kind"])
        places.append(layers["design_elements"][["start_easting", "start_northing"]].to_numpy(float))
        places.append(layers["design_elements"][["end_easting", "end_northing"]].to_numpy(float))
    asked = ((shots["role"] == "feature") & shots["kind"].isin(kinds)).to_numpy(bool) & np.isfinite(at).all(axis=1)
    known = np.isfinite(distance)
    count, total = int(known.sum()), int(asked.sum())
    if count < max(FEWEST, MOST * total):
        return []
    apart = np.median(at[asked], axis=0) - np.median(np.concatenate(places), axis=0)
    side = SIDES[round(float(np.degrees(np.arctan2(*apart))) / 45.0) % 8]
    return [
        {"note": "design-apart", "count": count, "total": total, "number": float(np.hypot(*apart)), "unit": "job",
         "second": float(np.median(distance[known])), "place": side}
    ]  # fmt: skip
