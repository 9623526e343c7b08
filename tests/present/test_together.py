"""What several shots show together, on the map."""

import pandas as pd

from geoqa.present.map.together import kept

FOUND = pd.DataFrame(
    {
        "finding": ["in", "out", "run", "part", "lone", "shot"],
        "shot": [None, None, None, None, None, "s/1"],
        "run": [None, None, None, "run", None, None],
        "verdict": ["IN", "OUT", "OUT", "IN", "IN", "IN"],
    }
)
MEMBERS = pd.DataFrame({"finding": ["in", "out", "run", "part", "shot"], "layer": "shots", "role": "member"})


def test_only_what_is_within_its_limits_and_belongs_to_nothing_sent_is_counted():
    sent, counted = kept(FOUND, MEMBERS)
    assert counted["finding"].tolist() == ["in"]
    assert sent["finding"].tolist() == ["out", "run", "part", "lone", "shot"]
