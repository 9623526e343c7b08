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


def rebuilt(street, seed, *, line_id, turned=False):
    """A curb that was built 0.25 ft low from 150 to 350, and the same stretch shot again after it was rebuilt."""
    noise = np.random.default_rng(seed)
    low = (street.stations > 150.0) & (street.stations < 350.0)
    stations = np.arange(140.0, 361.0, 20.0) + noise.uniform(-4, 4)
    stations = stations[::-1] if turned else stations

    def both(at, off, day, first):
        z = street.level(at) + off
        rows = [
            *street.shots(z + noise.normal(0, 0.01, len(at)), stations=at),
            *street.shots(z + 0.5 + noise.normal(0, 0.01, len(at)), stations=at, code="CTB"),
        ]
        return [row | {"line_id": row["line_id"] if not day else line_id} for row in visit(rows, day, first)]

    return both(street.stations, np.where(low, -0.25, 0.0), 0, 100), both(stations, np.zeros(len(stations)), 3, 500)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize(("line_id", "turned"), [("1", False), ("7", False), ("7", True)])
def test_gutters_and_reveals_mix_no_shots_of_before_a_rework_with_those_after_it(street, line_id, turned, seed):
    """Planted: what stood between shots of both passes nobody built; each pass by itself shows what was there."""
    first, again = rebuilt(street, seed, line_id=line_id, turned=turned)
    alone, both = (street.judged(rows, limits=LIMITS) for rows in (first, first + again))
    out = {check: both[(both["check"] == check) & (both["verdict"] == "OUT")] for check in ("ponding", "reveal")}
    assert not len(out["reveal"])
    # of before the rework the pond at its low end stands, 0.25 ft less what the gutter falls on the way
    before = alone[(alone["check"] == "ponding") & (alone["verdict"] == "OUT")]
    assert len(before) == 1
    assert out["ponding"]["deviation"].tolist() == pytest.approx(before["deviation"].tolist())
    assert out["ponding"]["label"].iloc[0] == before["label"].iloc[0] + ", of shots 100 to 120"
    falls = both[both["check"] == "gutter-fall"]
    of_again = falls[falls["label"].str.contains("of shots 5")]
    assert len(of_again) > 1
    assert set(of_again["verdict"]) <= {"IN", "UNDECIDED"}
    assert of_again["deviation"].to_numpy() == pytest.approx(np.full(len(of_again), 0.005), abs=0.0015)
    assert not (both["why"] == "unshot-reach").any()
    assert not both["finding"].duplicated().any()


def test_what_no_pass_shot_is_told_once(street):
    first, again = rebuilt(street, 4, line_id="7")
    names = {row["station"] for row in first if 400 < row["station"] < 500}
    first = [row for row in first if row["station"] not in names and row["station"] != 250.0]
    made = street.judged(first + again, limits=LIMITS)
    reach = made[(made["why"] == "unshot-reach") & (made["check"] == "ponding")]
    assert reach[["station", "station_end"]].to_numpy().tolist() == [[400.0, 500.0]]
