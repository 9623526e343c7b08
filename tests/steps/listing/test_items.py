"""What is out at one place is one item; what is open is one item a kind, check and reason."""

import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.listing.items import Items

LINE = {"CTB-L": ("curb-top", 0.0, 0, 8000), "CTB-R": ("curb-top", 60.0, 0, 8000)}


@pytest.fixture
def judged(job):
    def done(*rows, **options):
        layers = job.layers(
            shots=job.prepared(job.shots(list(rows))),
            limits=job.limits(("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.10, 0.10)),
            **job.design(LINE),
        )
        return job.run(layers, MatchLines(), Offsets(), Elevations(), Items(**options))

    return done


def shot(station, offset, **more):
    return {"station": station, "offset": offset, **more}


def by_item(made):
    return made["findings"].dropna(subset=["item"]).groupby("item")["shot"].agg(sorted).to_dict()


def test_shots_within_thirty_feet_of_one_line_are_one_item_and_farther_ones_another(judged):
    made = judged(shot(20.0, 0.5), shot(45.0, 0.6), shot(200.0, 0.7), shot(100.0, 0.0))
    assert [len(shots) for _, shots in sorted(by_item(made).items())] == [1, 2]
    assert made["items"]["findings"].tolist() == [1, 2]
    # the farthest beyond its limit leads the list
    assert made["items"]["finding"].iloc[0] == made["findings"].sort_values("excess").iloc[-1]["finding"]


def test_neighbouring_shots_of_a_line_that_are_out_alike_are_one_item_however_sparse(judged):
    """Curb shot every 80 ft, to 0.5 ft right of its line over 240 ft: one defect, not four."""
    made = judged(*(shot(20.0 + 80.0 * nth, 0.5) for nth in range(4)))
    assert made["items"]["findings"].tolist() == [4]


@pytest.mark.parametrize("between", [0.0, 0.09, -0.5])
def test_a_shot_between_them_that_is_not_out_alike_parts_them(judged, between):
    made = judged(shot(20.0, 0.5), shot(100.0, 0.5), shot(140.0, between), shot(180.0, 0.5), shot(260.0, 0.5))
    assert sorted(made["items"].query("verdict == 'OUT'")["findings"])[-2:] == [2, 2]


def test_neighbours_farther_apart_than_stations_are_usually_shot_stay_apart(judged):
    assert judged(shot(20.0, 0.5), shot(131.0, 0.5))["items"]["findings"].tolist() == [1, 1]
    assert judged(shot(20.0, 0.5), shot(131.0, 0.5), unbroken="120 ft")["items"]["findings"].tolist() == [2]


def test_nothing_within_tolerance_has_a_number(judged):
    made = judged(shot(20.0, 0.0), shot(45.0, 0.01))
    assert made["findings"]["item"].isna().all()
    assert not len(made["items"])


def test_what_cannot_be_decided_is_one_item_of_its_kind_and_check_wherever_it_lies(judged):
    made = judged(shot(20.0, 0.09), shot(700.0, 0.095), shot(1500.0, -0.09))
    (item,) = made["items"].to_dict("records")
    assert (item["verdict"], item["check"], item["findings"]) == ("UNDECIDED", "offset", 3)
    assert set(made["findings"].query("verdict == 'UNDECIDED'")["item"]) == {"1"}


def test_how_near_is_an_option(judged):
    made = judged(shot(20.0, 0.5), shot(45.0, 0.6), near="10 ft", unbroken="10 ft")
    assert made["items"]["findings"].tolist() == [1, 1]


def finding(name, check, kind, subject, shots, station=float("nan"), place=(0.0, 0.0)):
    own = shots[0] if len(shots) == 1 else None
    return {"finding": name, "check": check, "kind": kind, "subject": subject, "shot": own, "station": station,
            "easting": place[0], "northing": place[1], "verdict": "OUT", "why": "proven", "excess": 5.0,
            "shots": shots}  # fmt: skip


def together(job, *rows):
    """Findings that bear the same number."""
    said = {"against": "job", "label": "", "quantity": "length", "rule": "guarded", "reference": ""}
    table = conform("findings", pd.DataFrame(rows).drop(columns="shots").assign(**said))
    several = [(row["finding"], key) for row in rows if len(row["shots"]) > 1 for key in row["shots"]]
    evidence = conform(
        "evidence", pd.DataFrame(several, columns=["finding", "key"]).assign(role="member", layer="shots")
    )
    layers = job.layers(shots=job.prepared(job.shots([shot(0.0, 0.0)])), findings=table, evidence=evidence)
    made = Items().run(layers)["findings"]["item"]
    return {frozenset(group) for group in table["finding"].groupby(made).agg(set)}


def test_a_rim_is_no_item_with_the_pipe_whose_slope_shares_its_shot(job):
    rows = (
        finding("F1", "pipe-slope", "storm-top", "P-1", ["a", "b"], 10.0, (0, 0)),
        finding("F2", "elevation", "rim", "MH-1 rim", ["a"], place=(0, 0)),
        finding("F3", "elevation", "rim", "MH-2 rim", ["b"], place=(0, 210)),
    )
    assert together(job, *rows) == {frozenset({"F1"}), frozenset({"F2"}), frozenset({"F3"})}


def test_a_walk_and_its_edges_are_one_item_by_a_shot_and_a_ramp_with_all_its_corners(job):
    walk = (
        finding("F1", "cross-slope", "walk", "F 1 / B 1", ["a", "b"], 10.0),
        finding("F2", "elevation", "walk-front", "W-1", ["a"], 500.0),
    )
    ramp = (
        finding("F3", "ramp-slope", "ramp", "CR-1, run", ["c", "d"], place=(900, 0)),
        finding("F4", "elevation", "ramp", "CR-1 7", ["e"], place=(905, 0)),
        finding("F5", "elevation", "ramp", "CR-2 7", ["f"], place=(910, 0)),
    )
    assert together(job, *walk, *ramp) == {frozenset({"F1", "F2"}), frozenset({"F3", "F4"}), frozenset({"F5"})}


def test_a_session_that_is_shifted_is_one_item_along_whatever_axes(job):
    rows = (
        finding("F1", "session-shift", "control", "session A", [None]),
        finding("F2", "session-shift", "control", "session B", [None]),
        finding("F3", "session-shift", "control", "session A", [None]),
        finding("F4", "control-position", "control", "session A", ["a"]),
    )
    assert together(job, *rows) == {frozenset({"F1", "F3"}), frozenset({"F2"}), frozenset({"F4"})}
