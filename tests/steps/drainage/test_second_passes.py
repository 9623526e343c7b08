"""A curb that was shot again, in whole or at two places: what is told of its first pass stays."""

import numpy as np
import pandas as pd
import pytest

LIMITS = [
    ("curb", "reveal", 0.42, 0.58),
    ("curb-flow", "gutter-fall", 0.003, np.inf),
    ("curb-flow", "ponding", -np.inf, 0.02),
    ("curb-flow", "coverage", -np.inf, 30.0),
]


def visit(rows, day, first):
    """Rows of one day, with names of their own and no sequence."""
    return [
        row | {"sequence": None, "session": f"S{day}", "shot": str(first + number),
               "time": row["time"] + pd.Timedelta(days=day)}
        for number, row in enumerate(rows)
    ]  # fmt: skip


def both_lines(street, stations, flow=True, top=True):
    level = street.level(stations)
    tops = street.shots(level + 0.5, stations=stations, code="CTB") if top else []
    return tops + (street.shots(level, stations=stations) if flow else [])


@pytest.mark.long
@pytest.mark.parametrize("design", ["both", None])
@pytest.mark.parametrize(("stations", "top"), [(np.arange(8.0, 490.0, 25.0), True), (np.array([101.0, 203.0]), False)])
def test_reveals_and_gutters_of_a_curb_that_was_shot_again(street, stations, top, design):
    first = visit(both_lines(street, street.stations), 0, 100)
    again = visit(both_lines(street, stations, top=top), 3, 500)
    alone, both = (street.judged(rows, limits=LIMITS, design=design) for rows in (first, first + again))
    reveals = both[both["check"] == "reveal"]
    assert len(reveals) == len(street.stations) + len(stations)
    assert set(reveals["verdict"]) == {"IN"}
    fall, ponding = (both[both["check"] == check] for check in ("gutter-fall", "ponding"))
    before = alone[alone["check"] == "gutter-fall"]
    assert set(zip(before["subject"], before["verdict"], strict=True)) <= set(
        zip(fall["subject"], fall["verdict"], strict=True)
    )
    assert len(fall) <= 2 * len(before)
    # two sessions at one place may lie a little apart, which a depth of water feels
    assert set(ponding["verdict"]) <= {"IN", "UNDECIDED"}
