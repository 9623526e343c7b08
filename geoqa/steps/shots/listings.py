"""What is listed twice among the shots of a job, worked out once, and the job without it."""

from typing import Any

import numpy as np

from geoqa.model.quantity import Length
from geoqa.model.tables.layer import Layers
from geoqa.model.tables.listings import Listings, listings
from geoqa.steps.judging.text_columns import rows_of


def listings_of(layers: Layers) -> Listings:
    """What is listed twice among the shots of a job; worked out once."""
    sources = dict(layers).get("sources")
    made: Listings = layers.derived(
        "what is listed twice",
        ("shots", "sources"),
        lambda: listings(layers["shots"], sources, foot=Length.parse("1 ft").to(layers.frame.unit)),
    )
    return made


def counted(layers: Layers) -> Layers:
    """Layers in which every measurement stands once; the same layers where it does anyway."""
    again = listings_of(layers).again
    if not again.any():
        return layers
    kept, gone = np.flatnonzero(~again), layers["shots"]["shot_key"].iloc[np.flatnonzero(again)]
    tables: dict[str, Any] = dict(layers) | {"shots": layers["shots"].iloc[kept].reset_index(drop=True)}
    for name in ("line_matches", "point_matches"):
        if name in tables:
            mine = rows_of(tables[name]["shot_key"], gone) < 0
            tables[name] = tables[name][mine].reset_index(drop=True)
    return Layers(tables, frame=layers.frame)
