"""The schedule of structures: inverts, misread measure-downs, falls through structures, what was not recorded."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.utilities.pipes import Pipes
from geoqa.steps.utilities.structures import Structures

INVERT = ("invert", "invert", -0.15, 0.15)


def with_down(rows, at, down):
    changed = list(rows)
    changed[at] = (*rows[at][:3], down, *rows[at][4:])
    return changed


def test_inverts_as_built_are_in(sewer, storm):
    design, shots, rows = storm
    done = sewer.done(shots, sewer.notes(*rows), Structures(), limits=[INVERT], **design)
    told = sewer.told(done, "invert")
    assert set(told.values()) == {("IN", "proven")}
    table = done["structures"]
    assert table["invert"].tolist() == pytest.approx([1451.40, 1451.20, 1451.10, 1450.096])
    assert table["deviation"].tolist() == pytest.approx([0, 0, 0, 0], abs=1e-9)
    # 0.02 of the shot and 0.02 of the tape, 0.03 of the session
    assert table["u_random"].iloc[0] == pytest.approx(0.02 * np.sqrt(2))
    assert table["u_common"].iloc[0] == pytest.approx(0.03)
    assert not sewer.told(done, "invert-reading")


@pytest.mark.long
def test_inverts_off_and_undecided(sewer, storm):
    design, shots, rows = storm
    changed = with_down(with_down(rows, 2, 5.09 + 0.30), 3, 7.124 + 0.16)
    done = sewer.done(shots, sewer.notes(*changed), Structures(), limits=[INVERT], **design)
    told = sewer.told(done, "invert")
    assert told["MH-1, P2 out"] == ("OUT", "proven")
    assert told["MH-2, P2 in"] == ("UNDECIDED", "near-limit")


@pytest.mark.parametrize(
    ("slip", "kind"), [(1.00, "whole-feet"), pytest.param(2.00, "whole-feet", marks=pytest.mark.long)]
)
def test_a_whole_foot_is_named_and_waits(sewer, storm, slip, kind):
    """1.00 long at the inlet: P1 would run uphill at 4 %; both numbers stand in the words."""
    design, shots, rows = storm
    changed = with_down(rows, 0, 4.47 + slip)
    done = sewer.done(shots, sewer.notes(*changed), Structures(), Pipes(), limits=[INVERT], **design)
    assert sewer.told(done, "invert-reading") == {"IN-1, P1 out": ("NO_DATA", "misread")}
    assert sewer.told(done, "invert")["IN-1, P1 out"] == ("NO_DATA", "open-blunder")
    assert sewer.told(done, "pipe-slope")["P1"] == ("NO_DATA", "open-blunder")
    row = done["findings"].query("check == 'pipe-slope' and subject == 'P1'").iloc[0]
    assert f"{(0.20 - slip) / 20 * 100:.3f} % as read, 1.000 % if it was misread so" in row["cause"]
    assert row["remedy"].startswith("re-measure")
    assert done["structures"]["question"].tolist() == [kind, "", "", ""]
    assert done["structures"]["invert_without"].iloc[0] == pytest.approx(1451.40)
    reading = done["findings"].query("check == 'invert-reading'").iloc[0]
    assert reading["deviation"] == pytest.approx(slip)
    assert reading["design"] == pytest.approx(4.47)


@pytest.mark.long
def test_a_foot_at_the_lower_end_is_seen_in_the_structure(sewer, storm):
    """1.00 long where P1 enters MH-1: P1 runs down steeply, but P2 would leave a foot higher than P1 enters."""
    design, shots, rows = storm
    done = sewer.done(shots, sewer.notes(*with_down(rows, 1, 5.99)), Structures(), limits=[INVERT], **design)
    assert sewer.told(done, "invert-reading") == {"MH-1, P1 in": ("NO_DATA", "misread")}
    assert sewer.told(done, "structure-drop")["MH-1"] == ("NO_DATA", "open-blunder")


@pytest.mark.parametrize("seed", range(4))
def test_a_rim_shot_of_another_structure_is_told_with_the_shot_that_fits(sewer, storm, seed):
    """IN-1 is noted with the rim shot of MH-1: its invert came out 0.32 ft high, as tenths misread, or OUT."""
    design, shots, rows = storm
    rng = np.random.default_rng(seed)
    shots = shots.assign(elevation=shots["elevation"] + rng.normal(0, 0.02, len(shots)))
    noted = [(*row, {"shot": "MH-1" if row[0] == "IN-1" else row[0]}) for row in rows]
    done = sewer.done(shots, sewer.notes(*noted), Structures(), Pipes(), limits=[INVERT], **design)
    assert sewer.told(done, "invert-reading") == {"IN-1, P1 out": ("NO_DATA", "other-rim")}
    assert sewer.told(done, "invert")["IN-1, P1 out"] == ("NO_DATA", "open-blunder")
    assert done["structures"]["question"].tolist() == ["rim", "", "", ""]
    rim = float(shots["elevation"].iloc[0])
    assert done["structures"]["invert_without"].iloc[0] == pytest.approx(rim - 4.47)
    row = done["findings"].query("check == 'invert' and subject == 'IN-1, P1 out'").iloc[0]
    assert "from rim shot MH-1 of another structure (from shot IN-1, which nobody noted" in row["cause"]
    assert row["cause"].endswith(f"{rim - 4.47:.2f} ft if that is its rim")
    assert row["remedy"].startswith("write the rim shot of this structure into the column rim_shot, or re-measure: ")


def test_a_shared_rim_shot_is_no_question_where_no_other_shot_fits_or_all_agree(sewer, storm):
    design, shots, rows = storm
    noted = [(*row, {"shot": "MH-1" if row[0] == "IN-1" else row[0]}) for row in rows]
    off = shots.assign(elevation=shots["elevation"] + np.array([0.5, 0.0, 0.0]))
    for table, downs in ((off, noted), (shots.iloc[1:].reset_index(drop=True), noted)):
        done = sewer.done(table, sewer.notes(*downs), Structures(), limits=[INVERT], **design)
        assert "rim" not in set(done["structures"]["question"])
    one = [(row[0].replace("MH-1", "MH-1a") if nth == 1 else row[0], *row[1:], {"shot": row[0]})
           for nth, row in enumerate(rows)]  # fmt: skip
    done = sewer.done(shots, sewer.notes(*one), Structures(), limits=[INVERT], **design)
    assert set(done["structures"]["question"]) == {""}


def test_a_foot_that_was_built_is_a_defect(sewer, storm):
    """All of MH-1 a foot low, P1 in and P2 out alike: neighbours do not agree, so nothing is excused."""
    design, shots, rows = storm
    changed = with_down(with_down(rows, 1, 5.99), 2, 6.09)
    done = sewer.done(shots, sewer.notes(*changed), Structures(), limits=[INVERT], **design)
    assert not sewer.told(done, "invert-reading")
    assert sewer.told(done, "invert")["MH-1, P1 in"] == ("OUT", "proven")


@pytest.mark.long
def test_two_tenths_without_uphill_are_a_defect(sewer, storm):
    """P2 built flat at its lower end, 0.22 high: water still runs down, so it is not called a slip."""
    design, shots, rows = storm
    done = sewer.done(shots, sewer.notes(*with_down(rows, 3, 7.124 - 0.22)), Structures(), limits=[INVERT], **design)
    assert not sewer.told(done, "invert-reading")
    assert sewer.told(done, "invert")["MH-2, P2 in"][0] != "IN"


@pytest.mark.long
def test_a_metre_tape_is_named(sewer, storm):
    """4.99 ft are 1.521 m: the lower end of P1 would lie 3.47 ft too high."""
    design, shots, rows = storm
    done = sewer.done(shots, sewer.notes(*with_down(rows, 1, 4.99 * 0.3048)), Structures(), limits=[INVERT], **design)
    assert done["structures"]["question"].tolist() == ["", "unit", "", ""]
    assert done["structures"]["invert_without"].iloc[1] == pytest.approx(1451.20)


@pytest.mark.long
@pytest.mark.parametrize(
    ("row", "why"),
    [
        (("MH-9", "P1", "in", 4.99), "no-rim"),
        (("MH-1", "P1", "in", np.nan), "no-measure-down"),
        (("MH-1", "P1", "in", 0.0), "rim-below"),
    ],
)
def test_what_is_missing_has_its_own_reason(sewer, storm, row, why):
    design, shots, rows = storm
    done = sewer.done(shots, sewer.notes(rows[0], row), Structures(), Pipes(), limits=[INVERT], **design)
    name = f"{row[0]}, P1 in"
    assert sewer.told(done, "invert")[name] == ("NO_DATA", why)
    assert sewer.told(done, "pipe-slope")["P1"] == ("NO_DATA", why)
    assert done["findings"].query("subject == @name")["remedy"].notna().all()


@pytest.mark.long
def test_two_shots_of_one_name_are_asked_about(sewer, storm):
    design, shots, rows = storm
    twice = pd.concat([shots, shots.iloc[[1]].assign(shot_key="day1/MH-1~2")], ignore_index=True)
    done = sewer.done(twice, sewer.notes(*rows), Structures(), limits=[INVERT], **design)
    assert sewer.told(done, "invert")["MH-1, P1 in"] == ("NO_DATA", "rim-unclear")


@pytest.mark.long
def test_no_design_of_the_pipe_is_said(sewer, storm):
    _, shots, rows = storm
    done = sewer.done(shots, sewer.notes(*rows), Structures(), limits=[INVERT])
    assert set(sewer.told(done, "invert").values()) == {("NO_DATA", "no-design-invert")}


def test_the_fall_through_a_structure_feels_no_rim(sewer, storm):
    design, shots, rows = storm
    done = sewer.done(shots, sewer.notes(*rows), Structures(), **design)
    row = done["findings"].query("check == 'structure-drop'").iloc[0]
    assert row["deviation"] == pytest.approx(0.10)
    assert (row["u_common"], row["u_random"]) == pytest.approx((0, 0.02 * np.sqrt(2)))
    assert row["verdict"] == "IN"


@pytest.mark.long
def test_a_leaving_invert_above_an_entering_one_is_out(sewer, storm):
    _, shots, rows = storm
    done = sewer.done(shots, sewer.notes(*with_down(rows, 2, 4.80)), Structures())
    assert sewer.told(done, "structure-drop") == {"MH-1": ("OUT", "proven")}


@pytest.mark.long
def test_what_was_not_recorded_is_one_line_each(sewer, storm):
    design, shots, rows = storm
    more = [(*row, {"size": "12 in", "diameter": 0.3048} if row[1] == "P1" and row[2] == "out" else {}) for row in rows]
    done = sewer.done(shots, sewer.notes(*more), Structures(required_of_structure=()), **design)
    rows = done["findings"].query("check == 'structure-record'").sort_values("subject")
    assert rows["label"].tolist() == [
        "material not recorded",
        "material not recorded",
        "size, material not recorded",
        "size, material not recorded",
    ]
    assert rows["subject"].tolist() == ["IN-1, P1 out", "MH-1, P1 in", "MH-1, P2 out", "MH-2, P2 in"]
    assert set(rows["verdict"]) == {"NO_DATA"}
    assert done["structures"]["diameter"].tolist()[:2] == pytest.approx([1.0, 1.0])


@pytest.mark.long
def test_a_job_without_notes_has_an_empty_schedule(job):
    done = job.run(job.layers(shots=job.prepared(job.shots([{}]))), Structures(), Pipes())
    assert not len(done["structures"])
    assert not len(done["pipes"])
    assert not len(done["findings"])


TOP = {"diameter": 0.3048, "wall": 2 * 0.0254}


def along_the_top(sewer):
    """P1 drawn along its top: 14 in above the inverts of the fixture."""
    return sewer.design(P1=("storm-top", (16.0, 0.0, 1451.40 + 14 / 12), (-4.0, 0.0, 1451.20 + 14 / 12)))


def test_a_design_line_on_the_top_is_brought_to_the_invert(sewer, storm):
    _, shots, rows = storm
    sized = [(*rows[0], TOP), rows[1]]
    done = sewer.done(shots, sewer.notes(*sized), Structures(), limits=[INVERT], **along_the_top(sewer))
    assert set(sewer.told(done, "invert").values()) == {("IN", "proven")}
    assert done["structures"]["deviation"].tolist() == pytest.approx([0, 0], abs=1e-9)


@pytest.mark.long
def test_a_top_without_a_wall_is_no_design_of_the_invert(sewer, storm):
    _, shots, rows = storm
    sized = [(*rows[0], {"diameter": 0.3048}), rows[1]]
    done = sewer.done(shots, sewer.notes(*sized), Structures(), limits=[INVERT], **along_the_top(sewer))
    assert set(sewer.told(done, "invert").values()) == {("NO_DATA", "top-without-size")}
    assert done["findings"].query("check == 'invert'")["remedy"].str.contains("wall").all()


@pytest.mark.long
def test_an_invert_judged_at_its_design_point_is_not_judged_twice(sewer, storm):
    """The shot of the invert at MH-1 lies on a design point with an elevation; the one at IN-1 on none."""
    design, _, rows = storm
    inverts = sewer.job.prepared(
        sewer.job.shots([
            {"shot": "I1", "offset": 16.0, "station": 0.0, "elevation": 1451.40, "code": "INV"},
            {"shot": "I2", "offset": -4.0, "station": 0.0, "elevation": 1451.20, "code": "INV"},
        ]), kind="invert", u_v_random=0.02, u_v_common=0.03, u_h_random=0.02, u_h_common=0.02,
    )  # fmt: skip
    notes = sewer.notes(
        (*rows[0][:3], np.nan, {"invert_shot": "I1"}), (*rows[1][:3], np.nan, {"invert_shot": "I2"}),
        (None, "W-1", None, np.nan, {"diameter": 0.2}),
    )  # fmt: skip
    origin = sewer.job.origin
    points = conform("design_points", pd.DataFrame([
        {"point": "MH-1 in", "kind": "invert", "easting": origin[0] - 4, "northing": origin[1], "elevation": 1451.2}
    ]))  # fmt: skip
    matches = conform("point_matches", pd.DataFrame([
        {"shot_key": inverts["shot_key"].iloc[1], "design": "MH-1 in", "chosen": True, "ambiguous": False}
    ]))  # fmt: skip
    for check, told in (("elevation", {"IN-1, P1 out"}), ("offset", {"IN-1, P1 out", "MH-1, P1 in"})):
        limits = [INVERT, ("invert", check, -0.05, 0.05)]
        done = sewer.done(
            inverts, notes, Structures(), limits=limits, design_points=points, point_matches=matches, **design
        )  # fmt: skip
        assert set(sewer.told(done, "invert")) == told


def shot_inverts(sewer, shots, rows, level):
    """The end of P1 in MH-1 by a shot of its own at `level`, its rim named beside it; and P2 as noted."""
    shot = sewer.rims(("I2", -4.0, 0.0, level), ("X", 500.0, 500.0, 1460.0)).iloc[:1].assign(line=99)
    notes = sewer.notes(rows[0], (*rows[1][:3], np.nan, {"invert_shot": "I2", "shot": "MH-1"}), *rows[2:])
    return pd.concat([shots, shot], ignore_index=True), notes


def test_an_invert_that_was_shot_above_its_rim_is_no_work(sewer, storm):
    """8.3 ft above the rim: nothing that rests on it is judged, and the rim stands in the schedule."""
    design, shots, rows = storm
    whole, notes = shot_inverts(sewer, shots, rows, 1456.19 + 8.3)
    done = sewer.done(whole, notes, Structures(), Pipes(), limits=[INVERT], **design)
    told = sewer.told(done, "invert")
    assert told.pop("MH-1, P1 in") == ("NO_DATA", "rim-below")
    assert set(told.values()) == {("IN", "proven")}
    assert sewer.told(done, "pipe-slope")["P1"] == ("NO_DATA", "rim-below")
    assert sewer.told(done, "structure-drop") == {"MH-1": ("NO_DATA", "rim-below")}
    row = done["structures"].iloc[1]
    assert row["rim"] == pytest.approx(1456.19)
    assert pd.isna(row["invert"])
    assert pd.isna(row["deviation"])


def test_an_invert_that_was_shot_below_its_rim_is_judged(sewer, storm):
    design, shots, rows = storm
    whole, notes = shot_inverts(sewer, shots, rows, 1451.20)
    done = sewer.done(whole, notes, Structures(), limits=[INVERT], **design)
    assert set(sewer.told(done, "invert").values()) == {("IN", "proven")}
    assert done["structures"]["rim"].iloc[1] == pytest.approx(1456.19)


def test_without_a_usable_shot_every_end_says_so(sewer, storm):
    design, shots, rows = storm
    done = sewer.done(shots.assign(role="check"), sewer.notes(*rows), Structures(), Pipes(), limits=[INVERT], **design)
    assert set(sewer.told(done, "invert").values()) == {("NO_DATA", "no-rim")}
    assert set(sewer.told(done, "pipe-slope").values()) == {("NO_DATA", "no-rim")}


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("factor", [0.3048, 1 / 0.3048])
def test_a_whole_file_in_the_other_unit_is_asked_about(sewer, storm, factor, seed):
    """No invert agreed beside the others, so that all were proven off by 3 ft, and their pipes in."""
    design, shots, rows = storm
    rng = np.random.default_rng(seed)
    read = [(*row[:3], round((row[3] + 0.02 * rng.normal()) * factor, 3)) for row in rows]
    done = sewer.done(shots, sewer.notes(*read), Structures(), Pipes(), limits=[INVERT], **design)
    assert done["structures"]["question"].tolist() == ["unit"] * 4
    findings = done["findings"]
    held = findings[findings["check"].isin(["invert", "pipe-slope", "structure-drop"])]
    assert set(held["why"]) == {"open-blunder"}
    assert held["remedy"].str.startswith("state the unit of the measure-downs under [[structures]], or re-me").all()
    assert held["cause"].str.contains("in the other unit, as all of its file").all()


def test_what_is_out_in_either_unit_is_out(sewer, storm):
    """The lower end of P2 was built 0.40 ft high as well."""
    design, shots, rows = storm
    read = [(*row[:3], (row[3] - 0.40 * (at == 3)) * 0.3048) for at, row in enumerate(rows)]
    done = sewer.done(shots, sewer.notes(*read), Structures(), limits=[INVERT], **design)
    told = sewer.told(done, "invert")
    assert told.pop("MH-2, P2 in") == ("OUT", "out-both-ways")
    assert set(told.values()) == {("NO_DATA", "open-blunder")}


@pytest.mark.parametrize("shift", [3.4, -1.0])
def test_inverts_that_are_all_off_by_one_height_are_no_tape_of_another_unit(sewer, storm, shift):
    """Depths from 4.5 to 7.1 ft: a shift of the datum is off by the same at all of them."""
    design, shots, rows = storm
    read = [(*row[:3], row[3] + shift) for row in rows]
    done = sewer.done(shots, sewer.notes(*read), Structures(), limits=[INVERT], **design)
    assert set(done["structures"]["question"]) == {""}
