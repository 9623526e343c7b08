import math

import numpy as np
import pandas as pd
import pytest

from geoqa.contract.sentences import note_lines
from geoqa.model.tables.columns import conform
from geoqa.steps.design.match_lines import MatchLines
from geoqa.steps.design.match_points import MatchPoints
from geoqa.steps.evidence.coverage import Coverage

LINES = {"CTB-L": ("curb-top", 0.0, 0, 200)}
SPACING = ("curb-top", "coverage", -math.inf, 30.0)


def covered(job, stations, lines=LINES, limits=(SPACING,), points=None, **columns):
    rows = [row if isinstance(row, dict) else {"station": row} for row in stations]
    shots = job.prepared(job.shots(rows))
    for name, values in columns.items():
        shots[name] = values
    layers = job.layers(shots=shots, limits=job.limits(*limits), **job.design(lines, points))
    return job.run(layers, MatchLines(), MatchPoints(), Coverage())


def test_a_covered_line_says_so_with_its_longest_reach(job):
    made = covered(job, [0, 25, 50, 75, 100, 125, 150, 175, 199])
    (row,) = made["findings"].to_dict("records")
    assert [row["verdict"], row["why"], row["subject"]] == ["IN", "proven", "CTB-L"]
    assert row["deviation"] == pytest.approx(25)
    assert row["u"] == pytest.approx(0.02 * math.sqrt(2))
    assert len(made["gaps"]) == 0


def test_a_reach_without_evidence_is_a_gap(job):
    made = covered(job, [0, 25, 50, 130, 155, 180])
    (row,) = made["findings"].to_dict("records")
    assert [row["verdict"], row["why"], row["label"]] == ["OUT", "no-evidence", "0+50 to 1+30"]
    assert row["deviation"] == pytest.approx(80)
    assert row["remedy"] == "shoot it, or show that it was not to be built"
    (gap,) = made["gaps"].to_dict("records")
    assert [gap["finding"], gap["line"], gap["length"]] == [row["finding"], "CTB-L", pytest.approx(80)]
    assert gap["geometry"].length == pytest.approx(80)
    assert made["evidence"]["key"].tolist() == ["day1/103", "day1/104"]


def test_the_ends_of_the_line_need_evidence_too(job):
    made = covered(job, [60, 85, 110, 135, 160])
    found = made["findings"].set_index("label")
    assert found["verdict"].to_dict() == {"0+00 to 0+60": "OUT", "1+60 to 2+00": "OUT"}
    assert found["u"].tolist() == pytest.approx([0.02, 0.02])  # one end of each is the design's own


def test_a_reach_of_the_spacing_itself_is_undecided(job):
    made = covered(job, [0, 30, 55, 80, 105, 130, 155, 180])
    assert made["findings"]["verdict"].tolist() == ["UNDECIDED"]
    assert len(made["gaps"]) == 1


def test_rejected_and_passing_shots_are_no_evidence(job):
    stations = [0, 25, 60, 100, 125, 150, {"station": 202.0}]
    made = covered(job, stations, use=[True, True, False, True, True, True, True])
    found = made["findings"].set_index("label")
    assert found["verdict"].to_dict() == {"0+25 to 1+00": "OUT", "1+50 to 2+00": "OUT"}
    assert found.loc["0+25 to 1+00", "remedy"].endswith("; 1 rejected shot lies in it")


def test_a_reach_that_was_shot_and_is_not_judged_is_no_gap(job):
    made = covered(job, [0, 25, 50, 75, 100, 125, 150, 175, 199], use=[True, True, False, False, *[True] * 5])
    (row,) = made["findings"].to_dict("records")
    assert [row["verdict"], row["why"], row["label"]] == ["NO_DATA", "screened", "0+25 to 1+00"]
    assert row["remedy"] == "shoot it again within the screening rules"


def verdicts(made):
    return {row.subject: (row.verdict, row.why) for row in made["findings"].itertuples()}


def test_lines_of_which_either_may_have_been_shot_accuse_nobody(job):
    """Two feet apart, the shots midway: the distance between lines decides nothing, and neither is called unbuilt."""
    lines = {"A": ("curb-top", -1.0, 0, 250), "B": ("curb-top", 1.0, 0, 250)}
    made = covered(job, range(0, 251, 25), lines)
    assert verdicts(made) == dict.fromkeys(lines, ("NO_DATA", "ambiguous-match"))


def test_a_line_drawn_twice_is_said_and_not_missed(job):
    lines = {"A": ("curb-top", 0.0, 0, 250), "A again": ("curb-top", 0.01, 0, 250)}
    made = covered(job, range(0, 251, 25), lines)
    found = verdicts(made)
    assert sorted(found.values()) == [("IN", "proven"), ("NO_DATA", "drawn-twice")]
    remedy = made["findings"].set_index("why")["remedy"]
    assert remedy["drawn-twice"] == "leave one of the two lines out of the design"
    assert made["findings"].set_index("why")["cause"]["drawn-twice"] == "the other line: A"
    (note,) = note_lines(made["notes"], "ft")
    assert note == (
        "Design lines that lie in the same place, so that shots count for one of them only: A and A again (11 shots)."
    )


@pytest.mark.parametrize("turned", [False, True])
def test_a_line_drawn_twice_is_said_where_the_odds_are_all_for_one_of_them(job, turned):
    lines = {"A": ("curb-top", 0.0, 0, 250), "copy": ("curb-top", 0.02, 0, 250)}
    start = job.layers(
        shots=job.prepared(job.shots([{"station": at} for at in range(0, 251, 25)])), limits=job.limits(SPACING),
        **job.design(lines),
    )  # fmt: skip
    matched = job.run(start, MatchLines())
    own = (matched["line_matches"]["design"] == "A").to_numpy()
    sure = matched["line_matches"].assign(chosen=own, odds=np.where(own, 0.999, 0.001), ambiguous=False)
    if turned:  # the copy is drawn from its other end
        sure = sure.assign(azimuth=np.where(own, sure["azimuth"], (sure["azimuth"] + 180.0) % 360.0),
                           offset=np.where(own, sure["offset"], -sure["offset"]))  # fmt: skip
    made = job.run(matched.instead({"line_matches": sure}), Coverage())
    assert verdicts(made) == {"A": ("IN", "proven"), "copy": ("NO_DATA", "drawn-twice")}


def test_a_line_whose_neighbour_carries_all_shots_may_be_superseded(job):
    lines = {
        "rev. B": ("curb-top", 0.0, 0, 250),
        "rev. A": ("curb-top", 4.0, 0, 250),
        "far": ("curb-top", 40.0, 0, 250),
    }
    made = covered(job, range(0, 251, 25), lines)
    assert made["findings"].set_index("subject")["cause"].dropna().to_dict() == {"rev. A": "the other line: rev. B"}
    assert verdicts(made) == {
        "rev. B": ("IN", "proven"), "rev. A": ("NO_DATA", "beside-another"), "far": ("OUT", "no-evidence"),
    }  # fmt: skip


def test_a_line_with_shots_of_its_own_keeps_its_gap_beside_another(job):
    lines = {"A": ("curb-top", 0.0, 0, 250), "B": ("curb-top", 4.0, 0, 250)}
    rows = [{"station": at} for at in range(0, 251, 25)] + [{"offset": 4.0, "station": at} for at in (0, 25, 50)]
    assert verdicts(covered(job, rows, lines)) == {"A": ("IN", "proven"), "B": ("OUT", "no-evidence")}


def test_short_lines_and_kinds_without_a_spacing_are_asked_the_same(job):
    lines = {"A": ("curb-top", 0.0, 0, 20), "A again": ("curb-top", 0.0, 0, 20), "C": ("curb-top", 60.0, 0, 20)}
    assert verdicts(covered(job, [5, 15], lines)) == {
        "A": ("IN", "proven"), "A again": ("NO_DATA", "drawn-twice"), "C": ("OUT", "no-evidence"),
    }  # fmt: skip
    unspaced = covered(job, [5, 15], lines, limits=[("curb-top", "offset", -0.1, 0.1)])
    assert verdicts(unspaced) == {"A again": ("NO_DATA", "no-limit"), "C": ("NO_DATA", "no-limit")}


def test_nobody_is_told_to_dig_up_a_pipe(job):
    lines = {"W-1": ("water-top", 0.0, 0, 200)}
    (row,) = covered(job, [], lines, [("water-top", "coverage", -math.inf, 50.0)])["findings"].to_dict("records")
    assert row["verdict"] == "OUT"
    assert row["remedy"] == "show a record of it from before it was covered, or that it was not to be built"


def test_a_line_without_any_shot_is_a_gap_however_short(job):
    lines = {"long": ("curb-top", 0.0, 0, 200), "short": ("curb-top", 50.0, 0, 20)}
    made = covered(job, [], lines)
    found = made["findings"].set_index("subject")
    assert found["verdict"].to_dict() == {"long": "OUT", "short": "OUT"}
    assert found["why"].unique().tolist() == ["no-evidence"]
    assert found["quantity"].to_dict() == {"long": "length", "short": "count"}
    assert sorted(made["gaps"]["line"]) == ["long", "short"]


def test_a_line_without_spacing_and_without_shots_is_no_data(job):
    made = covered(job, [], limits=[("curb-top", "offset", -0.1, 0.1)])
    (row,) = made["findings"].to_dict("records")
    assert [row["verdict"], row["why"], row["subject"]] == ["NO_DATA", "no-limit", "CTB-L"]
    assert len(covered(job, [50], limits=[("curb-top", "offset", -0.1, 0.1)])["findings"]) == 0


def test_a_kind_without_any_tolerance_is_not_asked_for(job):
    assert len(covered(job, [], limits=[])["findings"]) == 0


POINTS = {"H-1": ("hydrant", 0.0, 10.0, 100.0), "H-2": ("hydrant", 0.0, 90.0, np.nan)}
HYDRANT = ("hydrant", "position", -math.inf, 0.3)


def test_a_point_without_a_shot_is_without_evidence(job):
    made = covered(job, [{"station": 10.0}], {}, [HYDRANT], POINTS, kind="hydrant")
    (row,) = made["findings"].to_dict("records")
    assert [row["subject"], row["verdict"], row["why"], row["quantity"]] == ["H-2", "OUT", "no-evidence", "count"]
    assert [row["design"], row["measured"], row["deviation"]] == [1, 0, -1]
    assert row["reference"] == "Drawing C-101"
    assert row["northing"] == job.origin[1] + 90


def test_a_point_whose_only_shot_was_rejected_or_doubtful_is_not_judged(job):
    made = covered(
        job, [{"station": 10.0}, {"station": 90.0}], {}, [HYDRANT], POINTS, kind="hydrant", use=[True, False]
    )
    (row,) = made["findings"].to_dict("records")
    assert [row["subject"], row["verdict"], row["why"]] == ["H-2", "NO_DATA", "screened"]
    near = {"H-1": ("hydrant", 0.0, 10.0, 100.0), "H-2": ("hydrant", 0.0, 12.0, 100.0)}
    made = covered(job, [{"station": 11.0}], {}, [HYDRANT], near, kind="hydrant")
    assert made["findings"]["why"].tolist() == ["ambiguous-match", "ambiguous-match"]


def test_two_spacings_are_two_findings(job):
    limits = [SPACING, ("curb-top", "coverage", -math.inf, 100.0, "guarded", "loose")]
    made = covered(job, [0, 50, 100, 150, 200], limits=limits)
    found = made["findings"].groupby("against")["verdict"].agg(list).to_dict()
    assert found == {"job; design": ["OUT"] * 4, "loose; design": ["IN"]}


def test_a_reach_of_shots_whose_code_is_in_question_waits_for_their_codes(job):
    """Something was shot there: to call it not built would be a defect made of a mistyped code."""
    spots = [0, 25, 50, *({"station": at, "code": "WKF"} for at in (75, 100, 125)), 150, 175, 199]
    asked = [f"day1/{number}" for number in (104, 105, 106)]
    slips = pd.DataFrame({"shot_key": asked, "flag": "code-slip", "reject": True, "step": "code-slips"})

    def told(flags):
        rows = [row if isinstance(row, dict) else {"station": row} for row in spots]
        shots = job.prepared(job.shots(rows))
        shots.loc[3:5, ["kind", "use"]] = ["walk-front", False]
        tables = {"shots": shots, "flags": conform("flags", flags), "limits": job.limits(SPACING)}
        made = job.run(job.layers(**tables, **job.design(LINES)), MatchLines(), MatchPoints(), Coverage())
        (row,) = made["findings"].to_dict("records")
        return row["verdict"], row["why"]

    assert told(slips) == ("NO_DATA", "code-question")
    assert told(slips.assign(flag="tilt")) == ("OUT", "no-evidence")
    assert told(slips.iloc[:1]) == ("OUT", "no-evidence")  # settled in its favour it would still leave 75 ft


def test_what_only_shots_without_a_known_code_cover_waits_for_their_codes(job):
    """A file without codes is no street without curbs."""
    rows = [{"station": at, "code": None} for at in (0, 25, 50, 75, 100, 125, 150, 175, 199)]
    rows.append({"offset": 30.0, "station": 40.0, "code": None})
    shots = job.prepared(job.shots(rows), kind=None, role=None)
    points = {"WV-1": ("valve", 30.3, 40.0, 100.0), "WV-2": ("valve", 30.3, 90.0, 100.0)}
    limits = job.limits(SPACING, ("valve", "position", -math.inf, 0.3))
    short = {"CTB-S": ("curb-top", 60.0, 0, 20)}
    layers = job.layers(shots=shots, limits=limits, **job.design(LINES | short, points))
    made = job.run(layers, MatchLines(), MatchPoints(), Coverage())
    told = {row.subject: (row.verdict, row.why) for row in made["findings"].itertuples()}
    waits, missing = ("NO_DATA", "code-question"), ("OUT", "no-evidence")
    assert told == {"CTB-L": waits, "WV-1": waits, "WV-2": missing, "CTB-S": missing}
    remedies = made["findings"].set_index("subject")["remedy"]
    assert remedies["CTB-L"] == remedies["WV-1"] == "settle the codes of the shots that lie in it: see their flags"
