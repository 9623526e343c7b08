import numpy as np
import pytest

from geoqa.steps.design.identical_to_design import IdenticalToDesign
from geoqa.steps.shots.usable_shots import UsableShots

LINES = {f"L{number}": ("curb-top", 2.5 * number, 0, 100 + number, 101.25) for number in range(8)}


def compared(job, places, decimals=3, written=None, lines=LINES, **columns):
    """Shots at (offset, station, elevation), rounded as recorded; `written` makes the text of the file."""
    rows = []
    for offset, station, elevation in places:
        measured = [job.origin[0] + offset, job.origin[1] + station, elevation]
        plain = [f"{value:.{decimals}f}" for value in measured]
        text = plain if written is None else written(*measured)
        row = dict(zip(("easting", "northing", "elevation"), map(float, plain), strict=True))
        rows.append(row | dict(zip(("raw_easting", "raw_northing", "raw_elevation"), text, strict=True)))
    shots = job.prepared(job.shots(rows), **columns).drop(columns=["use", "flags"])
    return job.run(job.layers(shots=shots, **job.design(lines)), IdenticalToDesign(), UsableShots())


def ends(count):
    return [(2.5 * number, 100.0 + number, 101.25) for number in range(count)]


def honest(count, seed=1):
    rng = np.random.default_rng(seed)
    scatter = rng.normal(0, [0.02, 0.02, 0.028], (count, 3))
    return [tuple(np.array([2.5 * (i % 8), 100.0 + i % 8, 101.25]) + scatter[i]) for i in range(count)]


def test_more_equal_rows_than_chance_explains_are_reported_and_not_judged(job):
    made = compared(job, [*honest(600), *ends(7)])
    (row,) = made["findings"].to_dict("records")
    assert [row["check"], row["verdict"], row["quantity"], row["measured"]] == ["identical", "OUT", "count", 7]
    assert 0 < row["design"] < 0.05
    assert row["upper"] < 7
    assert row["remedy"].startswith("7 rows equal the design; 0.00")
    assert row["remedy"].endswith("please supply the raw log of these shots")
    assert "cop" not in row["remedy"]
    rejected = made["shots"][~made["shots"]["use"]]
    assert rejected["flags"].unique().tolist() == ["identical-to-design"]
    assert sorted(rejected["shot_key"]) == sorted(made["evidence"]["key"])
    assert len(rejected) == 7


def test_a_coarse_record_equals_the_design_by_chance_and_says_nothing(job):
    made = compared(job, honest(640), decimals=2)
    assert len(made["findings"]) == 0
    assert made["shots"]["use"].all()


def test_honest_work_is_left_alone(job):
    assert len(compared(job, honest(640))["findings"]) == 0
    assert len(compared(job, [])["findings"]) == 0
    assert len(compared(job, ends(7), lines={})["findings"]) == 0


def test_zeros_dropped_at_the_end_do_not_coarsen_the_record(job):
    def short(*numbers):
        return [f"{value:.3f}".rstrip("0").rstrip(".") for value in numbers]

    made = compared(job, [*honest(100), *ends(5)], written=short)
    assert made["findings"]["measured"].tolist() == [5]


def test_a_decimal_comma_is_read(job):
    def comma(*numbers):
        return [f"{value:.3f}".replace(".", ",") for value in numbers]

    made = compared(job, [*honest(100), *ends(5)], written=comma)
    assert made["findings"]["measured"].tolist() == [5]


def test_rows_of_a_converted_file_are_not_compared(job):
    def metres(*numbers):
        return [f"{value * 0.3048:.3f}" for value in numbers]

    assert len(compared(job, ends(7), written=metres)["findings"]) == 0


@pytest.mark.parametrize("decimals", [3, 4])
def test_without_elevation_the_plan_alone_is_compared(job, decimals):
    lines = {name: (*line[:4], np.nan) for name, line in LINES.items()}
    made = compared(job, [*honest(50), *ends(7)], decimals=decimals, lines=lines)
    assert made["findings"]["measured"].tolist() == [7]


def without_uncertainty(rows, axes=("h", "v")):
    value = {"h": 0.02, "v": 0.02}
    return {
        f"u_{axis}_{part}": np.where(rows & (axis in axes), np.nan, value[axis] if part == "random" else 0.0)
        for axis in "hv"
        for part in ("random", "common")
    }


def test_rows_without_an_uncertainty_hide_no_others_and_are_not_counted(job):
    places = [*honest(600), *ends(7)]
    rows = np.arange(607)
    blank = (rows < 50) | (rows >= 605)  # fifty honest rows, and two of the seven
    (row,) = compared(job, places, **without_uncertainty(blank))["findings"].to_dict("records")
    assert row["measured"] == 5
    # 555 rows of 607 by arithmetic of their own: (0.001 / (0.02 sqrt(2 pi)))**3 each
    assert row["design"] == pytest.approx(555 * (0.001 / (0.02 * np.sqrt(2 * np.pi))) ** 3, rel=1e-3)
    made = compared(job, places, **without_uncertainty(rows >= 0))
    assert len(made["findings"]) == 0
    assert not made["shots"]["flags"].str.contains("identical-to-design").any()


def test_an_elevation_without_an_uncertainty_counts_as_agreeing_for_sure(job):
    places = [*honest(600), *ends(7)]
    every = np.ones(607, dtype=bool)
    (row,) = compared(job, places, **without_uncertainty(every, axes=("v",)))["findings"].to_dict("records")
    assert row["measured"] == 7
    assert row["design"] == pytest.approx(607 * (0.001 / (0.02 * np.sqrt(2 * np.pi))) ** 2, rel=1e-3)
