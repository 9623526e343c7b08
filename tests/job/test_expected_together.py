"""`check` says of every limit of several shots whether it will be judged, of what, and what keeps it from being."""

import pandas as pd
import pytest

from geoqa.job.document.limits import limits_table
from geoqa.job.document.load import parse
from geoqa.job.expected_together import together
from geoqa.model.quantity import FOOT
from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.cover import Cover

CODES = "code,kind,geometry,pairs\nF,walk-front,line,B\nB,walk-back,line,F\nT,curb-top,line,G\nG,curb-flow,line,T\n"
HEAD = '[job]\nname = "A"\n[frame]\nhorizontal = "EPSG:6559"\n[[shots]]\nfile = "a.csv"\n'


@pytest.fixture
def said():
    """Lines for a job's limits, shots of some kinds, and pairs of codes."""

    def of(tolerance, shots, *, noted=False, paired=True, pipes=(), lines=(), steps=()):
        job = parse(HEAD + "".join(f'[tolerance.{k}]\n{v}\nreference = "C"\n' for k, v in tolerance.items()))
        rows = [(kind, line) for kind, line, count in shots for _ in range(count)]
        table = pd.DataFrame(rows, columns=["kind", "line_id"])
        codes = [row.split(",") for row in CODES.split()[1:]]
        codes = pd.DataFrame(codes, columns=["code", "kind", "geometry", "pairs_with"]).assign(role="feature")
        codes["pairs_with"] = codes["pairs_with"].where([paired] * len(codes))
        layers = {
            "shots": pd.DataFrame({"line_id": table["line_id"], "note": "MD 5.42" if noted else ""}, dtype="str"),
            "codes": conform("codes", codes),
            "limits": limits_table(job, FOOT),
            "design_lines": pd.DataFrame(
                {"line": [f"L{n}" for n in range(len(lines))], "kind": list(lines)}, dtype="str"
            ),
        }
        if pipes:
            layers["structure_notes"] = pd.DataFrame({"pipe": [p for p, _ in pipes], "kind": [k for _, k in pipes]})
        return together(layers, table["kind"], steps=steps)

    return of


WALK = {"walk": 'cross_slope = "2 %"\nwidth = "48 in"'}


def test_a_pair_of_edges_is_judged_under_their_shared_kind(said):
    made = said(WALK, [("walk-front", "1", 4), ("walk-back", "1", 3)])
    assert made.judged == ("to be judged: cross_slope, width of walk: 3 shots of walk-back and 4 shots of walk-front",)
    assert made.left == ()
    assert made.kinds == {"walk"}


@pytest.mark.parametrize(
    ("shots", "paired", "why"),
    [
        ([("walk-front", "1", 4)], True, "no shot is of walk-back"),
        ([("walk-front", "1", 4), ("walk-back", None, 4)], True, "no shot of walk-back has a line ID"),
        ([("walk-front", "1", 4), ("walk-back", "1", 4)], False, "no two codes of lines pair to walk"),
    ],
)
def test_what_keeps_a_walk_from_being_judged_is_said(said, shots, paired, why):
    made = said(WALK, shots, paired=paired)
    assert made.judged == ()
    [line] = made.left
    assert line.startswith(f"not judged: cross_slope, width of walk: {why}")


def test_gutters_curbs_ramps_and_pipes(said):
    tolerance = {
        "curb-flow": 'fall = "0.3 %"\nponding = "0.02 ft"',
        "curb": 'reveal = { least = "0.4 ft" }',
        "ramp": 'ramp_slope = "1:12"\ncross_slope = "1:48"\ncounter_slope = "1:20"',
        "storm-pipe": 'pipe_slope = { least = "0.4 %" }\ncover = "3 ft"',
    }
    made = said(tolerance, [("curb-flow", "1", 5), ("ramp", None, 6)], pipes=[("P1", "storm-pipe")])
    assert set(made.judged) == {
        "to be judged: ponding of curb-flow: 5 shots of curb-flow, along themselves",
        "to be judged: cross_slope, ramp_slope of ramp: 6 shots of ramp",
        "to be judged: counter_slope of ramp: 6 shots of ramp, where a row of them lies in the gutter before the foot",
        "to be judged: pipe_slope of storm-pipe: 1 pipe of the notes of structures",
    }
    assert set(made.left) == {
        "not judged: fall of curb-flow: no design line is of curb-flow, and only the design says which way it drains",
        "not judged: reveal of curb: no shot is of curb-top",
        "not judged: cover of storm-pipe: no shot is of storm-pipe",
    }
    made = said(tolerance, [("curb-flow", "1", 5), ("curb-top", "1", 4)], lines=["curb-flow"])
    assert "to be judged: fall, ponding of curb-flow: 5 shots of curb-flow along 1 line of design" in made.judged
    assert "to be judged: reveal of curb: 5 shots of curb-flow and 4 shots of curb-top" in made.judged
    [pipes] = [line for line in made.left if "pipe_slope" in line]
    assert pipes.endswith("no [[structures]] notes the ends of pipes, and no note of a rim has a measure-down")
    made = said(tolerance, [("rim", "MH-1", 2)], noted=True)
    assert "to be judged: pipe_slope of storm-pipe: measure-downs in the notes of 2 shots" in made.judged


def test_cover_below_what_the_job_says_is_the_finished_surface(said):
    limit = {"water-top": 'cover = "5.5 ft"'}
    shots = [("water-top", "W-1", 4), ("pavement", None, 9)]
    [left] = said(limit, shots, lines=["walk-front"]).left
    assert left.endswith('lines of the design serve by [[steps]] use = "cover", surface_kinds = ["…"]')

    named = Cover(surface_kinds=("walk-front", "walk-back"))
    made = said(limit, shots, lines=["walk-front", "walk-front", "walk-back"], steps=(named,))
    below = "the design's 2 lines of walk-front and 1 line of walk-back"
    assert made.judged == (f"to be judged: cover of water-top: 4 shots of water-top below {below}",)
    assert made.left == ()
    [left] = said(limit, shots, lines=["curb-top"], steps=(named,)).left
    assert left.endswith("and no shot is of ground; no line of the design is of walk-front or walk-back")

    made = said(limit, shots, steps=(Cover(ground=("pavement",)),))
    assert made.judged == ("to be judged: cover of water-top: 4 shots of water-top below 9 shots of pavement",)
