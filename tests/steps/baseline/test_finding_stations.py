"""Findings have a place along the baseline: points and stretches, whichever way the design line runs."""

import pandas as pd
import pytest

from geoqa import testing
from geoqa.model.tables.columns import conform
from geoqa.steps.baseline.finding_stations import FindingStations
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.offsets import Offsets
from geoqa.steps.evidence.coverage import Coverage

FORWARD = {"CTB-L": ("curb-top", -20.0, 100, 400)}
LIMITS = [("curb-top", "offset", -0.10, 0.10), ("curb-top", "coverage", float("-inf"), 50.0)]


def judged(baseline, lines, **options):
    rows = [{"station": s, "offset": -20.02} for s in (100, 125, 150, 300, 325, 350, 375, 400)]
    start = testing.layers(
        shots=testing.judged_shots(rows), limits=testing.limits(*LIMITS), **testing.design(lines), **baseline(**options)
    )
    return testing.run(start, MatchLines(), Offsets(), Coverage(), FindingStations())["findings"]


def backward():
    """The same line, drawn the other way."""
    tables = testing.design(FORWARD)
    row = tables["design_elements"]
    ends = {f"{a}_{axis}": row[f"{b}_{axis}"] for a, b in (("start", "end"), ("end", "start"))
            for axis in ("easting", "northing", "elevation")}  # fmt: skip
    return tables | {"design_elements": row.assign(**ends)}


def test_points_and_stretches(baseline):
    found = judged(baseline, FORWARD)
    points, gap = found[found["check"] == "offset"], found[found["check"] == "coverage"].iloc[0]
    assert points["baseline_station"].sort_values().tolist() == pytest.approx(
        [1100, 1125, 1150, 1300, 1325, 1350, 1375, 1400]
    )
    assert points["baseline_offset"].tolist() == pytest.approx([-20.02] * 8)
    assert points["baseline_station_end"].isna().all()
    assert gap["baseline_place"] == "TL 11+50 to 13+00, left side"
    assert [gap["baseline_station"], gap["baseline_station_end"]] == pytest.approx([1150, 1300])


def test_a_session_lies_at_no_place_of_the_line(baseline):
    found = judged(baseline, FORWARD)
    one = found[found["check"] == "offset"].head(1).drop(columns=[c for c in found if c.startswith("baseline")])
    about = one.assign(finding="d", check="diagnosis", subject="session A", shot=None)
    start = testing.layers(
        shots=testing.judged_shots([{"station": 100}]), findings=conform("findings", about), **testing.design(FORWARD),
        **baseline(),
    )  # fmt: skip
    (told,) = testing.run(start, FindingStations())["findings"].to_dict("records")
    assert told["baseline_place"] != told["baseline_place"]
    assert told["easting"] == one["easting"].iloc[0]


def test_a_stretch_across_an_equation_says_where_each_end_counts_from(baseline):
    found = judged(baseline, FORWARD, equations=((1200.0, 1100.0),))
    gap = found[found["check"] == "coverage"].iloc[0]
    assert gap["baseline_place"] == "TL 11+50 (before equation 1) to 12+00 (after equation 1), left side"


def test_a_line_drawn_against_the_baseline_reads_the_same(baseline):
    rows = [{"station": s, "offset": -20.02} for s in (100, 125, 150, 300, 325, 350, 375, 400)]
    start = testing.layers(shots=testing.judged_shots(rows), limits=testing.limits(*LIMITS), **backward(), **baseline())
    found = testing.run(start, MatchLines(), Offsets(), Coverage(), FindingStations())["findings"]
    gap = found[found["check"] == "coverage"].iloc[0]
    assert gap["baseline_place"] == "TL 11+50 to 13+00, left side"


def test_a_number_of_several_shots_reaches_from_the_first_to_the_last_of_them(baseline):
    found = judged(baseline, FORWARD)
    plain = found.drop(columns=[each for each in found if each.startswith("baseline")])
    one = plain[plain["check"] == "offset"].head(1).assign(shot=None, station=float("nan"))
    several = [one.assign(finding=name, check="cross-slope") for name in ("long", "short")]
    keys = {"long": ["day1/103", "day1/101", "day1/102"], "short": ["day1/104"]}
    rows = [{"finding": name, "role": "member", "layer": "shots", "key": key} for name in keys for key in keys[name]]
    shots = testing.judged_shots([{"station": s, "offset": -20.02} for s in (100, 125, 150, 300)])
    start = testing.layers(
        shots=shots, findings=conform("findings", pd.concat(several, ignore_index=True)),
        evidence=conform("evidence", pd.DataFrame(rows)), **testing.design(FORWARD), **baseline(),
    )  # fmt: skip
    told = testing.run(start, FindingStations())["findings"].set_index("finding")
    assert told.loc["long", "baseline_place"] == "TL 11+00 to 11+50, left side"
    assert told.loc["short", "baseline_station"] == pytest.approx(1100)
    assert told["baseline_station_end"].notna().to_dict() == {"long": True, "short": False}
