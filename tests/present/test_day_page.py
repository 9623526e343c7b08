"""The page of a day in a job with a baseline: station and offset beside the shots it lists."""

from dataclasses import replace

import pandas as pd

from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.present.day.page import page


def shown(street, items, places):
    shots = street.layers["shots"]
    if places is not None:
        shots = shots.assign(baseline_place=pd.Series(places, index=shots.index[: len(places)], dtype="str"))
    tables = {**dict(street.layers), "shots": shots, "day_items": conform("day_items", pd.DataFrame(items))}
    return page(replace(street, layers=Layers(tables, frame=street.layers.frame), summary={"shots": len(shots)}))


def test_station_and_offset_stand_beside_the_shots_of_an_item(street):
    first, second = street.layers["shots"][["easting", "northing"]].head(2).to_dict("records")
    item = {"title": "Fixed later", "do": "shoot it again", "why": "float", "names": "C1", "where": "", "urgency": 1}
    items = [item | first | {"item": 1, "shots": 1}, item | second | {"item": 2, "shots": 3}]
    text = shown(street, items, ["12+50.25, 18.21 ft left", "<b>, 2.00 ft right"])
    assert '<p class="names">Baseline 12+50.25, 18.21 ft left</p>' in text
    assert '<p class="names">First at baseline &lt;b&gt;, 2.00 ft right</p>' in text
    assert "aseline" not in shown(street, items, None)
