"""How far right or left of its design line: limits of 0.10 either way, and u of 0.02."""

import numpy as np
import pytest

from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets

LINE = {"CTB-L": ("curb-top", 0.0, 0, 800)}
LIMITS = [("curb-top", "offset", -0.10, 0.10)]


def judged(job, rows, limits=LIMITS, **columns):
    rows = [{"station": 20.0 + 40.0 * nth} | row for nth, row in enumerate(rows)]
    layers = job.layers(shots=job.prepared(job.shots(rows), **columns), limits=job.limits(*limits), **job.design(LINE))
    return job.run(layers, MatchLines(), Offsets())


def test_offsets_are_judged_four_ways(job):
    made = judged(job, [{"offset": 0.02}, {"offset": 0.20}, {"offset": 0.10}, {"easting": np.nan}])
    assert job.told(made, "offset") == {
        "101": ("IN", "proven"),
        "102": ("OUT", "proven"),
        "103": ("UNDECIDED", "near-limit"),
        "104": ("NO_DATA", "no-position"),
    }
    rows = made["findings"].set_index("label")
    assert (rows[["lower", "upper"]] == [-0.10, 0.10]).all(axis=None)
    for name, deviation in {"shot 101": 0.02, "shot 102": 0.20, "shot 103": 0.10}.items():
        assert rows.loc[name, ["deviation", "u"]].tolist() == pytest.approx([deviation, 0.02])
        assert rows.loc[name, "p_conform"] == pytest.approx(job.chance(deviation, 0.02, -0.10, 0.10), abs=1e-6)
    assert rows.loc["shot 103", "p_conform"] == pytest.approx(0.5)
    assert rows.loc["shot 104", ["deviation", "p_conform"]].isna().all()


def test_a_finding_names_its_line_its_place_and_the_source_of_its_limit(job):
    row = judged(job, [{}, {"offset": 0.30}])["findings"].query("shot == 'day1/102'").iloc[0]
    assert row[["deviation", "station", "offset", "u"]].tolist() == pytest.approx([0.3, 60, 0.3, 0.02])
    assert row[["subject", "against", "reference", "edition", "rule"]].tolist() == [
        "CTB-L", "job; design", "Drawing C-101", "B", "guarded",
    ]  # fmt: skip
    assert row["excess"] == pytest.approx(10)  # 0.20 beyond the limit, in standard uncertainties


@pytest.mark.parametrize(("offset", "verdict"), [
    (0.0670, "IN"), (0.0672, "UNDECIDED"), (0.1328, "UNDECIDED"), (0.1330, "OUT"),
    (-0.0670, "IN"), (-0.0672, "UNDECIDED"), (-0.1328, "UNDECIDED"), (-0.1330, "OUT"),
])  # fmt: skip
def test_a_verdict_is_proven_at_95_percent(job, offset, verdict):
    # 1.6449 times 0.02 is 0.0329
    assert job.told(judged(job, [{"offset": offset}]), "offset")["101"][0] == verdict


def test_right_is_positive_and_a_limit_on_the_left_alone_lets_it_pass(job):
    made = judged(job, [{"offset": 0.5}, {"offset": -0.5}], [("curb-top", "offset", -0.10, np.inf)])
    assert made["findings"]["deviation"].tolist() == pytest.approx([0.5, -0.5])
    assert job.told(made, "offset") == {"101": ("IN", "proven"), "102": ("OUT", "proven")}


def test_both_parts_of_the_uncertainty_count(job):
    made = judged(job, [{}], u_h_random=0.03, u_h_common=0.04)
    assert made["findings"]["u"].tolist() == pytest.approx([0.05])


def test_a_shot_just_past_the_end_is_still_judged_by_its_offset(job):
    made = judged(job, [{"station": 800.12, "offset": 0.02}, {"station": 800.2, "offset": 0.02}])
    assert job.told(made, "offset") == {"101": ("IN", "proven"), "102": ("NO_DATA", "past-end")}


def test_what_nobody_set_a_tolerance_for_and_no_shots_make_no_findings(job):
    assert len(judged(job, [{}], [("curb-top", "elevation", -0.1, 0.1)])["findings"]) == 0
    assert len(judged(job, [])["findings"]) == 0
