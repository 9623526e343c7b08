"""Ramps: their slopes and sizes, and what is said where corners are missing."""

import numpy as np
import pandas as pd
import pytest

from bench.walk_shots import layers_of, readings
from geoqa import testing
from geoqa.steps.walks.ramps import Ramps

INF = np.inf
LIMITS = (
    ("ramp", "ramp-slope", -INF, 1 / 12),
    ("ramp", "ramp-cross-slope", -1 / 48, 1 / 48),
    ("ramp", "counter-slope", -INF, 1 / 20),
    ("ramp", "grade-change", -INF, 0.133),
    ("ramp", "turning-space", 4.0, INF),
    ("ramp", "turning-slope", -1 / 48, 1 / 48),
    ("ramp", "flare-slope", -INF, 1 / 10),
    ("detectable-warning", "warning-depth", 2.0, INF),
)
FINE = {"u_v_random": 0.002, "u_h_random": 0.002}
SOUND = {
    "slope": 0.075,
    "across": 0.0,
    "gutter": 0.04,
    "turning": (4.2, 5.0),
    "level": 0.015,
    "flare": 0.08,
    "deep": 2.1,
}


def ramp(name="CR-1", **planted):
    """Corners of a ramp with a run of 6 ft, 5 ft wide, rising east; a gutter 2 ft out, flares of 5 ft, a warning."""
    known = SOUND | planted
    long, wide = known["turning"]
    head = 6 * known["slope"]

    def at(code, along, across, level, tail):
        return {"code": code, "line_id": f"{name} {tail}", "offset": along, "station": across,
                "elevation": 100 + level + known["across"] * across}  # fmt: skip

    back = head + long * known["level"]
    return [
        *(at("RMP", 0, y, 0, n) for n, y in (("1", 0), ("2", 5))),
        *(at("RMP", 6, y, head, n) for n, y in (("3", 0), ("4", wide))),
        *(at("RMP", 6 + long, y, back, n) for n, y in (("5", 0), ("6", wide))),
        *(at("GUT", -2, y, 2 * known["gutter"], n) for n, y in (("7", 0), ("8", 5))),
        *(at("FLR", 0, y, 5 * known["flare"], n) for n, y in (("F1", -5), ("F2", 10))),
        *(at("DWS", x, y, 0.1, n) for n, x, y in (("W1", 0.5, 0), ("W2", 0.5, 5))),
        *(at("DWS", 0.5 + known["deep"], y, 0.1, n) for n, y in (("W3", 0), ("W4", 5))),
    ]


def judged(rows, **columns):
    findings = testing.run(layers_of(rows, *LIMITS, **(FINE | columns)), Ramps())["findings"]
    return {check: sorted(each["verdict"]) for check, each in findings.groupby("check")}, findings


def test_a_sound_ramp_keeps_every_limit():
    verdicts, findings = judged(ramp())
    assert set(verdicts) == {check for _, check, *_ in LIMITS}
    assert {verdict for each in verdicts.values() for verdict in each} == {"IN"}
    numbers = {label: round(value, 4) for label, value in zip(findings["label"], findings["measured"], strict=True)}
    assert numbers["CR-1, run"] == 0.075
    counter = findings[findings["check"] == "counter-slope"]["measured"].iloc[0]
    change = findings[findings["check"] == "grade-change"]["measured"].iloc[0]
    assert (counter, change) == (pytest.approx(0.04), pytest.approx(0.115))


BOTH_SIDES = [
    ("ramp-slope", {"slope": 1 / 12 - 2e-3}, {"slope": 1 / 12 + 2e-3}),
    ("ramp-cross-slope", {"across": -1 / 48 + 3e-3}, {"across": -1 / 48 - 3e-3}),
    ("ramp-cross-slope", {"across": 1 / 48 - 3e-3}, {"across": 1 / 48 + 3e-3}),
    ("counter-slope", {"gutter": 0.047}, {"gutter": 0.053}),
    ("grade-change", {"gutter": 0.133 - 0.075 - 4e-3}, {"gutter": 0.133 - 0.075 + 4e-3}),
    ("turning-space", {"turning": (4.01, 5.0)}, {"turning": (46 / 12, 5.0)}),
    ("turning-slope", {"level": 1 / 48 - 2e-3}, {"level": 1 / 48 + 2e-3}),
    ("flare-slope", {"flare": 0.098}, {"flare": 0.102}),
    ("warning-depth", {"deep": 2.01}, {"deep": 1.99}),
]


@pytest.mark.long
def test_both_sides_of_every_limit():
    rows = []
    for number, (_, *both) in enumerate(BOTH_SIDES):
        for side, planted in zip("IO", both, strict=True):
            away = 60.0 * (2 * number + (side == "O"))
            rows += [row | {"station": row["station"] + away} for row in ramp(f"{side}-{number}", **planted)]
    _, findings = judged(rows)
    for number, (check, *_) in enumerate(BOTH_SIDES):
        mine = findings[findings["check"] == check]
        good, bad = (set(mine.loc[mine["label"].str.startswith(f"{side}-{number},"), "verdict"]) for side in "IO")
        assert good == {"IN"}, (number, check)
        assert "OUT" in bad, (number, check)


def test_a_turning_space_of_46_by_48_inches():
    """46 by 48 in, 0.02 ft each way: the short side is 0.17 ft short, the other one at its limit cannot be decided."""
    verdicts, findings = judged(ramp(turning=(46 / 12, 4.0)), u_h_random=0.02, u_v_random=0.02)
    assert verdicts["turning-space"] == ["OUT", "UNDECIDED"]
    rows = findings[findings["check"] == "turning-space"].set_index("label")
    assert rows.loc["CR-1, turning space along", "deviation"] == pytest.approx(46 / 12)
    assert rows["u"].to_numpy() == pytest.approx(0.02)


@pytest.mark.long
def test_a_counter_slope_over_2_ft_is_undecided_and_names_the_level():
    """6.5 % over 2 ft, one shot at either end: u is 1.41 %."""
    _, findings = judged([row for row in ramp(gutter=0.065) if row["line_id"][-1] not in "8"], u_v_random=0.02)
    row = findings[findings["check"] == "counter-slope"].iloc[0]
    assert row["verdict"] == "UNDECIDED"
    assert 0.0122 < row["u"] < 0.0142
    assert "4 ft digital level" in row["remedy"]


@pytest.mark.long
def test_missing_corners_gutters_and_sides_say_why():
    def why(rows):
        _, findings = judged(rows)
        lost = findings[findings["verdict"] == "NO_DATA"]
        return dict(zip(lost["check"], lost["why"], strict=True))

    few = [row for row in ramp() if row["line_id"][-2:] in (" 1", " 2", " 3")]
    assert set(why(few).values()) == {"three-corners"}
    assert "ramp-slope" in why(few)
    bare = [row for row in ramp() if row["code"] == "RMP" and row["line_id"][-1] in "1234"]
    assert why(bare) == {
        "counter-slope": "no-gutter-shots", "grade-change": "no-gutter-shots", "turning-space": "no-turning-space",
        "turning-slope": "no-turning-space", "flare-slope": "no-flare-shots",
    }  # fmt: skip
    one_side = [row for row in ramp() if row["line_id"][-2:] not in ("W3", "W4")]
    assert why(one_side) == {"warning-depth": "one-side"}


@pytest.mark.long
def test_two_ramps_are_told_apart_and_any_order_gives_the_same():
    rows = ramp("CR-1") + [row | {"station": row["station"] + 40.0} for row in ramp("CR-2", slope=0.112)]
    one = judged(rows)[1].set_index("finding")["measured"].sort_index().round(9)
    order = np.random.default_rng(1).permutation(len(rows))
    named = [row | {"shot": f"{number}"} for number, row in enumerate(rows)]
    mixed = judged([named[at] for at in order])[1]
    slopes = mixed[mixed["check"] == "ramp-slope"].set_index("label")
    assert slopes["verdict"].to_dict() == {"CR-1, run": "IN", "CR-2, run": "OUT"}
    assert sorted(one.to_numpy()) == pytest.approx(sorted(mixed["measured"].round(9)))


def test_a_reading_that_is_better_is_judged_and_both_are_shown():
    rows = [row for row in ramp() if row["code"] != "GUT"]
    layers = layers_of(rows, *LIMITS, **FINE)
    read = readings(("counter-slope", "slope", "CR-1", 0.079), ("counter-slope", "slope", "CR-9", 0.01))
    with_it = testing.layers(**{name: layers[name] for name in ("shots", "codes", "limits")}, **read)
    findings = testing.run(with_it, Ramps())["findings"]
    mine = findings[findings["check"] == "counter-slope"].set_index("verdict")
    assert mine.loc["OUT", "measured"] == 0.079
    assert mine.loc["OUT", "label"].endswith("the reading is judged")
    assert (mine.loc["NO_DATA", "why"], mine.loc["NO_DATA", "label"]) == ("reading-elsewhere", "reading at CR-9")


def moved(rows, along, minutes=0):
    return [row | {"station": row["station"] + along} for row in rows]


def test_two_ramps_of_one_name_are_two_and_a_note_asks():
    steep, sound = ramp("RR", slope=0.11), moved(ramp("RR", slope=0.07), 200)
    done = testing.run(layers_of(steep + sound, *LIMITS, **FINE), Ramps())
    run = done["findings"][done["findings"]["check"] == "ramp-slope"].set_index("subject")
    assert run["verdict"].to_dict() == {"RR (1), run": "OUT", "RR (2), run": "IN"}
    assert run["measured"].tolist() == pytest.approx([0.11, 0.07])
    warning = done["findings"][done["findings"]["check"] == "warning-depth"]
    assert set(warning["subject"]) == {"RR (1), warning", "RR (2), warning"}
    (note,) = done["notes"].to_dict("records")
    assert [note["note"], note["subject"], note["count"]] == ["ramps-of-one-name", "RR", 2]


@pytest.mark.parametrize("run", [6.0, 30.0, 40.0])
def test_a_long_run_stays_one_ramp(run):
    rows = [row | {"offset": row["offset"] + (run - 6 if row["offset"] >= 6 else 0)} for row in ramp()]
    done = testing.run(layers_of(rows, *LIMITS, **FINE), Ramps())
    assert not len(done["notes"])
    assert done["findings"].set_index("label")["measured"]["CR-1, run"].max() == pytest.approx(0.45 / run, rel=0.05)


def again(rows, rng, day, high):
    """All corners shot on one more day, each with errors of its own."""
    return [
        row | {"elevation": row["elevation"] + rng.normal(0, high), "session": f"S{day}", "shot": f"{day}{n:05d}",
               "initialization": f"S{day}", "offset": row["offset"] + rng.normal(0, 0.02),
               "time": pd.Timestamp("2026-03-02 08:00", tz="UTC") + pd.Timedelta(days=day, minutes=0.7 * n)}
        for n, row in enumerate(rows)
    ]  # fmt: skip


def test_corners_shot_again_are_the_same_numbers_only_better():
    rng = np.random.default_rng(3)
    first, second = again(ramp(), rng, 0, 0.005), again(ramp(), rng, 1, 0.005)
    u = {"u_v_random": 0.01, "u_h_random": 0.02}
    once, twice = (judged(rows, **u)[1] for rows in (first, first + second))
    by = ["check", "label"]
    assert sorted(once[by].to_numpy().tolist()) == sorted(twice[by].to_numpy().tolist())
    ratio = twice.sort_values(by)["u_random"].to_numpy() / once.sort_values(by)["u_random"].to_numpy()
    assert ratio == pytest.approx(np.full(len(ratio), 1 / np.sqrt(2)), rel=0.05)


def numbered(findings):
    """Findings by check, label and which of those it is."""
    return findings.set_index(["check", "label", findings.groupby(["check", "label"]).cumcount()])


SHARES = {"nearly all": 0.97, "hardly any": 0.03}


@pytest.mark.long
def test_another_pass_of_the_corners_decides_as_many_as_it_promises():
    rng, truth = np.random.default_rng(2), []
    for number in range(50):
        planted = {"slope": rng.uniform(0.06, 0.105), "across": rng.uniform(-0.04, 0.04)}
        planted |= {"gutter": rng.uniform(0.02, 0.08), "level": rng.uniform(0, 0.04), "flare": rng.uniform(0.07, 0.13)}
        truth += [row | {"station": row["station"] + 100 * number} for row in ramp(f"CR-{number}", **planted)]
    u = {"u_v_random": 0.012, "u_h_random": 0.02, "u_v_common": 0.02}
    visits = [again(truth, rng, day, 0.012) for day in range(4)]
    after = [judged(sum(visits[: more + 1], []), **u)[1] for more in range(4)]  # noqa: RUF017 - four lists
    asked = after[0][(after[0]["verdict"] == "UNDECIDED") & after[0]["check"].str.contains("slope|grade")]
    told = asked["remedy"].str.extract(
        r"(\d) more independent pass\w* of its corners.*?(\d of 10|nearly all|hardly any)"
    )
    share = told[1].map(lambda each: SHARES[each] if each in SHARES else int(each[0]) / 10)
    verdicts = [numbered(each)["verdict"] for each in after]
    names = numbered(after[0]).index[after[0].index.isin(asked.index)]
    decided = [verdicts[int(more)].get(name) in ("IN", "OUT") for name, more in zip(names, told[0], strict=True)]
    assert len(asked) > 70
    assert abs(sum(decided) - share.sum()) < 3 * np.sqrt((share * (1 - share)).sum()) + 0.02 * len(asked)
