"""Unknown codes of several shots: one question each, with what they may stand for."""

import numpy as np
import pandas as pd
import pytest

from geoqa.model.tables.columns import conform
from geoqa.steps.evidence.unknown_codes import UnknownCodes
from geoqa.steps.shots.kinds import Kinds

CODES = conform(
    "codes",
    pd.DataFrame(
        {
            "code": ["CTB", "WKF", "RIM", "CHK"],
            "kind": ["curb-top", "walk-front", "rim", "control"],
            "geometry": ["line", "line", "point", "point"],
            "role": ["feature", "feature", "feature", "check"],
        }
    ),
)
LINES = {"C": ("curb-top", 0.0, 0, 400), "W": ("walk-front", 6.0, 0, 400)}


def asked(job, rows, **options):
    rows = [{"shot": str(nth), "station": 10.0 * nth, "line_id": None} | row for nth, row in enumerate(rows)]
    layers = job.layers(shots=job.shots(rows), codes=CODES, **job.design(LINES, {"R1": ("rim", 20.0, 5.0, 100.0)}))
    return job.run(layers, Kinds(), UnknownCodes(**options))


def remedy(done):
    (one,) = done["findings"]["remedy"]
    return one


def test_six_shots_of_one_unknown_code_are_one_question_and_none_is_judged(job):
    done = asked(job, [{"code": "XQ", "offset": 0.05}] * 6 + [{"code": "CTB"}])
    (row,) = done["findings"].to_dict("records")
    assert (row["verdict"], row["why"], row["deviation"]) == ("NO_DATA", "not-listed", 6)
    assert row["label"] == "6 shots with the code XQ"
    assert len(done["evidence"]) == 6
    assert "did the crew mean CTB (6 of 6 lie within 0.400 ft of curb top in the design)?" in row["remedy"]


@pytest.mark.parametrize(("count", "findings"), [(2, 0), (3, 1)])
def test_a_code_of_one_or_two_shots_stays_a_flag(job, count, findings):
    assert len(asked(job, [{"code": "QQQ", "offset": 30.0}] * count)["findings"]) == findings


@pytest.mark.parametrize(("rows", "said"), [
    ([{"code": "CTBB", "offset": 30.0}] * 3, "CTB (spelled alike)"),
    ([{"code": "QQQ", "offset": 30.0, "line_id": "WKF-2"}] * 3, "WKF (line ID WKF-2 of 3 shots)"),
    ([{"code": "QQQ", "offset": 30.0, "line_id": "S1"}] * 4 + [{"code": "WKF", "line_id": "S1"}] * 2,
     "WKF (line ID S1 of 4 shots)"),
    ([{"code": "QQQ", "offset": 20.1, "station": 5.0}] * 3, "RIM (3 of 3 lie within 0.400 ft of rim in the design)"),
    ([{"code": "CTF", "offset": 6.1}] * 3,
     "WKF (3 of 3 lie within 0.400 ft of walk front in the design) or CTB (spelled alike)"),
    ([{"code": None, "offset": 6.1}] * 3, "WKF (3 of 3 lie within 0.400 ft of walk front in the design)"),
])  # fmt: skip
def test_spelling_line_id_and_design_each_propose_a_code_with_their_reason(job, rows, said):
    assert f"did the crew mean {said}?" in remedy(asked(job, rows))


def test_where_nothing_is_like_it_nothing_is_proposed(job):
    assert "nothing known is like it" in remedy(asked(job, [{"code": "QQQ", "offset": 30.0}] * 3))
    high = [{"code": "QQQ", "offset": 0.1, "elevation": 102.0}] * 3
    assert "nothing known is like it" in remedy(asked(job, high))


@pytest.mark.parametrize("seed", range(20))
def test_the_code_that_was_meant_stands_first_whatever_it_was_called(job, seed):
    draw = np.random.default_rng(seed)
    meant = draw.choice(["CTB", "WKF"])
    written = meant[: draw.integers(1, 3)] + "XQZ"[draw.integers(3)] + str(draw.integers(10))
    offset = {"CTB": 0.0, "WKF": 6.0}[meant]
    rows = [{"code": written, "offset": offset + draw.normal(0, 0.04), "elevation": 100 + draw.normal(0, 0.04)}
            for _ in range(draw.integers(3, 9))]  # fmt: skip
    assert f"did the crew mean {meant} (" in remedy(asked(job, rows))


def test_all_codes_known_is_no_finding_and_no_shots_no_error(job):
    assert not len(asked(job, [{"code": "CTB"}])["findings"])
    assert not len(asked(job, [])["findings"])
