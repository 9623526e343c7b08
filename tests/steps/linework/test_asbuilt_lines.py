"""Planted lines: curves, words, gaps, closed outlines, and what is in none of them."""

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.linework_sentences import linework
from geoqa.model.tables.columns import conform
from geoqa.model.tables.fact import facts_of
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.linework.asbuilt_lines import AsBuiltLines

CODES = conform(
    "codes",
    pd.DataFrame(
        [
            {"code": "CTB", "kind": "curb-top", "geometry": "line", "role": "feature"},
            {"code": "MH", "kind": "manhole", "geometry": "point", "role": "feature"},
        ]
    ),
)


def string(places, name="1", first=1, **more):
    """Shots of one line at (offset, station) or (offset, station, word)."""
    rows = []
    for nth, (e, n, *word) in enumerate(places):
        row = {"offset": e, "station": n, "line_id": name, "sequence": first + nth, "shot": f"{name}-{first + nth}"}
        rows.append(row | ({"line_word": word[0]} if word else {}) | more)
    return rows


def made(job, rows, lines=None, step=None, **columns):
    shots = job.prepared(job.shots(rows), **columns)
    layers = job.layers(shots=shots, codes=CODES, **job.design(lines))
    return job.run(layers, *([MatchLines()] if lines else []), step or AsBuiltLines())


def names(done):
    return done["asbuilt_lines"]["line"].tolist()


def note(done):
    rows = done["notes"]
    facts = facts_of(rows[rows["note"] == "linework"], "note")
    return linework(facts, "ft") if facts else ""


def corner(radius=25.0, count=6, noise=0.0):
    """Two legs and a right turn between them, its shots with the word for a curve."""
    at = np.radians(np.linspace(180, 90, count))
    away = np.random.default_rng(7).normal(0, noise, count) if noise else np.zeros(count)
    bend = [
        ((radius + d) * np.cos(a) + radius, (radius + d) * np.sin(a) + 100, "arc")
        for a, d in zip(at, away, strict=True)
    ]
    return [(0, 50), (0, 75), *bend, (50, 125), (75, 125)]


def test_a_line_with_a_curve_keeps_its_arc_and_its_shots(job):
    done = made(job, string(corner()))
    line, elements = done["asbuilt_lines"].iloc[0], done["asbuilt_elements"]
    assert line["length"] == pytest.approx(50 + 25 * np.pi / 2 + 50)
    assert (line["shots"], line["curves"], line["closed"], line["kind"]) == (10, 1, False, "curb-top")
    arcs = elements[elements["shape"] == "arc"]
    assert arcs["radius"].to_numpy() == pytest.approx(np.full(5, 25.0))
    assert arcs["fitted_radius"].to_numpy() == pytest.approx(np.full(5, 25.0))
    assert arcs["sense"].tolist() == [1] * 5
    assert arcs["centre_easting"].to_numpy() == pytest.approx(job.origin[0] + 25)
    members = done["asbuilt_members"]
    assert members["shot_key"].tolist() == [f"day1/1-{nth}" for nth in range(1, 11)]
    assert members["station"].iloc[-1] == pytest.approx(line["length"])
    assert line.geometry.length == pytest.approx(line["length"], abs=0.05)
    assert note(done) == ""


def test_the_error_of_a_curve_is_told_and_its_shots_stand_off_it(job):
    done = made(job, string(corner(radius=60.0, count=30, noise=0.04)))
    assert done["asbuilt_lines"]["fit_error"].iloc[0] == pytest.approx(0.04, rel=0.35)
    assert done["asbuilt_elements"]["fitted_radius"].median() == pytest.approx(60.0, abs=0.2)
    assert 0.02 < done["asbuilt_members"]["off"].max() < 0.2


@pytest.mark.parametrize("seed", range(2))
def test_rows_in_any_order_give_the_same_lines(job, seed):
    rows = string(corner()) + string([(10, 0), (10, 25), (10, 25), (10, 50)], "2")
    rows += string([(20, 0), (20, 30)], "3", sequence=None)
    for nth, row in enumerate(rows):
        row["line"] = nth + 2
    mixed = [rows[at] for at in np.random.default_rng(seed).permutation(len(rows))]
    for table in ("asbuilt_lines", "asbuilt_elements", "asbuilt_members"):
        pd.testing.assert_frame_equal(pd.DataFrame(made(job, rows)[table]), pd.DataFrame(made(job, mixed)[table]))


def test_words_begin_end_and_close_lines(job):
    rows = string([(0, 0, "start"), (0, 20), (0, 40, "END"), (30, 0, "start"), (30, 40), (60, 40), (60, 0, "close")])
    done = made(job, rows)
    assert names(done) == ["CTB 1", "CTB 1 (2)"]
    assert done["asbuilt_lines"]["closed"].tolist() == [False, True]
    assert done["asbuilt_lines"]["ended"].tolist() == ["word", ""]
    assert done["asbuilt_lines"]["length"].tolist() == pytest.approx([40, 140])
    closed = done["asbuilt_lines"].geometry.iloc[1]
    assert closed.is_ring


def test_words_are_those_of_the_job(job):
    rows = string([(0, 0, "ST"), (0, 20), (0, 40, "FIN"), (0, 60, "ST"), (0, 80, "huh")])
    assert names(made(job, rows, step=AsBuiltLines(start=("st",), end=("fin",)))) == ["CTB 1", "CTB 1 (2)"]
    done = made(job, rows)
    assert names(done) == ["CTB 1"]
    assert "4 shots bear words that mean nothing to a line: fin (1), huh (1), st (2)" in note(done)


def test_a_gap_is_not_drawn_and_told_and_the_job_may_state_another(job):
    rows = string([(0, at) for at in (0, 25, 50, 75, 100, 260, 285)])
    done = made(job, rows)
    assert names(done) == ["CTB 1", "CTB 1 (2)"]
    assert done["asbuilt_lines"]["gap"].iloc[0] == pytest.approx(160)
    assert "not drawn across 1 gap of 160.0 ft, behind CTB 1" in note(done)
    assert names(made(job, rows, step=AsBuiltLines(gap="200 ft"))) == ["CTB 1"]
    assert len(names(made(job, rows, step=AsBuiltLines(gap="20 ft")))) == 0


def test_a_leg_from_one_design_line_to_another_apart_is_not_drawn_and_to_an_adjoining_one_is(job):
    rows = string([(0.0, at) for at in (0, 25, 50, 75, 100, 125)])
    apart = {"A": ("curb-top", 0.0, 0, 50), "B": ("curb-top", 0.0, 70, 130)}
    adjoin = {"A": ("curb-top", 0.0, 0, 60), "B": ("curb-top", 0.0, 60, 130)}
    done = made(job, rows, apart)
    assert names(done) == ["CTB 1", "CTB 1 (2)"]
    assert done["asbuilt_lines"]["design"].tolist() == ["A", "B"]
    assert "from one design line to another at 1 place" in note(done)
    assert names(made(job, rows, adjoin)) == ["CTB 1"]


def test_direction_is_told_against_the_design(job):
    rows = string([(0, 0), (0, 25), (0, 50)]) + string([(10, 50), (10, 25), (10, 0)], "2")
    done = made(job, rows, {"A": ("curb-top", 0.0, 0, 60), "B": ("curb-top", 10.0, 0, 60)})
    assert done["asbuilt_lines"]["direction"].tolist() == ["with", "against"]


def test_an_outline_that_comes_back_is_closed(job):
    box = [(0, 0), (40, 0), (40, 40), (0, 40), (0.05, 0.02)]
    done = made(job, string(box), flags=[""] * 4 + ["same-place"])
    assert done["asbuilt_lines"]["closed"].tolist() == [True]
    assert done["asbuilt_lines"]["length"].iloc[0] == pytest.approx(160)
    assert done["asbuilt_lines"]["shots"].iloc[0] == 5
    assert done["asbuilt_members"]["station"].tolist() == pytest.approx([0, 40, 80, 120, 160])


def test_what_is_in_no_line_is_counted(job):
    rows = string([(0, 0), (0, 25), (0, 50)]) + string([(9, 9)], "7") + string([(5, 5)], None)
    rows += [{"offset": 30, "station": n, "code": "MH", "line_id": "M1", "shot": f"M{n}"} for n in (1, 2)]
    done = made(job, rows, use=[True, False, True, True, True, True, True])
    assert names(done) == ["CTB 1"]
    assert done["asbuilt_lines"]["left_out"].tolist() == [1]
    assert done["asbuilt_lines"]["shots"].tolist() == [2]
    said = note(done)
    assert said.startswith("As-built lines (1 drawn): 1 shot of a line does not count and is left out; ")
    assert "1 shot has the code of a line and no line ID (CTB (1))" in said
    assert "CTB 7 is of 1 shot and no line" in said


def test_two_shots_of_a_curve_are_drawn_straight_and_told(job):
    done = made(job, string([(0, 0), (0, 25, "arc"), (2, 40, "arc"), (20, 60)]))
    assert done["asbuilt_lines"]["curves"].tolist() == [0]
    assert "1 curve is drawn straight in CTB 1" in note(done)


def test_two_files_that_number_alike_are_two_lines(job):
    rows = string([(0, 0), (0, 25), (0, 50)]) + string([(0, 90), (0, 115), (0, 140)], source="day2")
    assert names(made(job, rows)) == ["CTB 1", "CTB 1 (2)"]


def test_without_elevations_and_without_shots(job):
    rows = string([(0, 0), (0, 25), (0, 50)])
    rows[1]["elevation"] = np.nan
    assert made(job, rows)["asbuilt_lines"]["elevations"].tolist() == [False]
    done = made(job, [])
    assert all(len(done[each]) == 0 for each in ("asbuilt_lines", "asbuilt_elements", "asbuilt_members"))
    assert len(done["notes"]) == 0


def test_a_shot_that_repeats_another_is_no_vertex_and_told(job):
    rows = string([(0, 0), (0, 25), (0.02, 24.98), (0, 50)])
    done = made(job, rows, flags=["", "", "same-place", ""])
    assert done["asbuilt_lines"]["shots"].tolist() == [3]
    assert note(done) == "As-built lines (1 drawn): 1 shot repeats another one and is no vertex."
