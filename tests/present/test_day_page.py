"""The page of a day in a job with a baseline: station and offset beside the shots it lists."""

from dataclasses import replace

import pandas as pd

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.model.tables.layer import Layers
from geoqa.present.day.page import _places, page


def shown(street, items, places):
    shots = street.layers["shots"]
    if places is not None:
        shots = shots.assign(baseline_place=pd.Series(places, index=shots.index[: len(places)], dtype="str"))
    tables = {**dict(street.layers), "shots": shots, "day_items": conform("day_items", pd.DataFrame(items))}
    return page(replace(street, layers=Layers(tables, frame=street.layers.frame), summary={"shots": len(shots)}))


def test_station_and_offset_stand_beside_the_shots_of_an_item(street):
    first, second = street.layers["shots"][["easting", "northing", "shot_key"]].head(2).to_dict("records")
    item = {"title": "Fixed later", "do": "shoot it again", "why": "float", "names": "C1", "where": "", "urgency": 1}
    items = [item | first | {"item": 1, "shots": 1}, item | second | {"item": 2, "shots": 3}]
    text = shown(street, items, ["12+50.25, 18.21 ft left", "<b>, 2.00 ft right"])
    assert '<p class="names">Baseline 12+50.25, 18.21 ft left</p>' in text
    assert '<p class="names">First at baseline &lt;b&gt;, 2.00 ft right</p>' in text
    assert "aseline" not in shown(street, items, None)


def test_a_collector_is_led_to_each_shot_once_and_to_what_has_none():
    nan = float("nan")
    shots = pd.DataFrame({"shot": ["7", "8", "9", "9"], "easting": [1.0, 2.0, 3.0, 4.0], "northing": [5.0] * 4})
    items = pd.DataFrame(
        {"item": [1, 2, 3, 4], "names": ["7, 8 and 3 more", "8", "9", ""], "where": ["", "", "", "L-1"], "title": "T",
         "easting": [1.0, 2.0, 3.0, nan], "northing": [5.0, 5.0, 5.0, nan]}
    )  # fmt: skip
    found = [(place.easting, place.says) for place in _places(items, shots)]
    assert found[:3] == [(1.0, "1 7"), (2.0, "1 8 +3 more"), (3.0, "3 9")]
    assert found[3][1] == "4 L-1"


def test_two_shots_at_one_place_have_each_its_own_text(street):
    """Two passes of one baseline over one place: each shot has the station of its own."""
    shots = street.layers["shots"]
    here = shots[["easting", "northing"]].iloc[0].to_dict()
    shots = shots.assign(**{name: [here[name]] * 2 + shots[name].tolist()[2:] for name in here})
    both = replace(street, layers=Layers({**dict(street.layers), "shots": shots}, frame=street.layers.frame))
    item = {"title": "Fixed later", "do": "shoot it again", "why": "float", "names": "C1", "where": "", "urgency": 1}
    keys = shots["shot_key"].head(2)
    items = [item | here | {"item": n, "shots": 1, "shot_key": key} for n, key in enumerate(keys, 1)]
    text = shown(both, items, ["12+50.25, 18.21 ft left", "47+00.00, 2.00 ft right"])
    assert text.index("Baseline 12+50.25, 18.21 ft left") < text.index("Baseline 47+00.00, 2.00 ft right")
    assert "aseline" not in shown(both, [each | {"shot_key": None} for each in items], ["12+50.25, 18.21 ft left"])


def test_a_question_ends_as_one_and_the_notes_are_those_of_a_day(street):
    """What a blunder is, or what stays undecided, is no thing that could not be checked."""
    item = {"title": "Equal", "do": "was it staked?", "why": "equal", "names": "C1", "where": "", "urgency": 1}
    item |= {"item": 1, "shots": 1}
    rows = [{"note": "no-control"}, {"note": "no-tolerance", "subject": "ramp", "count": 3}]
    notes = conform("notes", pd.DataFrame(rows))
    layers = Layers({**dict(street.layers), "notes": notes}, frame=street.layers.frame)
    told = note_lines(notes, "ft")
    assert len(told) == 2
    text = shown(replace(street, layers=layers, notes=told), [item], None)
    assert "Was it staked?</p>" in text
    assert "No control was given" in text
    assert "No tolerance is given" not in text
