import pandas as pd
import pytest

from geoqa.errors import LayerError
from geoqa.model.tables.columns import conform
from geoqa.steps.shots.kinds import Kinds

CODES = conform(
    "codes",
    pd.DataFrame(
        {
            "code": ["CTB", "WKF", " CHK"],
            "kind": ["curb-top", "walk-front", "control"],
            "geometry": ["line", "line", "point"],
            "role": ["feature", "feature", "check"],
        }
    ),
)


def after_kinds(job, codes, table=CODES):
    shots = job.shots([{"code": code} for code in codes])
    return job.run(job.layers(shots=shots, codes=table), Kinds())


def test_kind_and_role_come_from_the_code_list(job):
    made = after_kinds(job, ["CTB", " CTB ", "CHK"])
    assert made["shots"]["kind"].tolist() == ["curb-top", "curb-top", "control"]
    assert made["shots"]["role"].tolist() == ["feature", "feature", "check"]
    assert len(made["flags"]) == 0


def test_an_unknown_code_is_flagged_with_a_proposal_and_never_changed(job):
    made = after_kinds(job, ["CTB", "CTBB", "ctb", "XYZ", None])
    assert made["shots"]["kind"].isna().tolist() == [False, True, True, True, True]
    assert made["shots"]["code"].tolist()[1] == "CTBB"
    flags = job.reasons(made).set_index("shot_key")
    assert flags["flag"].unique().tolist() == ["unknown-code"]
    assert flags["reject"].all()
    assert "did the crew mean 'CTB'?" in flags.loc["day1/102", "reason"]
    assert "did the crew mean 'CTB'?" in flags.loc["day1/103", "reason"]
    assert flags.loc["day1/104", "reason"] == "code 'XYZ' is not in the code list"
    assert flags.loc["day1/105", "reason"] == "the shot has no code"


def test_a_code_that_stands_twice_is_refused(job):
    twice = pd.concat([CODES, CODES.assign(code=["CHK", "WKB", "RIM"])], ignore_index=True)
    with pytest.raises(LayerError, match="Code 'CHK' stands twice in the code list"):
        after_kinds(job, ["CTB"], twice)


def test_no_shots_and_no_codes_are_no_error(job):
    assert len(after_kinds(job, [])["shots"]) == 0
    assert after_kinds(job, ["CTB"], CODES.iloc[:0])["shots"]["kind"].isna().all()
