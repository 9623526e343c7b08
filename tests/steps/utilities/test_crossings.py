"""Pipes that cross and pipes side by side: outsides, what is not noted, and a questioned invert shown both ways."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.crossings import Crossings, of_choice
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
    # the least of ten distances that are alike
    assert row["u_random"] == pytest.approx(of_choice(10) * 0.02 * np.sqrt(2), rel=0.3)
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


def crossed(sewer, kind, rng, *, days=1, design=False, resume=False, u=0.02, error=True):
    """A bent pipe of 150 ft over a main, 1.50 ft apart between outsides; each day shot from its other end.

    Where a day resumes the other, both number their shots from 1.
    """
    rows = []
    for day in range(days):
        for line, code in (("S-1", "STP"), ("W-1", "WTP")):
            along = np.arange(0.0, 151.0, 15.0) if line == "S-1" else np.arange(-60.0, 61.0, 15.0)
            if resume:
                along = along[: len(along) // 2] if day == 0 else along[len(along) // 2 :]
            elif day % 2:
                along = along[::-1]
            for nth, at in enumerate(along):
                east, north = (at, 0.5 * u * rng.normal()) if line == "S-1" else (67.0, at)
                bent = 1450.0 - 0.6 * max(0.0, 1 - abs(at - 75.0) / 75.0)
                level = bent if line == "S-1" else 1450.0 - 0.6 * (67 / 75) - 16 / 12 - 1.50
                rows.append(
                    {"elevation": level + error * u * rng.normal(), "line_id": line, "code": code, "sequence": nth + 1,
                     "session": f"day {day}", "shot": f"{line}/{day}/{nth}", "source": f"day{day}",
                     "offset": east, "station": north,
                     "time": pd.Timestamp("2026-03-14 14:00", tz="UTC") + pd.Timedelta(days=day, minutes=nth)}
                )  # fmt: skip
    shots = sewer.job.shots(rows)
    kinds = shots["code"].map({"STP": kind, "WTP": "water-top"}).to_numpy(dtype=object)
    shots = sewer.job.prepared(shots, kind=kinds, u_v_random=u, u_v_common=0.0, u_h_random=0.02, u_h_common=0.02)
    notes = [(None, line, None, np.nan, {"diameter": size * FOOT / 12, "wall": wall * FOOT / 12})
             for line, size, wall in (("S-1", 12, 2), ("W-1", 8, 0.5))]  # fmt: skip
    return shots, notes


@pytest.mark.parametrize("kind", ["storm-top", "duct", "gas"])
def test_what_crosses_a_pipe_needs_no_limit_of_its_own(sewer, kind):
    """A pipe is one by its kind, by the notes, or by how the code list says it is known; it was left out in silence."""
    shots, notes = crossed(sewer, kind, np.random.default_rng(1), error=False)
    codes = [
        {"code": "STP", "kind": kind, "geometry": "line", "role": "feature", "known_by": "exposed"},
        {"code": "WTP", "kind": "water-top", "geometry": "line", "role": "feature", "known_by": None},
    ]
    if kind == "gas":
        codes[0]["known_by"] = None
    done = run(sewer, shots, notes, CLEAR, codes=conform("codes", pd.DataFrame(codes)))
    (row,) = done["findings"].query("check == 'clearance'").to_dict("records")
    assert (row["label"], row["measured"]) == ("S-1 over W-1", pytest.approx(1.50, abs=1e-3))


@pytest.mark.parametrize("seed", range(5))
def test_pipes_that_were_shot_again_cross_once_a_pass(sewer, seed):
    """Both passes number their shots from 1; joined to one line they made crossings 0.3 ft and more off the truth."""
    shots, notes = crossed(sewer, "storm-top", np.random.default_rng(seed), days=2)
    told = run(sewer, shots, notes, CLEAR)["findings"].query("check == 'clearance'")
    again = "S-1, second pass over W-1, second pass"
    assert sorted(told["label"]) == ["S-1 over W-1", again]
    assert told["subject"].tolist() == ["W-1, second pass" if each == again else "W-1" for each in told["label"]]
    assert told["measured"].to_numpy() == pytest.approx(1.50, abs=4 * 0.0283)
    # errors of one leg of either pipe, of one session: half of its variance and more
    assert told["u"].between(0.0199, 0.0284).all()


def test_a_pipe_that_was_shot_again_goes_with_the_one_pass_of_the_other(sewer):
    shots, notes = crossed(sewer, "storm-top", np.random.default_rng(7), days=2)
    once = shots[~((shots["line_id"] == "W-1") & (shots["session"] == "day 1"))].reset_index(drop=True)
    told = run(sewer, once, notes, CLEAR)["findings"].query("check == 'clearance'")
    assert sorted(told["label"]) == ["S-1 over W-1", "S-1, second pass over W-1"]
    assert told["finding"].is_unique


def test_a_pipe_that_a_second_day_carries_on_is_one_line(sewer):
    """Both days number their shots from 1: by number alone shots of either day would stand in turn."""
    shots, notes = crossed(sewer, "storm-top", np.random.default_rng(3), days=2, resume=True, error=False)
    (row,) = run(sewer, shots, notes, CLEAR)["findings"].query("check == 'clearance'").to_dict("records")
    assert row["measured"] == pytest.approx(1.50, abs=1e-3)


@pytest.mark.long
def test_levels_at_crossings_decide_as_often_as_they_promise(sewer):
    """Clearances spread evenly about their limit, judged again with levels of the shots round the crossing.

    Only these are asked for: another pass of the pipes has a number of its own, and decides nothing of the first.
    """
    rng, fine, count = np.random.default_rng(11), 0.005 / FOOT, 250
    truth = rng.uniform(1.38, 1.62, count)

    def judged(u):
        rows = []
        for nth, clear in enumerate(truth):
            for line, code in ((f"S-{nth}", "STP"), (f"W-{nth}", "WTP")):
                level = 1450.0 if code == "STP" else 1450.0 - 16 / 12 - clear
                for at in (-10.0, 10.0):
                    place = (at, 0.0) if code == "STP" else (0.0, at)
                    rows.append({"offset": place[0], "station": 100.0 * nth + place[1], "line_id": line, "code": code,
                                 "elevation": level + u * rng.normal(), "shot": f"{line}/{at}"})  # fmt: skip
        shots = sewer.job.shots(rows)
        kinds = shots["code"].map({"STP": "storm-top", "WTP": "water-top"}).to_numpy(dtype=object)
        shots = sewer.job.prepared(shots, kind=kinds, u_v_random=u, u_v_common=0.0, u_h_random=0.02, u_h_common=0.02)
        notes = [(None, f"{name}-{nth}", None, np.nan, {"diameter": FOOT * 8 / 12 if name == "W" else FOOT,
                                                        "wall": FOOT * 2 / 12})
                 for nth in range(count) for name in "SW"]  # fmt: skip
        return run(sewer, shots, notes, CLEAR)["findings"].query("check == 'clearance'").set_index("subject")

    before, after = judged(0.03), judged(fine)
    waits = before[before["verdict"] == "UNDECIDED"]
    assert len(waits) > 60
    # what is buried is exposed by those who may, and located first
    asked = "a level reading of both pipes, exposed at the crossing by a qualified crew (a pothole where it is filled; "
    assert waits["remedy"].str.startswith(asked + "call 811 / the one-call centre before you dig), with u of").all()
    told = waits["remedy"].str.extract(r" with u of 0.016 ft (.*)")[0]
    assert told.notna().all()
    tenths = told.str.extract(r"decides (\d) of 10")[0].astype(float)
    share = tenths.where(tenths.notna(), told.str.contains("nearly all") * 10.0) / 10
    decided = after.loc[waits.index, "verdict"].isin(["IN", "OUT"])
    assert decided.sum() == pytest.approx(share.sum(), abs=3 * np.sqrt((share * (1 - share)).sum()) + 0.05 * len(share))
    sure = after[after["verdict"].isin(["IN", "OUT"])]
    right = (truth[sure.index.str.split("-").str[1].astype(int)] >= 1.50) == (sure["verdict"] == "IN")
    assert right.mean() > 0.93


@pytest.mark.long
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("count", [3, 12])
def test_the_least_distance_of_many_shots_is_not_proven_too_small_by_chance(sewer, seed, count):
    """Pipes whose distance just keeps its limit: by u of one shot two of five of ten shots were proven too near."""
    rng, pairs, rows = np.random.default_rng(seed), 60, []
    for nth in range(pairs):
        for line, across in ((f"S-{nth}", 0.0), (f"W-{nth}", 10.0 + 9 / 12)):
            for at in range(count):
                rows.append({"offset": 100.0 * nth + across + 0.02 * rng.normal(), "station": 20.0 * at,
                             "elevation": 90.0, "line_id": line, "code": "WTP" if across else "STP", "sequence": at,
                             "shot": f"{line}/{at}"})  # fmt: skip
    shots = sewer.job.shots(rows)
    kinds = shots["code"].map({"STP": "storm-top", "WTP": "water-top"}).to_numpy(dtype=object)
    shots = sewer.job.prepared(shots, kind=kinds, u_v_random=0.02, u_v_common=0.0, u_h_random=0.02, u_h_common=0.02)
    notes = [(None, f"{name}-{nth}", None, np.nan, {"diameter": FOOT * 8 / 12, "wall": FOOT * 0.5 / 12})
             for nth in range(pairs) for name in "SW"]  # fmt: skip
    told = run(sewer, shots, notes, APART)["findings"].query("check == 'separation'")
    assert len(told) == pairs
    # at most 5 of 100; of 60 more than 9 once in a thousand (binomial)
    assert (told["verdict"] == "OUT").sum() <= 9
