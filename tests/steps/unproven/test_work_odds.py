"""Work or survey? Odds of what is out of tolerance, from what was shot beside it."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.odds_sentences import odds_of
from geoqa.kernels.judging.odds import chance
from geoqa.model.tables.columns import conform
from geoqa.steps.design.elevations import Elevations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.positions import Positions
from geoqa.steps.surfaces.surface_deviations import SurfaceDeviations
from geoqa.steps.unproven.work_odds import WorkOdds
from geoqa.steps.utilities.cover import Cover

LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "elevation", -0.08, 0.08)]
U = {"u_h": 0.005, "u_v": 0.01}
LINES = {"A": ("curb-top", 0.0, 0, 900), "B": ("curb-top", 40.0, 0, 900)}


def shot(number, rise=0.0, *, offset=0.0, station=None, **more):
    at = pd.Timestamp("2026-03-14 14:00", tz="UTC") + pd.Timedelta(minutes=number)
    place = {"station": 25.0 * number if station is None else station, "offset": offset}
    return {"elevation": 100.0 + rise, "time": at, "tilt": 0.3, **place, **more}


def rises(values, *, offset=0.0, first=1, **more):
    return [shot(number, rise, offset=offset, **more) for number, rise in enumerate(values, start=first)]


def told(job, rows, *, options=None, limits=LIMITS, points=None, **tables):
    start = job.layers(
        shots=job.prepared(job.shots(rows)), limits=job.limits(*limits), **tables, **job.design(LINES, points)
    )
    steps = [MatchLines(), Offsets(), Elevations()]
    steps += [MatchPoints(), Positions()] if points else []
    return job.run(start, *steps, WorkOdds(**(options or {})))


def of(made, check="elevation", nth=0):
    """Probability and sentence of one finding that is out."""
    findings = made["findings"]
    out = findings[(findings["verdict"] == "OUT") & (findings["check"] == check)]
    table = made["work_odds"]
    name = out["finding"].iloc[nth]
    total = table.loc[table["finding"] == name, "log_ratio"].sum()
    return float(chance(total)), odds_of(made, out["finding"]).iloc[nth]


SOUND = rises([0.0] * 8, offset=40.0, first=20, line_id="B")


@pytest.mark.parametrize("line_id", ["A", "A2"])
def test_neighbours_are_of_the_same_work_where_a_line_was_rebuilt_and_shot_again(job, line_id):
    """Under its own line ID or another: what was built anew says nothing of what stood there."""
    before = rises([0.0, 0.0, 0.2, 0.22, 0.21, 0.2, 0.0, 0.0], line_id="A")
    after = [shot(n, 0.0, station=25.0 * (n - 4000) + 6.0, line_id=line_id) for n in range(4002, 4009)]
    both = told(job, [*before, *SOUND, *after])
    alone = told(job, [*before, *SOUND])
    for nth in range(4):
        assert of(both, nth=nth)[0] == pytest.approx(of(alone, nth=nth)[0], abs=0.03)
        assert of(both, nth=nth)[0] > 0.9


def test_two_neighbours_that_agree_speak_for_the_work(job):
    p, words = of(told(job, [*rises([0.0, 0.2, 0.22, 0.21, 0.0, 0.0]), *SOUND]), nth=1)
    assert p > 0.98
    assert words.startswith("more than 19 in 20 that it is the work, not the shot: both neighbours agree")


def test_neighbours_are_of_the_same_pass(job):
    first = rises([0.0] * 10, line_id="A")
    second = [
        shot(2000 + back, rise, station=25.0 * (10 - back) + 8.0, line_id="A")
        for back, rise in enumerate([0.2, 0.21, 0.19, 0.2, 0.2, 0.21, 0.2, 0.19])
    ]
    for nth in range(8):
        p, words = of(told(job, [*first, *second, *SOUND]), nth=nth)
        assert p > 0.9
        assert "neighbours are good" not in words


def test_one_that_stands_alone_is_as_likely_the_shot(job):
    p, words = of(told(job, [*rises([0.0, 0.0, 0.2, 0.0, 0.0, 0.0]), *SOUND]))
    assert 0.25 < p < 0.6
    assert words.startswith("even odds, the work or the shot: both neighbours are good")
    assert "no control check of its session before or after it" in words


def test_a_leaning_shot_alone_is_likelier_the_shot(job):
    rows = [*rises([0.0, 0.0, 0.2, 0.0, 0.0, 0.0]), *SOUND]
    plumb, _ = of(told(job, rows))
    rows[2] = rows[2] | {"tilt": 12.0}
    leaning, words = of(told(job, rows))
    assert leaning < 0.5 * plumb
    assert words.startswith("about ")
    assert "that it is the shot, not the work" in words
    assert "the rod leaned" in words


@pytest.mark.parametrize(("rise", "more"), [(0.21, True), (0.0, False)])
def test_the_same_place_shot_again_on_another_day_settles_it(job, rise, more):
    rows = [*rises([0.0, 0.0, 0.2, 0.0, 0.0, 0.0]), *SOUND]
    before, _ = of(told(job, rows))
    later = pd.Timestamp("2026-03-15 09:00", tz="UTC")
    again = shot(3, rise, station=75.1) | {"time": later, "session": "B", "initialization": "B1"}
    p, words = of(told(job, [*rows, again]))
    assert (p > 0.95) if more else (p < 0.1 * before)
    assert ("the re-shot after a new initialization agrees" in words) == more
    assert ("the re-shot after a new initialization does not agree" in words) != more


def test_a_second_shot_of_the_same_minute_tells_little_beside_the_first(job):
    def burst(count):
        rows = [shot(3 + nth / 12, 0.2, station=75.0) for nth in range(count)]
        return [*rises([0.0, 0.0]), *rows, *rises([0.0] * 4, first=6), *SOUND]

    one, two, three = (np.log(p / (1 - p)) for p in (of(told(job, burst(count)))[0] for count in (1, 2, 3)))
    assert 0.8 < two - one < 1.6
    assert abs(three - two) < 0.2


def test_other_lines_of_the_session_off_by_the_same_speak_for_the_survey(job):
    off = rises([0.2] * 6)
    beside = rises([0.2] * 6, offset=40.0, first=7, line_id="B")
    p, _ = of(told(job, [*off, *beside]), nth=3)
    alone, _ = of(told(job, [*off, *SOUND]), nth=3)
    assert p < alone
    assert p < 0.9


def checks(job, rise, *, off=()):
    """A check of the session right behind the third shot, and the mark it is on; others are left out, by reason."""
    rows = [*rises([0.0, 0.2, 0.2, 0.2, 0.0]), *SOUND]
    rows.insert(3, shot(3.5, rise, offset=900.0) | {"code": "CHK"})
    named = job.prepared(job.shots(rows))
    residual = {"session": "A", "mark": "M1", "shot_key": named["shot_key"].iloc[3], "time": named["time"].iloc[3]}
    residual |= {"easting": 0.0, "northing": 0.0, "elevation": rise, "left_out": None, "left_out_elevation": None}
    others = [residual | {"left_out_elevation": reason} for reason in off]
    table = pd.DataFrame([residual, *others]).astype({"left_out": "str", "left_out_elevation": "str"})
    control = pd.DataFrame(
        {"mark": ["M1"], "easting": 0.0, "northing": 0.0, "elevation": 0.0, "u_h": 0.005, "u_v": 0.01}
    )
    return told(job, rows, control_table=table, control=control)


def test_a_check_that_is_off_by_the_same_speaks_for_the_survey(job):
    (holds, said), (off, also) = of(checks(job, 0.0), nth=1), of(checks(job, 0.2), nth=1)
    assert off < holds
    assert "the only control check before or after it is good" in said
    assert "the only control check before or after it is off by the same" in also


@pytest.mark.long
def test_a_check_is_good_only_where_it_is_and_others_that_are_off_are_not_kept_quiet(job):
    _, apart = of(checks(job, 0.0, off=["mark disturbed or wrongly published"]), nth=1)
    assert "the only control check before or after it is good, those known to be off left out" in apart
    _, twice = of(checks(job, 0.0, off=["one measurement, listed twice"]), nth=1)
    assert "left out" not in twice
    _, otherwise = of(checks(job, -0.4), nth=1)
    assert "the only control check before or after it is off by something else" in otherwise


def test_what_is_off_in_plan_is_held_against_its_own_direction(job):
    rows = [shot(n, station=25.0 * n, offset=0.2 if 3 <= n <= 5 else 0.0) for n in range(1, 8)]
    p, _ = of(told(job, [*rows, *SOUND]), "offset", nth=1)
    assert p > 0.95
    other = [shot(n, station=25.0 * n, offset=-0.2 if n in (3, 5) else 0.2 if n == 4 else 0.0) for n in range(1, 8)]
    less, _ = of(told(job, [*other, *SOUND]), "offset", nth=1)
    assert less < p


def test_a_point_without_anything_beside_it_has_the_odds_before_anything_is_looked_at(job):
    points = {"V1": ("valve", 20.0, 100.0, 100.0)}
    rows = [shot(1, offset=20.9, station=100.0, code="WVL", line_id="V1", tilt=np.nan)]
    limits = [("valve", "position", 0.0, 0.30)]
    start = job.layers(
        shots=job.prepared(job.shots(rows), kind="valve"), limits=job.limits(*limits), **job.design({}, points)
    )
    made = job.run(start, MatchPoints(), Positions(), WorkOdds(shot=0.01))
    p, words = of(made, "position")
    assert p == pytest.approx(0.01 / (0.01 + 0.011), abs=0.25)
    assert (
        "no neighbour, no control check of its session before or after it" in words
        or "no control check of its session before or after it, no neighbour" in words
    )
    rows_of = made["work_odds"].set_index("evidence")
    assert rows_of.loc["prior", "log_ratio"] == pytest.approx(np.log(0.01 / 0.011))


@pytest.mark.long
def test_the_weights_are_options_and_nothing_but_out_has_odds(job):
    rows = [*rises([0.0, 0.0, 0.2, 0.0, 0.0, 0.0]), *SOUND]
    p, _ = of(told(job, rows))
    rarer, _ = of(told(job, rows, options={"shot": 0.0002}))
    assert rarer > p
    made = told(job, rows)
    out = made["findings"].query("verdict == 'OUT'")["finding"]
    assert set(made["work_odds"]["finding"]) == set(out)
    assert not len(told(job, rises([0.0, 0.0]))["work_odds"])


def plane(job):
    """A level surface at 100 over the whole site."""
    corners = np.array([(-900.0, -900.0), (900.0, -900.0), (900.0, 900.0), (-900.0, 900.0)]) + job.origin
    points = pd.DataFrame(corners, columns=["easting", "northing"])
    points = points.assign(elevation=100.0, surface="FG", source="design", point=np.arange(4))
    faces = pd.DataFrame([[0, 1, 2], [0, 2, 3]], columns=["first", "second", "third"])
    faces = faces.assign(surface="FG", source="design")
    return {"surface_points": conform("surface_points", points), "surface_faces": conform("surface_faces", faces)}


def over(job, kind, rows, step, limit):
    """Shots of one kind under or on that surface, judged by one step."""
    shots = job.prepared(job.shots(rows), kind=kind, u_v_common=0.02)
    start = job.layers(shots=shots, limits=job.limits((kind, *limit)), **plane(job))
    return job.run(start, step, WorkOdds())


@pytest.mark.parametrize("seed", range(5))
def test_shots_elsewhere_on_a_surface_are_no_re_shots(job, seed):
    """All shots of a surface were taken for shots of one place: "0 of 2 re-shots agree" spoke against a bump."""
    rng = np.random.default_rng(seed)
    rows = [shot(n, 0.02 * rng.normal() - 0.3 * (n == 9), offset=50.0 * (n % 4), tilt=np.nan) for n in range(16)]
    p, words = of(over(job, "ground", rows, SurfaceDeviations(), ("surface", -0.1, 0.1)), "surface")
    assert "re-shot" not in words
    assert "both neighbours are good" in words
    assert 0.1 < p < 0.9


def pipe(job, levels, rise):
    """Tops of a pipe under the surface, and amid them a check shot of their session that is off by so much."""
    rows = [shot(n, level, code="WTP", line_id="W-1", tilt=np.nan) for n, level in enumerate(levels)]
    rows.insert(6, shot(5.5, rise, offset=900.0, tilt=np.nan) | {"code": "CHK"})
    kinds = ["control" if row["code"] == "CHK" else "water-top" for row in rows]
    shots = job.prepared(job.shots(rows), kind=kinds, u_v_common=0.02)
    residual = {"session": "A", "mark": "M1", "shot_key": shots["shot_key"].iloc[6], "time": shots["time"].iloc[6]}
    residual |= {"easting": 0.0, "northing": 0.0, "elevation": rise, "left_out": None, "left_out_elevation": None}
    table = pd.DataFrame([residual]).astype({"left_out": "str", "left_out_elevation": "str"})
    mark = pd.DataFrame({"mark": ["M1"], "easting": 0.0, "northing": 0.0, "elevation": 0.0, "u_h": 0.005, "u_v": 0.01})
    limits = job.limits(("water-top", "cover", 4.0, np.inf))
    start = job.layers(shots=shots, limits=limits, control_table=table, control=mark, **plane(job))
    return job.run(start, Cover(), WorkOdds())


@pytest.mark.parametrize("seed", range(5))
def test_a_pipe_too_shallow_along_a_stretch_is_no_shift_of_its_session(job, seed):
    """Four tops in a row with 3 ft of cover in place of 5, and a check that is good: it was told to be the survey."""
    rng = np.random.default_rng(seed)
    made = pipe(job, np.where(np.isin(np.arange(12), [4, 5, 6, 7]), -3.0, -5.0) + 0.02 * rng.normal(size=12), 0.0)
    told_of = [of(made, "cover", nth) for nth in range(4)]
    assert all(p > 0.75 for p, _ in told_of)
    assert not any("re-shot" in words for _, words in told_of)
    assert sum("both neighbours agree" in words for _, words in told_of) == 2
    assert all("the only control check before or after it is good" in words for _, words in told_of)


@pytest.mark.parametrize(("rise", "work"), [(0.0, True), (1.0, False)])
def test_a_pipe_that_its_whole_session_lifts_is_the_survey(job, rise, work):
    """Cover is counted down and elevations up: covers of 4 ft that are measured as 3, by a session 1 ft too high."""
    p, _ = of(pipe(job, [-3.0] * 12, rise), "cover", nth=5)
    assert (p > 0.6) == work
    assert (p < 0.1) != work
