"""Curves drawn in chords: told once a line, and in or out only by both readings until the job says which one holds."""

import numpy as np
import pandas as pd
import pytest
from shapely import Point

from geoqa.contract.sentences import note_lines
from geoqa.errors import StepError
from geoqa.kernels.design.element_making import from_vertices
from geoqa.model.tables.columns import conform
from geoqa.steps.design.bands import Bands
from geoqa.steps.design.chorded_curves import ChordedCurves
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.design.one_place import OnePlace
from geoqa.steps.design.runs import Runs
from geoqa.steps.linework.asbuilt_lines import AsBuiltLines
from geoqa.steps.linework.line_comparison import LineComparison
from geoqa.steps.precision.believed_parts import BelievedParts
from geoqa.steps.precision.uncertainty import Uncertainty
from geoqa.steps.shots.usable_shots import UsableShots

LIMITS = [("curb-top", "offset", -0.10, 0.10)]
RADIUS, CHORD = 50.0, 25.0


def curve(job, name="CTB-R", radius=RADIUS, chord=CHORD, level=100.0):
    """A curve to the left of chords round the origin of the desk, between two tangents, as design tables."""
    step = 2 * np.arcsin(chord / 2 / radius)
    at = np.append(np.arange(0, np.pi / 2 - 1e-9, step), np.pi / 2)
    arc = np.column_stack([radius * np.cos(at), radius * np.sin(at)])
    places = np.vstack([[radius, -60.0], arc, [-60.0, radius]]) + job.origin
    found = from_vertices(np.column_stack([places, np.full(len(places), level)]), np.zeros(len(places)))
    rows = {
        "line": name, "sequence": np.arange(len(found)), "shape": "line", "sense": 0, "length": found.length,
        "start_easting": found.start[:, 0], "start_northing": found.start[:, 1], "start_elevation": level,
        "end_easting": found.end[:, 0], "end_northing": found.end[:, 1], "end_elevation": level,
        "start_station": found.start_station,
    }  # fmt: skip
    lines = pd.DataFrame({"line": [name], "kind": "curb-top", "source": "design"})
    return {"design_lines": conform("design_lines", lines),
            "design_elements": conform("design_elements", pd.DataFrame(rows))}  # fmt: skip


def on_arc(off=0.0, count=13, radius=RADIUS):
    at = np.linspace(0.1, np.pi / 2 - 0.1, count)
    return [{"offset": (radius + off) * np.cos(each), "station": (radius + off) * np.sin(each)} for each in at]


def judged(job, rows, step=None, design=None):
    layers = job.layers(shots=job.prepared(job.shots(rows)),
                        limits=job.limits(*LIMITS), **(design or curve(job)))  # fmt: skip
    return job.run(layers, step or ChordedCurves(), MatchLines(), Runs(), Offsets())


def single(made):
    found = made["findings"]
    return found[found["shot"].notna()]


def test_sound_shots_on_the_true_arc_are_not_out_and_the_line_is_told_once(job):
    made = judged(job, on_arc())
    found = single(made)
    assert set(found["verdict"]) <= {"UNDECIDED", "IN"}
    wide = found[found["deviation"].abs() > 0.3]
    assert len(wide) >= 8
    assert set(wide["why"]) == {"chorded-curve"}
    assert wide["cause"].str.contains("from the chord that is drawn").all()
    assert wide["remedy"].str.startswith("find out whether the arc or its chords").all()
    assert len(made["runs"]) == 0
    (line,) = note_lines(made["notes"], "ft")
    assert "CTB-R (chords of 25.0 ft on a radius of 50.0" in line
    assert "middle ordinate 1.588 ft" in line
    assert 'use = "chorded-curves"' in line
    (row,) = made["chorded_curves"].to_dict("records")
    assert row["radius"] == pytest.approx(50, abs=0.01)
    assert [row["chords"], row["design_is"]] == [4, ""]


def test_the_arc_is_judged_where_the_job_says_so(job):
    for named in ("CTB-R", "*"):
        made = judged(job, on_arc(), ChordedCurves(arcs=(named,)))
        found = single(made)
        assert set(found["verdict"]) == {"IN"}
        assert found["deviation"].abs().max() < 0.01
        (line,) = note_lines(made["notes"], "ft")
        assert line.startswith("Curves that are drawn in chords and judged against their arcs, as the job says")
    out = single(judged(job, on_arc(off=0.2), ChordedCurves(arcs=("*",))))
    assert set(out["verdict"]) == {"OUT"}
    assert out["deviation"].tolist() == pytest.approx([0.2] * len(out), abs=0.01)


def test_the_band_follows_what_is_the_design(job):
    outer = 50.0 * np.array([np.cos(np.arcsin(0.25)), np.sin(np.arcsin(0.25))]) + job.origin
    for step, there in ((ChordedCurves(), False), (ChordedCurves(arcs=("*",)), True)):
        layers = job.layers(shots=job.prepared(job.shots([])), limits=job.limits(*LIMITS), **curve(job))
        (band,) = job.run(layers, step, Bands())["bands"].geometry
        assert band.contains(Point(outer)) == there


def test_the_chords_are_judged_where_the_job_says_so_and_nothing_is_told(job):
    made = judged(job, on_arc(), ChordedCurves(chords=("CTB-R",)))
    assert (single(made)["verdict"] == "OUT").sum() >= 8
    assert "chorded-curve" not in set(single(made)["why"])
    assert len(made["notes"]) == 0


def test_what_is_out_by_both_is_out_and_what_only_the_chord_calls_in_is_undecided(job):
    found = single(judged(job, on_arc(off=3.0)))
    assert set(found["verdict"]) == {"OUT"}
    middle = (RADIUS**2 - (CHORD / 2) ** 2) ** 0.5
    half = np.arcsin(CHORD / 2 / RADIUS)
    made = single(judged(job, [{"offset": middle * np.cos(half), "station": middle * np.sin(half)}]))
    assert made[["verdict", "why"]].to_numpy().tolist() == [["UNDECIDED", "chorded-curve"]]
    assert made["p_conform"].iloc[0] == pytest.approx(0.5, abs=0.01)


def test_several_shots_of_one_place_are_held_to_both_readings_too(job):
    rows = [each | {"session": session} for each in on_arc(count=3)[1:2] for session in "AB"]
    layers = job.layers(shots=job.prepared(job.shots(rows)), limits=job.limits(*LIMITS), **curve(job))
    made = job.run(layers, ChordedCurves(), MatchLines(), OnePlace())["findings"]
    assert made[["verdict", "why"]].to_numpy().tolist() == [["UNDECIDED", "chorded-curve"]]
    assert made["deviation"].abs().iloc[0] > 0.3


def test_shots_on_the_tangents_are_judged_as_ever(job):
    rows = [{"offset": RADIUS + 0.02, "station": -30.0}, {"offset": RADIUS + 0.3, "station": -20.0}]
    assert job.told(judged(job, rows), "offset") == {"101": ("IN", "proven"), "102": ("OUT", "proven")}


def test_without_the_step_or_without_curves_nothing_changes(job):
    straight = job.design({"A": ("curb-top", 0.0, 0, 100)})
    made = judged(job, [{"station": 50.0}], design={key: straight[key] for key in ("design_lines", "design_elements")})
    assert job.told(made, "offset") == {"101": ("IN", "proven")}
    assert len(made["notes"]) == len(made["chorded_curves"]) == 0


@pytest.mark.parametrize(
    ("options", "says"),
    [({"arcs": ("CTB-X",)}, "no design line 'CTB-X'"), ({"arcs": ("CTB-R",), "chords": ("CTB-R",)}, "stands under")],
)
def test_a_line_that_is_not_there_or_stands_twice_is_refused(job, options, says):
    with pytest.raises(StepError, match=says):
        judged(job, on_arc(), ChordedCurves(**options))


def test_what_a_curve_leaves_its_chords_by_is_no_scatter_of_the_shots(job):
    """Between its vertices the arc lies up to 1.5 ft off the chords: no shot is thought to be the worse for it."""
    rng = np.random.default_rng(3)
    rows = on_arc(count=60) + [{"offset": RADIUS, "station": -1.0 - 2.0 * nth} for nth in range(28)]
    rows = [{name: value + rng.normal(0, 0.01) for name, value in row.items()} for row in rows]
    shots = job.shots(rows).assign(kind="curb-top", role="feature").astype({"kind": "str", "role": "str"})
    stated = {"kind": "*", "h_random": 0.01, "h_common": 0.01, "v_random": 0.02, "v_common": 0.02, "reference": "crew"}
    layers = job.layers(shots=shots, precision=conform("precision", pd.DataFrame([stated])),
                        limits=job.limits(*LIMITS), **curve(job))  # fmt: skip
    made = job.run(layers, Uncertainty(), ChordedCurves(), MatchLines(), UsableShots(), BelievedParts())
    assert not len(made["believed_parts"])


@pytest.mark.parametrize(("off", "verdict"), [(0.0, "UNDECIDED"), (-0.8, "UNDECIDED"), (4.0, "OUT")])
def test_what_a_line_shares_is_not_what_its_curve_leaves_the_chords_by(job, off, verdict):
    """On the true arc, within the chords, and far off both: chords of 25 ft on 50 ft lie up to 1.6 ft within it."""
    rows = [each | {"line_id": "1", "sequence": nth, "shot": f"C-{nth}"} for nth, each in enumerate(on_arc(off))]
    share = ("curb-top", "line-share", 0.95, np.inf)
    layers = job.layers(shots=job.prepared(job.shots(rows)), limits=job.limits(*LIMITS, share), **curve(job))
    made = job.run(layers, ChordedCurves(), MatchLines(), Runs(), Offsets(), AsBuiltLines(), LineComparison())
    if verdict == "UNDECIDED":
        assert not (made["notes"]["note"] == "line-shift").any()
        assert not made["line_comparison"]["mean_offset"].iloc[0] > 0.1
    of_line = made["findings"][made["findings"]["check"] == "line-share"]
    assert of_line["verdict"].tolist() == [verdict]
