"""A survey that nothing explains is one matter in every output, and every check shot that is off stands under it."""

from pathlib import Path

import pandas as pd
import pytest
from click import unstyle

from bench.counts_agree import hold_counts
from geoqa.cli.terminal import summary
from geoqa.contract.items import headline
from geoqa.job.run import run
from geoqa.present.report.items import items as report_items
from geoqa.simulate.job_folder import write
from geoqa.simulate.make import make
from geoqa.simulate.site.scenario import ZONES
from geoqa.write.sheets.items_list import items_list

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def bent(tmp_path_factory):
    """The demo with a warp that no cause in the list makes."""
    return run(write(make(seed=41, zone=next(iter(ZONES)), plants=("U01",)), tmp_path_factory.mktemp("bent")))


def test_all_checks_that_are_off_are_one_item_and_each_session_that_is_shifted_is_one(bent):
    findings = pd.DataFrame(bent.findings)
    out = findings[(findings["verdict"] == "OUT").to_numpy(bool)]
    (lead,) = out.loc[out["check"] == "diagnosis", ["item", "subject"]].to_dict("records")
    checks = out[out["check"].str.startswith("control-")]
    assert lead["subject"] == "none-fits: A, B and C"
    assert len(checks) > 20
    assert set(checks["item"]) == {lead["item"]}
    shifts = out[out["check"] == "session-shift"]
    assert shifts.groupby("subject")["item"].nunique().tolist() == [1, 1, 1]
    assert shifts["item"].nunique() == 3
    assert "4 matters of the survey to clear first" in headline(bent.layers)
    hold_counts(bent)
    waits = findings[(findings["verdict"] == "NO_DATA").to_numpy(bool)]
    assert len(waits) > 1000
    assert waits["p_conform"].isna().all()  # what is not judged has no chance to lie within


def test_each_stays_listed_under_it_and_the_number_of_them_is_the_same_everywhere(bent):
    out = bent.reported[bent.reported["verdict"] == "OUT"]
    checks = out["check"].str.startswith("control-").sum()
    told = f"{checks} control checks are out of tolerance, and nothing known explains them: CP-2, shot "
    report = "".join(report_items(bent))
    assert report.count(told) == 1
    assert unstyle(summary(bent, Path("nowhere"))).count(told) == 1
    rows = items_list(bent)
    survey = rows[(rows["chapter"] == "The survey") & (rows["verdict"] == "OUT")]
    assert survey["numbers"].tolist()[0] == checks + 1
    assert len(survey) == 4
