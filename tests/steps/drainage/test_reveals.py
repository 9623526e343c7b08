"""Reveals of a curb half a foot high; 0.42 to 0.58 ft; u of a reveal 0.0283 ft where two shots stand side by side."""

import numpy as np
import pandas as pd
import pytest

from bench.extent import extent
from geoqa import testing
from geoqa.steps.drainage.reveals import REVEAL, Reveals

U = 0.02 * np.sqrt(2)
METRES = pytest.param("m", 0.3048, marks=pytest.mark.long)
ONLY = [("curb", "reveal", 0.42, 0.58)]


def curb(street, tops=None, flow=None, stations=None):
    """Rows of both lines: tops and flow lines off their design by station."""
    stations = street.stations if stations is None else stations
    off = [np.array([(each or {}).get(at, 0.0) for at in stations]) for each in (tops, flow)]
    return [
        *street.shots(street.level(stations) + 0.5 + off[0], stations=stations, code="CTB"),
        *street.shots(street.level(stations) + off[1], stations=stations),
    ]


def told(findings):
    mine = findings[findings["check"] == "reveal"]
    return {row["station"]: row for row in mine.to_dict("records")}


@pytest.mark.parametrize(
    ("unit", "foot"), [("ft", 1.0), ("ftUS", 1.0), pytest.param("m", 0.3048, marks=pytest.mark.long)]
)
def test_reveals_are_judged_about_those_of_the_design(street, unit, foot):
    tops = {100.0: 0.2, 200.0: -0.2, 300.0: 0.07}
    found = told(street.judged(curb(street, tops), limits=ONLY, unit=unit))
    assert len(found) == 21
    for station, (reveal, verdict) in {0.0: (0.5, "IN"), 100.0: (0.7, "OUT"), 200.0: (0.3, "OUT"),
                                       300.0: (0.57, "UNDECIDED")}.items():  # fmt: skip
        row = found[min(found, key=lambda at: abs(at - station * foot))]
        assert row["deviation"] == pytest.approx(reveal * foot, abs=1e-6)
        assert row["design"] == pytest.approx(0.5 * foot, abs=1e-6)
        assert row["u"] == pytest.approx(U * foot)
        assert row["u_common"] == pytest.approx(0, abs=1e-9)
        assert row["verdict"] == verdict
        assert [row["lower"], row["upper"]] == pytest.approx([0.42 * foot, 0.58 * foot])


def lowered(street, rows, lift):
    """Both design lines in two legs, the top lowered by `lift` over the second one."""
    elements = street.layers(rows)["design_elements"]
    low = elements["line"] == "CTB-R"
    return elements.assign(
        start_elevation=elements["start_elevation"] - np.where(low, lift, 0.0),
        end_elevation=elements["end_elevation"] - np.where(low, lift, 0.0),
    )


@pytest.mark.long
def test_a_curb_lowered_by_design_is_held_to_its_own_reveal(street):
    rows = curb(street, dict.fromkeys(street.stations, -0.45) | {100.0: 0.0})
    found = told(street.judged(rows, limits=ONLY, design_elements=lowered(street, rows, 0.45)))
    assert (found[0.0]["deviation"], found[0.0]["design"]) == (pytest.approx(0.05), pytest.approx(0.05))
    assert found[0.0]["verdict"] == "IN"
    assert [found[0.0]["lower"], found[0.0]["upper"]] == pytest.approx([-0.03, 0.13])
    assert (found[100.0]["deviation"], found[100.0]["verdict"]) == (pytest.approx(0.5), "OUT")


def test_without_design_least_and_most_hold(street):
    found = street.judged(curb(street, {100.0: 0.2}), limits=ONLY, design=None)
    assert found["verdict"].value_counts().to_dict() == {"IN": 20, "OUT": 1}
    assert found["design"].isna().all()
    assert [found["lower"].iloc[0], found["upper"].iloc[0]] == [0.42, 0.58]


def test_a_reveal_between_two_shots_of_the_top_feels_both(street):
    half = street.stations + 12.5
    rows = [*street.shots(street.level() + 0.5, code="CTB"), *street.shots(street.level(half[:-1]), stations=half[:-1])]
    found = told(street.judged(rows, limits=ONLY))
    assert found[12.5]["deviation"] == pytest.approx(0.5)
    assert found[12.5]["u"] == pytest.approx(0.02 * np.sqrt(1.5))


@pytest.mark.long
def test_what_has_no_top_beside_it_says_so(street):
    rows = curb(street)
    tops, flows = rows[:21], rows[21:]
    short = street.judged(tops[:10] + flows, limits=ONLY)
    (row,) = short[short["why"] == "no-top-beside"].to_dict("records")
    # one row of the line, with all of its shots under it
    assert (row["verdict"], row["label"], row["station_end"]) == ("NO_DATA", "11 shots", 500.0)
    assert row["station"] == 250.0
    alone = street.judged(flows, limits=ONLY)
    assert set(alone["why"]) == {"no-top-beside"}
    assert alone["label"].tolist() == ["21 shots"]
    holed = told(street.judged(tops[:5] + tops[12:] + flows, limits=ONLY))
    assert (holed[125.0]["why"], holed[125.0]["label"], holed[125.0]["station_end"]) == (
        "top-not-shot",
        "7 shots",
        275.0,
    )
    assert holed[100.0]["why"] == "proven"


def test_shots_that_cannot_be_used_are_told(street):
    rows = curb(street)
    use = np.ones(len(rows), dtype=bool)
    use[21 + 4] = False
    rows[21 + 8]["elevation"] = np.nan
    found = street.judged(rows, limits=ONLY, prepared={"use": use})
    assert sorted(found.query("verdict == 'NO_DATA'")["why"]) == ["no-elevation", "screened"]
    assert len(found) == 21


def test_shots_without_a_line_id_say_so(street):
    rows = curb(street)
    for row in rows[-3:]:
        row["line_id"] = None
    found = told(street.judged(rows, limits=ONLY))
    assert (found[450.0]["why"], found[450.0]["station_end"]) == ("in-no-string", 500.0)
    assert len(found) == 19


def test_lines_that_cross_are_asked_about(street):
    rows = curb(street)
    for row in rows[:21]:
        row["offset"] = -0.5 if row["station"] > 400 else 0.5
    found = told(street.judged(rows, limits=ONLY))
    assert (found[425.0]["why"], found[425.0]["station_end"]) == ("top-on-other-side", 500.0)
    assert found[25.0]["verdict"] == "IN"


@pytest.mark.long
def test_rows_in_any_order_and_lines_walked_backwards_give_the_same(street):
    rows = curb(street, {100.0: 0.2})
    for nth, row in enumerate(rows):
        row["shot"] = f"s{nth}"
    one = street.judged(rows, limits=ONLY).sort_values("finding", ignore_index=True)
    mixed = [rows[k] for k in np.random.default_rng(2).permutation(len(rows))]
    backwards = [row | {"sequence": 100 - row["sequence"]} if row["code"] == "CTB" else row for row in rows]
    for other in (mixed, backwards):
        made = street.judged(other, limits=ONLY).sort_values("finding", ignore_index=True)
        pd.testing.assert_frame_equal(one, made)


def test_a_reveal_that_no_pair_gives_is_said(street):
    layers = street.layers(curb(street), limits=[("curb-top", "reveal", 0.42, 0.58)])
    done = testing.run(layers, Reveals())
    assert not len(done["findings"])
    (note,) = done["notes"].to_dict("records")
    assert (note["note"], note["subject"]) == ("reveal-without-pair", "curb-top")


def test_a_job_without_the_key_has_no_reveal(street):
    assert not len(street.judged(curb(street), limits=[("curb-flow", "coverage", -np.inf, 30.0)]))
    assert REVEAL.bound == "range"


@pytest.mark.parametrize(("unit", "foot"), [("ft", 1.0), METRES])
def test_neighbours_that_agree_are_one_finding_judged_by_its_mean(street, unit, foot):
    high = {200.0: 0.12, 225.0: 0.12, 250.0: 0.11, 275.0: 0.12}
    found = street.judged(curb(street, high), limits=ONLY, unit=unit)
    single = found[found["label"].str.startswith("shot ")]
    (mean,) = found[found["label"].str.startswith("mean of")].to_dict("records")
    assert mean["label"].startswith("mean of 4 sections over ")
    assert (mean["verdict"], mean["measured"]) == ("OUT", pytest.approx(0.6175 * foot))
    assert mean["u"] == pytest.approx(U * foot / 2, rel=1e-6)
    assert [mean["station"], mean["station_end"]] == pytest.approx([200 * foot, 275 * foot])
    mine = single[single["run"] == mean["finding"]]
    assert sorted(mine["station"].round(3)) == pytest.approx([200 * foot, 225 * foot, 250 * foot, 275 * foot], abs=1e-2)
    assert set(mine["verdict"]) == {"UNDECIDED"}
    assert len(single) == 21
    assert set(single.loc[single["run"].isna(), "verdict"]) == {"IN"}


def test_a_mean_within_its_limits_hides_no_three_neighbours_and_no_proven_one(street):
    lone = street.judged(curb(street, {200.0: 0.2}), limits=ONLY)
    assert (lone["verdict"] == "OUT").sum() == 1
    assert lone["run"].isna().all()
    # undecided one by one, and within the limits together
    near = dict.fromkeys(np.arange(150.0, 300.0, 25.0), 0.04)
    found = street.judged(curb(street, near), limits=ONLY)
    mean = found[found["label"].str.startswith("mean of")]
    assert set(mean["verdict"]) == {"IN"}
    assert not (found["verdict"] == "OUT").any()


@pytest.mark.score
@pytest.mark.parametrize("lasting", [0.0, 0.6, 1.0])
def test_intervals_of_means_hold_the_truth(street, lasting):
    held, rng = [], np.random.default_rng(3)
    at = street.stations
    jobs = extent(60, of_a_change=30)
    for _ in range(jobs):
        rows = curb(street, dict.fromkeys(at[8:14], 0.10))
        count = len(rows)
        carried = np.empty(count)
        carried[0] = rng.normal()
        for nth in range(1, count):
            carried[nth] = 0.95 * carried[nth - 1] + rng.normal(0, np.sqrt(1 - 0.95**2))
        error = 0.02 * (np.sqrt(lasting) * carried + np.sqrt(1 - lasting) * rng.normal(0, 1, count))
        start = rows[0]["time"]
        rows = [row | {"elevation": row["elevation"] + each, "time": start + pd.Timedelta(minutes=nth)}
                for nth, (row, each) in enumerate(zip(rows, error.tolist(), strict=True))]  # fmt: skip
        found = street.judged(rows, limits=ONLY)
        for row in found[found["label"].str.startswith("mean of")].to_dict("records"):
            inside = (at >= row["station"] - 1) & (at <= row["station_end"] + 1)
            truth = 0.5 + 0.10 * np.isin(at[inside], at[8:14]).mean()
            held.append(abs(row["measured"] - truth) <= 1.959964 * row["u"])
    print(lasting, np.mean(held), len(held))
    assert len(held) >= 5 * jobs // 6
    assert np.mean(held) >= extent(0.92, of_a_change=0.90)
