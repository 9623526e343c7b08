"""Pipes that cross and pipes side by side: outsides, what is not noted, and a questioned invert shown both ways."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.crossings import Crossings
from geoqa.steps.utilities.pipes import Pipes
from geoqa.steps.utilities.structures import Structures

CLEAR = ("water-top", "clearance", 1.50, np.inf)
APART = ("water-top", "separation", 10.0, np.inf)
FOOT = 0.3048


def water(sewer, offset, level, *, spans=((-40.0, 40.0),), line="W-1", first=0):
    """Shots on top of a main along north."""
    rows = []
    for start, end in spans:
        for station in np.arange(start, end + 1, 20.0):
            rows.append({"offset": offset, "station": float(station), "elevation": level, "line_id": line})
    named = [row | {"code": "WTP", "shot": f"{line}/{first + n}"} for n, row in enumerate(rows)]
    return sewer.job.prepared(
        sewer.job.shots(named), kind="water-top", u_v_random=0.02, u_v_common=0.03, u_h_random=0.02, u_h_common=0.02
    )


def both(*tables):
    return pd.concat(tables, ignore_index=True)


def sized(rows, **sizes):
    """Notes with size and wall in inches."""
    return [
        (*row[:4], {"diameter": sizes[row[1]][0] * FOOT / 12, "wall": sizes[row[1]][1] * FOOT / 12})
        if row[1] in sizes
        else row
        for row in rows
    ]


def run(sewer, shots, rows, *limits, steps=(), **design):
    return sewer.done(shots, sewer.notes(*rows), *steps, Crossings(), limits=limits, **design)


@pytest.mark.long
def test_a_water_main_under_a_storm_pipe(sewer, storm):
    """P1 falls from 1451.40 to 1451.20; at 7 of 20 ft its invert is 1451.33, its bottom a wall of 2 in lower."""
    design, shots, rows = storm
    for top, verdict in ((1448.60, "IN"), (1450.06, "OUT"), (1449.65, "UNDECIDED")):
        done = run(sewer, both(shots, water(sewer, 9.0, top)), sized(rows, P1=(12, 2)), CLEAR, **design)
        row = done["findings"].query("check == 'clearance'").iloc[0]
        assert row["measured"] == pytest.approx(1451.33 - 2 / 12 - top)
        assert (row["label"], row["verdict"]) == ("P1 over W-1", verdict)
        # legs of 7/20 and of 1/2: rims and tapes of P1, shots of W-1
        tapes = 0.02 * np.sqrt(0.65**2 + 0.35**2)
        assert row["u_random"] == pytest.approx(np.hypot(np.hypot(tapes, tapes), 0.02), rel=1e-3)
        assert row["u_common"] == pytest.approx(0, abs=1e-9)


@pytest.mark.long
def test_a_questioned_invert_is_shown_both_ways_and_waits(sewer, storm):
    """1.00 long at IN-1 takes 0.65 ft off the clearance: 2.06 as it would be, 1.41 as read, so it waits."""
    design, shots, rows = storm
    slip = [("IN-1", "P1", "out", 5.47), *rows[1:]]
    everything = both(shots, water(sewer, 9.0, 1449.10))
    done = run(sewer, everything, sized(slip, P1=(12, 2)), CLEAR, steps=(Structures(), Pipes()), **design)
    row = done["findings"].query("check == 'clearance'").iloc[0]
    assert (row["verdict"], row["why"]) == ("NO_DATA", "open-blunder")
    assert "1.41 ft as read, 2.06 ft if it was misread so" in row["cause"]
    assert row["remedy"].startswith("re-measure: measure-down 5.47 ft at IN-1, P1 out")


@pytest.mark.long
def test_what_is_too_near_both_ways_is_out(sewer, storm):
    """Top of the main at 1450.06: 1.10 without the slip and 0.45 with it, both less than 1.50."""
    design, shots, rows = storm
    slip = [("IN-1", "P1", "out", 5.47), *rows[1:]]
    done = run(sewer, both(shots, water(sewer, 9.0, 1450.06)), sized(slip, P1=(12, 2)), CLEAR, **design)
    row = done["findings"].query("check == 'clearance'").iloc[0]
    assert (row["verdict"], row["why"]) == ("OUT", "out-both-ways")
    assert "0.45 ft as read, 1.10 ft if it was misread so" in row["cause"]


@pytest.mark.long
def test_a_wall_that_nobody_noted_proves_only_what_is_too_near(sewer, storm):
    design, shots, rows = storm
    for top, told in ((1448.60, ("NO_DATA", "no-wall")), (1450.90, ("OUT", "proven"))):
        done = run(sewer, both(shots, water(sewer, 9.0, top)), rows, CLEAR, **design)
        assert sewer.told(done, "clearance") == {"W-1": told}
        assert done["findings"]["label"].iloc[-1] == "P1 over W-1 (wall of P1 not noted: taken as 0)"


@pytest.mark.long
def test_a_main_over_a_sewer_needs_both_sizes(sewer, storm):
    """The main is the upper one: its bottom is an outside diameter below its top, the sewer's top a wall above it."""
    design, shots, rows = storm
    notes = [
        *sized(rows, P1=(12, 2)),
        (None, "W-1", None, np.nan, {"diameter": 8 * FOOT / 12, "wall": 0.5 * FOOT / 12}),
    ]
    done = run(sewer, both(shots, water(sewer, 9.0, 1456.0)), notes, CLEAR, **design)
    row = done["findings"].query("check == 'clearance'").iloc[0]
    assert row["measured"] == pytest.approx(1456.0 - 9 / 12 - (1451.33 + 14 / 12))
    assert row["label"] == "W-1 over P1"
    lost = run(sewer, both(shots, water(sewer, 9.0, 1456.0)), sized(rows, P1=(12, 2)), CLEAR, **design)
    assert sewer.told(lost, "clearance") == {"W-1": ("NO_DATA", "no-size")}


@pytest.mark.long
def test_a_gap_in_the_shots_is_no_pipe(sewer, storm):
    """Nothing was shot from 60 ft before P1 to 60 ft after it: no crossing is claimed."""
    design, shots, rows = storm
    gap = water(sewer, 9.0, 1450.06, spans=((-140.0, -60.0), (60.0, 140.0)))
    assert not len(run(sewer, both(shots, gap), sized(rows, P1=(12, 2)), CLEAR, **design)["findings"])


@pytest.mark.long
def test_marks_on_the_ground_are_told_and_not_judged(sewer, storm):
    design, shots, rows = storm
    codes = pd.DataFrame(
        [{"code": "WTP", "kind": "water-top", "geometry": "line", "role": "feature", "known_by": "mark"}]
    )
    done = run(
        sewer, both(shots, water(sewer, 9.0, 1450.06)), rows, CLEAR, codes=conform("codes", codes), **design
    )  # fmt: skip
    assert sewer.told(done, "clearance") == {"W-1": ("NO_DATA", "locate-mark")}


@pytest.mark.long
def test_an_end_without_an_invert_has_its_reason(sewer, storm):
    design, shots, rows = storm
    lost = [rows[0], ("MH-1", "P1", "in", np.nan), *rows[2:]]
    done = run(sewer, both(shots, water(sewer, 9.0, 1450.06)), sized(lost, P1=(12, 2)), CLEAR, **design)
    assert sewer.told(done, "clearance") == {"W-1": ("NO_DATA", "no-measure-down")}


@pytest.mark.long
def test_side_by_side(sewer, storm):
    """P2 runs north at -4; a main at 8 lies 12 ft from it, less half of 19 in and half of 9 in: 10.83."""
    design, shots, rows = storm
    notes = [
        *sized(rows, P2=(15, 2)),
        (None, "W-1", None, np.nan, {"diameter": 8 * FOOT / 12, "wall": 0.5 * FOOT / 12}),
    ]
    main = water(sewer, 8.0, 1450.0, spans=((20.0, 200.0),))
    done = run(sewer, both(shots, main), notes, APART, **design)
    row = done["findings"].query("check == 'separation' and label == 'beside P2'").iloc[0]
    assert row["measured"] == pytest.approx(12.0 - (19 + 9) / 24)
    assert row["verdict"] == "IN"
    assert row["u_random"] == pytest.approx(0.02 * np.sqrt(2), rel=0.3)
    near = run(sewer, both(shots, water(sewer, 4.0, 1450.0, spans=((20.0, 200.0),))), rows, APART, **design)
    told = near["findings"].set_index("label")
    assert told.loc["beside P2 (size of W-1 and size of P2 not noted: taken as 0)", "verdict"] == "OUT"


def test_a_job_without_limits_says_nothing(sewer, storm):
    design, shots, rows = storm
    assert not len(run(sewer, both(shots, water(sewer, 9.0, 1450.06)), rows, **design)["findings"])


@pytest.mark.parametrize("known", ["design line", "structures"])
@pytest.mark.parametrize(("top", "verdict"), [(1448.60, "IN"), (1450.40, "OUT")])
def test_a_line_that_the_crew_calls_otherwise_has_the_size_of_the_pipe_it_is(sewer, storm, known, top, verdict):
    """STP1 lies on P1: its size is found by the design line it is matched to, or by the structures it lies between."""
    design, shots, rows = storm
    rows = [(*row, {"kind": "storm-pipe"}) for row in rows]
    rows = [
        (*row[:4], row[4] | more)
        for row, (*_, more) in zip(
            rows,
            [(*each, {"diameter": 0.3048, "wall": 2 * FOOT / 12} if each[1] == "P1" else {}) for each in storm[2]],
            strict=True,
        )
    ]
    # 4 ft beside the line between its structures only the design line tells which pipe it is
    beside = 4.0 if known == "design line" else 0.0
    tops = [{"offset": off, "station": beside, "elevation": 1452.57 - 0.01 * (16 - off), "line_id": "STP1",
             "code": "STP", "shot": f"STP1/{n}"} for n, off in enumerate((13.0, 7.0, 0.0))]  # fmt: skip
    tops = sewer.job.prepared(sewer.job.shots(tops), kind="storm-pipe", u_v_random=0.02, u_v_common=0.03,
                              u_h_random=0.02, u_h_common=0.02)  # fmt: skip
    tables = dict(design)
    if known == "design line":
        tables["line_matches"] = matches(tops, "P1")
    done = run(sewer, both(shots, water(sewer, 9.0, top), tops), rows, CLEAR, ("storm-pipe", "pipe_slope", 0.0, 1.0),
               ("storm-pipe", "clearance", -9.0, np.inf), **tables)  # fmt: skip
    told = done["findings"].query("check == 'clearance' and kind == 'water-top'")
    assert told["label"].tolist() == ["STP1 over W-1"]  # by its top, and not once more by its inverts
    (row,) = told.to_dict("records")
    # top at 9.0 of the line, less an outside of 12 in and two walls of 2 in
    assert row["measured"] == pytest.approx(1452.57 - 0.07 - 16 / 12 - top, abs=1e-6)
    assert row["verdict"] == verdict


def matches(tops, line):
    table = pd.DataFrame({"shot_key": tops["shot_key"], "design": line, "kind": "storm-pipe", "chosen": True})
    return conform("line_matches", table.assign(ambiguous=False, station=np.arange(len(tops), dtype=float)))


def test_a_line_elsewhere_takes_no_size_of_a_pipe_it_is_not(sewer, storm):
    design, shots, rows = storm
    rows = [(*row[:4], {"kind": "storm-pipe", "diameter": 0.3048, "wall": 2 * FOOT / 12}) for row in rows]
    tops = [{"offset": off, "station": 5.0, "elevation": 1452.5, "line_id": "STP9", "code": "STP", "shot": f"STP9/{n}"}
            for n, off in enumerate((13.0, 7.0, 0.0))]  # fmt: skip
    tops = sewer.job.prepared(sewer.job.shots(tops), kind="storm-pipe", u_v_random=0.02, u_v_common=0.03,
                              u_h_random=0.02, u_h_common=0.02)  # fmt: skip
    done = run(sewer, both(shots, water(sewer, 9.0, 1448.0), tops), rows, CLEAR,
               ("storm-pipe", "clearance", -9.0, np.inf), **design)  # fmt: skip
    told = done["findings"].query("check == 'clearance' and kind == 'water-top'").set_index("label")["why"]
    assert told["STP9 over W-1 (size of STP9 not noted: taken as 0)"] == "no-size"
    assert told["P1 over W-1"] == "proven"
