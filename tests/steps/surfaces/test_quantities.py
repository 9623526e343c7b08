"""Lengths, areas and volumes of shots whose answer is known, and what keeps one from being given."""

import numpy as np
import pandas as pd
import pytest

from bench.bands import binomial_band
from bench.extent import extent
from geoqa.model.tables.columns import conform
from geoqa.steps.surfaces.asbuilt_surface import AsbuiltSurface
from geoqa.steps.surfaces.quantities import Quantities

CODES = [("WKF", "walk-front", "WKB"), ("WKB", "walk-back", "WKF"), ("PAD", "pad", None), ("GND", "ground", None)]
PARCEL = [(0, 0), (300, 0), (300, 150), (150, 150), (150, 250), (0, 250), (0, 0)]


def told(job, rows, *, tables=None, steps=None, **columns):
    kinds = {code: kind for code, kind, _ in CODES}
    codes = pd.DataFrame(CODES, columns=["code", "kind", "pairs_with"]).assign(geometry="line", role="feature")
    made = job.shots(rows)
    prepared = job.prepared(made, kind=made["code"].map(kinds), **columns)
    layers = job.layers(
        shots=prepared, codes=conform("codes", codes), limits=job.limits(("ground", "surface", -0.1, 0.1)),
        **(tables or {}),
    )  # fmt: skip
    return job.run(layers, *(steps or (Quantities(),)))["quantities"].set_index(["name", "measure"])


def chain(code, line, places, **more):
    return [
        {"code": code, "line_id": line, "offset": float(e), "station": float(n), "sequence": at} | more
        for at, (e, n) in enumerate(places)
    ]


def test_a_parcel_of_60000_square_feet(job):
    corners = chain("PAD", "1", PARCEL)
    found = told(job, corners, steps=(Quantities(gap="400 ft"),))
    area = found.loc[("PAD 1", "area in plan")]
    assert area["value"] == pytest.approx(60_000)
    assert area["unit"] == "sq ft"
    assert found.loc[("PAD 1", "length in plan"), "value"] == pytest.approx(1100)
    # each corner moves the area by half the diagonal between its neighbours
    ring = np.array(PARCEL[:-1], float)
    across = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
    assert area["u"] == pytest.approx(0.02 * np.sqrt((across**2).sum()) / 2)


def test_a_curb_is_as_long_as_its_chords_and_feels_its_ends(job):
    """A right angle round a radius of 100 ft in 9 chords: 9 x 200 sin 5 deg = 156.88 ft, the arc 157.08."""
    turn = np.radians(np.arange(0, 91, 10.0))
    found = told(job, chain("PAD", "1", 100 * np.column_stack([np.sin(turn), 1 - np.cos(turn)])), u_h_common=0.5)
    row = found.loc[("PAD 1", "length in plan")]
    assert row["value"] == pytest.approx(156.880, abs=1e-3)
    # a shift of all changes no length; the ends are felt in full, the shots between by the turn at each
    assert row["u_common"] == pytest.approx(0, abs=1e-9)
    assert row["u"] == pytest.approx(0.02 * np.sqrt(2 + 8 * (2 * np.sin(np.radians(5))) ** 2), rel=2e-3)


def test_a_straight_edge_feels_its_two_ends(job):
    at = np.arange(0, 101, 25.0)
    row = told(job, chain("WKF", "1", [(0, each) for each in at])).loc[("WKF 1", "length in plan")]
    assert (row["value"], row["u"]) == (pytest.approx(100), pytest.approx(0.02 * np.sqrt(2), rel=1e-3))


def test_a_walk_by_both_edges_whichever_way_they_were_shot(job):
    at = np.arange(0, 101, 25.0)
    front, back = [(0.0, each) for each in at], [(5.0, each) for each in at]
    same = told(job, [*chain("WKF", "1", front), *chain("WKB", "1", back)], u_h_common=0.5)
    other = told(job, [*chain("WKF", "1", front), *chain("WKB", "1", back[::-1])], u_h_common=0.5)
    for found in (same, other):
        row = found.loc[("WKB 1 and WKF 1", "area in plan")]
        assert (row["value"], row["kind"]) == (pytest.approx(500), "walk")
        assert pd.isna(row["why"])
        assert row["u_common"] == pytest.approx(0, abs=1e-9)  # a shift of all changes no area
        assert row["u"] == pytest.approx(0.02 * np.sqrt(6 * 25**2 + 4 * (12.5**2 + 2.5**2)), rel=1e-2)


def test_one_edge_crossed_edges_and_a_gap_are_said(job):
    at = np.arange(0, 101, 25.0)
    rows = [*chain("WKF", "1", [(0, each) for each in at]), *chain("WKB", "1", [(5, each) for each in at])]
    rows += chain("WKF", "2", [(60, each) for each in at])
    rows += chain("WKF", "3", [(100, 0), (100, 50), (106, 100)]) + chain("WKB", "3", [(105, 0), (105, 50), (103, 100)])
    rows += chain("PAD", "4", [(200, 0), (200, 50), (200, 150), (200, 200)])
    found = told(job, rows)
    one = found.loc[("WKF 2", "area in plan")]
    assert np.isnan(one["value"])
    assert np.isnan(one["u"])
    assert one["why"].startswith("only one of its two edges")
    crossed = found.loc[("WKB 3 and WKF 3", "area in plan")]
    assert (np.isnan(crossed["value"]), crossed["why"]) == (True, "its outline crosses itself")
    parted = found.loc[("PAD 4", "length in plan")]
    assert parted["value"] == pytest.approx(100)
    assert "in 2 pieces" in parted["method"]


def test_one_edge_of_all_is_said_too_and_a_doubt_gives_no_number(job):
    at = np.arange(0, 101, 25.0)
    front = chain("WKF", "1", [(0, each) for each in at])
    assert told(job, front).loc[("WKF 1", "area in plan"), "why"].startswith("only one of its two edges")
    row = {"off_plan": 0.5, "off_elevation": 0.5, "together_plan": 0.0, "together_elevation": 0.0, "widened": 1.0}
    keys = [f"day1/{101 + number}" for number in range(40)]
    doubt = {"survey_doubt": conform("survey_doubt", pd.DataFrame([row | {"shot_key": key} for key in keys]))}
    within = told(job, front, tables=doubt).loc[("WKF 1", "length in plan")]
    assert within["value"] == pytest.approx(100)
    between = [each | {"initialization": f"A{number}"} for number, each in enumerate(front)]
    lost = told(job, between, tables=doubt).loc[("WKF 1", "length in plan")]
    assert np.isnan(lost["value"])
    assert "in doubt" in lost["why"]
    net = told(job, ground(lambda e, n: 100.5), tables=design(job, 100.0) | doubt, steps=STEPS)
    assert "in doubt" in net.loc[("as-built against FG", "net"), "why"]


def test_close_edges_bound_no_area_and_a_shot_not_in_use_is_passed_over(job):
    at = np.arange(0, 101, 25.0)
    rows = [*chain("WKF", "1", [(0, each) for each in at]), *chain("WKB", "1", [(0.5, each) for each in at])]
    found = told(job, rows, use=[True, False] + [True] * 8)
    assert "area" not in set(found["quantity"])
    row = found.loc[("WKF 1", "length in plan")]
    assert row[["value", "shots"]].tolist() == [pytest.approx(100), 4]
    assert row["method"] == "chords along 4 shots, 1 other passed over"
    lost = told(job, rows, use=[False] * 5 + [True] * 5).loc[("WKF 1", "length in plan")]
    assert np.isnan(lost["value"])
    assert lost["why"].startswith("no two of its shots")


def design(job, high):
    corners = np.array([(-50.0, -50.0), (250.0, -50.0), (250.0, 250.0), (-50.0, 250.0)])
    points = pd.DataFrame(corners + job.origin, columns=["easting", "northing"])
    points = points.assign(elevation=high, surface="FG", source="design", point=np.arange(4))
    faces = pd.DataFrame([[0, 1, 2], [0, 2, 3]], columns=["first", "second", "third"])
    return {
        "surface_points": conform("surface_points", points),
        "surface_faces": conform("surface_faces", faces.assign(surface="FG", source="design")),
    }


def ground(high, **more):
    return [
        {"code": "GND", "offset": e, "station": n, "elevation": high(e, n)} | more
        for e in np.arange(0, 101, 20.0) for n in np.arange(0, 61, 20.0)
    ]  # fmt: skip


STEPS = (AsbuiltSurface(), Quantities())


def test_a_slab_built_high_and_how_well_it_is_known(job):
    found = told(job, ground(lambda e, n: 100.5), tables=design(job, 100.0), steps=STEPS)
    net = found.loc[("as-built against FG", "net")]
    assert net["value"] == pytest.approx(0.5 * 6000)
    assert net["u_common"] == pytest.approx(0.02 * 6000)
    assert net["u_random"] < 0.02 * 6000 / 3
    # 10 ft deep the edge counts: 12 shots of it bound 20 ft each, and 4 corners half of it to two sides
    deep = told(job, ground(lambda e, n: 110.0), tables=design(job, 100.0), steps=STEPS)
    edge = 10 * 0.02 * np.sqrt(12 * 20**2 + 4 * 2 * 10**2)
    assert deep.loc[("as-built against FG", "net"), "u_random"] == pytest.approx(np.hypot(net["u_random"], edge), 1e-3)
    assert found.loc[("as-built against FG", "above"), "value"] == pytest.approx(3000)
    assert found.loc[("as-built against FG", "below"), "value"] == pytest.approx(0, abs=1e-6)
    assert "over 6,000.0 of 6,000.0 sq ft" in net["method"]
    assert "111.1 cubic yards" in net["method"]


def test_a_wedge_is_above_and_below(job):
    found = told(job, ground(lambda e, n: 100 + 0.02 * (e - 50)), tables=design(job, 100.0), steps=STEPS)
    above, below = (found.loc[("as-built against FG", each), "value"] for each in ("above", "below"))
    assert above == pytest.approx(0.02 * 50**2 / 2 * 60)
    assert below == pytest.approx(above)


def test_scatter_about_a_surface_built_as_designed_is_no_volume(job):
    rng = np.random.default_rng(6)
    found = told(job, ground(lambda e, n: 100 + rng.normal(0, 0.02)), tables=design(job, 100.0), steps=STEPS)
    above = found.loc[("as-built against FG", "above")]
    assert above["value"] > 0
    assert above["value"] < 1.96 * above["u"]


def test_a_design_with_faces_over_each_other_gives_no_volume(job):
    tables = design(job, 100.0)
    more = pd.DataFrame([[0, 1, 3]], columns=["first", "second", "third"]).assign(surface="FG", source="design")
    tables["surface_faces"] = conform("surface_faces", pd.concat([tables["surface_faces"], more], ignore_index=True))
    net = told(job, ground(lambda e, n: 100.5), tables=tables, steps=STEPS).loc[("as-built against FG", "net")]
    assert (np.isnan(net["value"]), net["why"]) == (True, "faces of the design surface lie over each other there")


@pytest.mark.score
def test_intervals_of_95_percent_hold_the_truth_in_so_many(job):
    rng, within, runs = np.random.default_rng(77), {"length": 0, "area": 0, "volume": 0}, extent(150, of_a_change=60)
    at = np.arange(0, 101, 25.0)
    edges = [*chain("WKF", "1", [(0, each) for each in at]), *chain("WKB", "1", [(5, each) for each in at[::-1]])]
    whole = edges + ground(lambda e, n: 100.5)
    truth = {"length": 100.0, "area": 500.0, "volume": 3000.0}
    for _ in range(runs):
        shift = rng.normal(0, [0.03, 0.03, 0.02])
        rows = []
        for row in whole:
            error = rng.normal(0, [0.02, 0.02, 0.02]) + shift
            named = {"offset": row["offset"] + error[0], "station": row["station"] + error[1]}
            rows.append(row | named | {"elevation": row.get("elevation", 100.5) + error[2]})
        found = told(job, rows, tables=design(job, 100.0), steps=STEPS, u_h_common=0.03)
        for quantity, name in (
            ("length", ("WKF 1", "length in plan")),
            ("area", ("WKB 1 and WKF 1", "area in plan")),
            ("volume", ("as-built against FG", "net")),
        ):
            row = found.loc[name]
            within[quantity] += abs(row["value"] - truth[quantity]) <= 1.96 * row["u"]
    print({name: f"{count / runs:.3f}" for name, count in within.items()})
    low, high = binomial_band(runs, 0.95)
    assert all(low <= count <= high for count in within.values()), within


def in_turn(across, *, every=20.0, count=12, face=False):
    """Two edges so far apart, shot in turn under one line ID: straight across at each station, or from side to side."""
    if face:
        return [(side, every * at) for at in range(count) for side in (0.0, across)]
    return [(across * (at % 2), every * at) for at in range(count)]


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("places", "swings"), [
    (in_turn(5.0), True), (in_turn(5.0, face=True), True), (in_turn(0.5, face=True), True),
    ([(0.0, 20.0 * at) for at in range(12)], False),
    ([(100 * np.sin(at), 100 * np.cos(at)) for at in np.radians(range(0, 180, 15))], False),
    ([(30 * np.sin(at), 60 * at) for at in np.arange(0, 7, 0.5)], False), (PARCEL, False),
])  # fmt: skip
def test_a_length_that_swings_from_side_to_side_says_so(job, places, swings, seed):
    """The chords of two edges shot in turn are no length of either: 300 ft of walk were 389 ft, and nothing said so."""
    rng = np.random.default_rng(seed)
    noisy = np.array(places, float) + 0.02 * rng.normal(size=(len(places), 2))
    row = told(job, chain("PAD", "1", noisy), steps=(Quantities(gap="400 ft"),)).loc[("PAD 1", "length in plan")]
    assert ("swings from side to side" in row["method"]) == swings
