"""Whether design and shots lie apart as a whole: then nothing that is said line by line can be believed."""

from typing import Any

import numpy as np

from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.shot_flags import AGAIN, has_flag
from geoqa.steps.judging.text_columns import rows_of

MOST, FEWEST = 0.8, 8
"""Share and count of shots without design within reach from which it is no matter of single lines."""
REACH, BESIDE = Length.parse("10 ft"), Length.parse("2 ft")
"""What a shot is matched within, by its place; and what shots of a design in its place lie within, nearly all of them:
those that find another line by chance lie anywhere in reach."""
SIDES = ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")


def lines_apart(layers: Layers) -> bool:
    """Whether shots of kinds that have design lines lie apart from all of them as a whole."""
    tables = ("shots", "line_matches", "design_lines")
    return bool(layers.derived("lines apart", tables, lambda: _apart(layers, _LINES)))


def lies_apart(layers: Layers) -> bool:
    """Whether shots lie apart from all lines of the design, or from all its lines and points, as a whole."""
    tables = ("shots", "line_matches", "design_lines", "point_matches", "design_points")
    return bool(
        layers.derived("design apart", tables, lambda: _apart(layers, _LINES) or _apart(layers, {**_LINES, **_POINTS}))
    )


_LINES, _POINTS = {"design_lines": "line_matches"}, {"design_points": "point_matches"}
"""Tables of the design, and which of it a shot may be of."""


def _apart(layers: Layers, tables: dict[str, str]) -> bool:
    """Whether most shots of the kinds in these tables have no design within reach, and others find it by chance."""
    shots, unit = layers["shots"], layers.frame.unit
    there = {design: matches for design, matches in tables.items() if design in layers and matches in layers}
    kinds = {kind for design in there for kind in layers[design]["kind"]}
    asked = (shots["role"] == "feature") & shots["kind"].isin(kinds) & ~has_flag(shots, AGAIN)
    keys = shots.loc[asked & shots["easting"].add(shots["northing"]).notna(), "shot_key"]
    if len(keys) < FEWEST:
        return False
    away = np.full(len(keys), np.inf)
    for matches in there.values():
        row = rows_of(layers[matches]["shot_key"], keys)
        np.fmin.at(away, row[row >= 0], layers[matches]["distance"].to_numpy(float)[row >= 0])
    beyond, beside = (away > REACH.to(unit)).sum(), (away <= BESIDE.to(unit)).sum()
    return bool(beyond >= max(FEWEST, MOST * len(keys)) and 2 * beside < max(len(keys) - beyond, 1))


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
    if not count or not lies_apart(layers):
        return []
    apart = np.median(at[asked], axis=0) - np.median(np.concatenate(places), axis=0)
    side = SIDES[round(float(np.degrees(np.arctan2(*apart))) / 45.0) % 8]
    return [
        {"note": "design-apart", "count": count, "total": total, "number": float(np.hypot(*apart)), "unit": "job",
         "second": float(np.median(distance[known])), "place": side}
    ]  # fmt: skip
